"""The to-scale drawing of a detail, from the numbers of this house, for every screen that shows one."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from coordination.fabric import FabricError
from coordination.fabric.drawings import draw

log = logging.getLogger(__name__)


def draw_sketch(name: str, numbers: Mapping[str, Any]) -> SafeString | None:
    """SVG of the detail, or None where the sequence names no drawing or the numbers give none."""
    if not name:
        return None
    try:
        # Written by our own package from numbers; it contains no text that a person entered.
        return mark_safe(draw(name, **numbers))  # noqa: S308
    except FabricError as error:
        log.warning("no drawing '%s' from %s: %s", name, dict(numbers), error)
        return None
