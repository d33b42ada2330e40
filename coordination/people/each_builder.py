"""One act for every builder, so that what goes wrong at one of them holds up none of the others."""

from __future__ import annotations

import logging
from collections.abc import Callable

from coordination.people.models import Builder

log = logging.getLogger(__name__)


def for_each_builder(act: Callable[[Builder], object]) -> None:
    """Call `act` with every builder in turn; go on after an error, and raise them all at the end.

    Raises:
        ExceptionGroup: of what went wrong, each already in the log with its builder.
    """
    errors: list[Exception] = []
    for builder in Builder.objects.order_by("pk"):
        try:
            act(builder)
        except Exception as error:
            log.exception("%s at %s", getattr(act, "__name__", act), builder)
            errors.append(error)
    if errors:
        raise ExceptionGroup("not done at every builder", errors)
