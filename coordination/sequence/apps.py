from pathlib import Path

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class SequenceConfig(AppConfig):
    name = "coordination.sequence"
    label = "sequence"
    verbose_name = "sequence"

    def ready(self) -> None:
        """Register the guard: installed after `migrate`, judged by `check --database default`."""
        from coordination.sequence import guard

        guard.register(self.label, Path(__file__).parent / "sql")
        pre_migrate.connect(guard.take_down_before_tables_change, sender=self, dispatch_uid="guard")
        post_migrate.connect(guard.install_after_migrate, sender=self, dispatch_uid="guard")
