"""The Celery app and its one tick.

Run a worker with ``celery -A coordination.celery_app worker`` and one beat beside it.
"""

import os

from celery import Celery
from celery.schedules import schedule
from django.conf import settings
from django.core.checks import CheckMessage, Error, register

# For `celery -A coordination.celery_app`; manage.py has chosen its settings by now.
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coordination.settings.production")

app = Celery("before_the_board")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
# The only periodic task, on a plain interval: crontab schedules skip or repeat on the nights when the
# clocks change. Local due times are computed with the house's zone instead.
app.conf.beat_schedule = {
    "tick": {
        "task": "coordination.celery_app.tick",
        "schedule": schedule(settings.COORDINATION_TICK_SECONDS),
        "options": {"expires": settings.COORDINATION_TICK_SECONDS},
    }
}


@app.task(name="coordination.celery_app.tick")
def tick() -> None:
    """Ring every doorbell of COORDINATION_TICK_TASKS.

    What is due stands in rows, and each named task looks for its own. A doorbell that nobody heard
    before the next tick is dropped: the next one does the same work, and a worker that was away does
    not come back to a queue of a thousand rings.
    """
    for name in settings.COORDINATION_TICK_TASKS:
        app.send_task(name, expires=settings.COORDINATION_TICK_SECONDS)


@register
def check_tick_tasks(**_: object) -> list[CheckMessage]:
    """Refuse a doorbell that no task answers: Celery would only write a line in the worker's log."""
    # Not import_default_modules(): under Django that runs all checks again, this one included.
    app.autodiscover_tasks(force=True)
    return [
        Error(
            f"COORDINATION_TICK_TASKS names {name!r}, which no task is registered for.",
            hint="Correct the name, or give the task this name in its tasks.py.",
            id="coordination.E001",
        )
        for name in settings.COORDINATION_TICK_TASKS
        if name not in app.tasks
    ]


@register(deploy=True)
def check_broker_is_shared(**_: object) -> list[CheckMessage]:
    """Refuse the in-memory broker for a deployment: with two processes each would have its own queue."""
    if str(app.conf.broker_url or "").startswith("memory:"):
        return [
            Error(
                "CELERY_BROKER_URL is memory://, which works inside one process only.",
                hint="Set REDIS_URL, or run everything in one process with `manage.py up`.",
                id="coordination.E002",
            )
        ]
    return []
