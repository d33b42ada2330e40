"""Doorbells: each task looks for its rows and ends."""

from __future__ import annotations

from celery import shared_task

from coordination.people.each_builder import for_each_builder
from coordination.people.models import Builder
from coordination.reminders import digest, planning, sending


@shared_task(name="reminders.put_and_send", ignore_result=True)
def put_and_send() -> None:
    """Put what is due, make the day's digests, send what waits, whatever fails at one builder."""
    try:
        for_each_builder(_prepare)
    finally:
        try:
            sending.send_single_messages()
        finally:
            sending.send_digests()


def _prepare(builder: Builder) -> None:
    planning.put_due_messages(builder)
    digest.make_digests(builder)
