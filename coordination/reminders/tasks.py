"""Doorbells: each task looks for its rows and ends."""

from __future__ import annotations

from celery import shared_task

from coordination.people.models import Builder
from coordination.reminders import digest, planning, sending


@shared_task(name="reminders.put_and_send", ignore_result=True)
def put_and_send() -> None:
    """Put what is due, make the day's digests, send what waits."""
    for builder in Builder.objects.order_by("pk"):
        planning.put_due_messages(builder)
        digest.make_digests(builder)
    sending.send_single_messages()
    sending.send_digests()
