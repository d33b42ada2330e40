"""Doorbells: each task looks for what is due and ends."""

from __future__ import annotations

from celery import shared_task

from coordination.people.each_builder import for_each_builder
from hold_points import copies, pack_files
from hold_points.calling import start_notices
from hold_points.pack_paper import write_pdf
from hold_points.pack_sheets import Reader
from hold_points.sealing import make_night_round
from hold_points.witnessing import lapse_notices


@shared_task(name="hold_points.make_night_rounds", ignore_result=True)
def make_night_rounds() -> None:
    """The day's recount and seal of each builder that has not had them."""
    for_each_builder(make_night_round)


@shared_task(name="hold_points.lapse_notices", ignore_result=True)
def lapse_due_notices() -> None:
    """Witness points whose notice begins, has run out, or that the work has overtaken."""
    for_each_builder(start_notices)
    for_each_builder(lapse_notices)


@shared_task(name="hold_points.prepare_photographs", ignore_result=True)
def prepare_photographs(ids: list[int] | None = None) -> None:
    """Copies of the photographs named, rung after the commit that kept them; else of all that wait."""
    copies.prepare_waiting(ids)


@shared_task(name="hold_points.make_pack", ignore_result=True)
def make_pack(house: int, reader: str, language: str) -> None:
    """The pack of a house on paper, as it stands when the task comes to it."""
    pack_files.make(house, Reader(reader), language, write_pdf)
