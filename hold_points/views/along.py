"""What lets a walk be taken along: the worker that shows copies without reception, and the list of pages."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles
from hold_points.along import list_pages
from hold_points.facts import load_point
from hold_points.queries import list_rooms
from hold_points.views.finding import SEERS, find_inspection, person_of

WORKERS = Path(__file__).resolve().parent.parent / "static" / "hold_points"


@cache
def read_version() -> str:
    """A short mark of this version's scripts and style sheets: copies of another version are made anew."""
    told = hashlib.sha256()
    for folder in ("hold_points", "coordination"):
        found = finders.find(folder)
        for file in sorted(Path(str(found)).rglob("*")) if found else ():
            if file.suffix in (".js", ".css"):
                told.update(file.read_bytes())
    return told.hexdigest()[:12]


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """The worker, or, where offline walks are turned off, one that takes itself and its copies away.

    It holds nothing of anybody, so it asks nobody to sign in: a browser looks for it on its own.
    """
    name = "worker.js" if settings.COORDINATION_OFFLINE_WALKS else "worker_off.js"
    text = (WORKERS / name).read_text(encoding="utf-8")
    body = f"const VERSION = {json.dumps(read_version())};\n{text}"
    answer = HttpResponse(body, content_type="text/javascript; charset=utf-8")
    answer.headers["Cache-Control"] = "no-cache"
    return answer


@never_cache
@require_GET
@for_roles(*SEERS)
def along(request: HttpRequest, inspection: int) -> HttpResponse:
    """The pages of a walk that a tablet takes along, with the list of walks and what is kept."""
    rows = load_point(find_inspection(request, inspection))
    pages = list_pages(rows, list_rooms(rows, _("Whole house")))
    return JsonResponse(
        {
            "person": person_of(request).pk,
            "version": read_version(),
            "always": [reverse("hold_points:walks"), reverse("hold_points:kept")],
            "pages": [{"address": one.address, "mark": one.mark} for one in pages],
        }
    )
