from pathlib import Path

from django.apps import AppConfig


class HoldPointsConfig(AppConfig):
    name = "hold_points"
    label = "hold_points"
    verbose_name = "hold points"

    def ready(self) -> None:
        """Register the guard of the record; `coordination.sequence` installs it with its own."""
        from coordination.sequence import guard

        guard.register(self.label, Path(__file__).parent / "sql")
