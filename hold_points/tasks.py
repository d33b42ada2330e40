"""Doorbells: each task looks for what is due and ends."""

from __future__ import annotations

from celery import shared_task

from coordination.people.models import Builder
from hold_points import copies
from hold_points.sealing import make_night_round


@shared_task(name="hold_points.make_night_rounds", ignore_result=True)
def make_night_rounds() -> None:
    """The day's recount and seal of each builder that has not had them."""
    for builder in Builder.objects.order_by("pk"):
        make_night_round(builder)


@shared_task(name="hold_points.prepare_photographs", ignore_result=True)
def prepare_photographs(ids: list[int] | None = None) -> None:
    """Copies of the photographs named, rung after the commit that kept them; else of all that wait."""
    copies.prepare_waiting(ids)
