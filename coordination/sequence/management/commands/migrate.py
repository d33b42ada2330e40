"""Django's `migrate`, which may run while the guard is broken: it is the remedy."""

from typing import Any

from django.core.management.commands import migrate

from coordination.sequence import guard


class Command(migrate.Command):
    """Migrate and put the guard in place."""

    def check(self, *args: Any, **kwargs: Any) -> Any:
        """Run the checks without the guard's own, which would refuse the command that mends it."""
        with guard.repairing():
            return super().check(*args, **kwargs)
