"""`manage.py recount`: compare every house with its sequence and its record; for a nightly run."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from coordination.sequence.models import House
from hold_points.recounting import recount


class Command(BaseCommand):
    """Say every difference and end with an error when there is one."""

    help = (
        "Compare holds, network and checks of each house with its sequence, and lifted holds with its record."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        """Count all houses anew; nothing is changed."""
        found = [line for house in House.objects.order_by("pk") for line in recount(house)]
        if found:
            raise CommandError(
                _("%(count)s differences:\n%(lines)s") % {"count": len(found), "lines": "\n".join(found)}
            )
        self.stdout.write(_("The holds are what the networks expect."))
