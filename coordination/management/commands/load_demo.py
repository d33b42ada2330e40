"""Load the demonstration once: an invented builder with houses at different stages."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from coordination.management import demonstration
from coordination.people.models import Builder
from coordination.people.refusals import BadInput, NotAllowed, WrongState


class Command(BaseCommand):
    """Loads into an empty database only; what is there is never overwritten."""

    help = "Load the demonstration (an invented builder with eight houses) into an empty database."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load it, or say that something is there."""
        if Builder.objects.exists():
            self.stdout.write("There are builders already, so the demonstration was not loaded.")
            return
        try:
            with transaction.atomic():
                houses = demonstration.load(settings.BASE_DIR / "fixtures")
        except (BadInput, WrongState, NotAllowed) as refused:
            raise CommandError(f"The demonstration was refused, nothing was saved: {refused}") from refused
        self.stdout.write(f"Loaded the demonstration: {len(houses)} houses of {houses[0].builder}.")
