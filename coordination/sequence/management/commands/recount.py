"""`manage.py recount`: compare the stored holds with what the networks expect; for a nightly run."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from coordination.sequence import holds


class Command(BaseCommand):
    """Say every difference and end with an error when there is one."""

    help = "Compare the holds, and which visits they stand before, with what each house's network expects."

    def handle(self, *args: Any, **options: Any) -> None:
        """Count all houses anew; nothing is changed."""
        found = holds.recount()
        if found:
            raise CommandError(
                _("%(count)s differences:\n%(lines)s") % {"count": len(found), "lines": "\n".join(found)}
            )
        self.stdout.write(_("The holds are what the networks expect."))
