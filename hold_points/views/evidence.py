"""Photographs, for people of the builder only: the clean copy to look at, the original to keep."""

from __future__ import annotations

from django.db.models.fields.files import FieldFile
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles, get_own
from hold_points.models import Evidence
from hold_points.views.finding import SEERS, person_of, show

# Whatever a browser makes of the bytes, it may run nothing and reach nothing.
SANDBOX = "default-src 'none'; sandbox"


def _find(request: HttpRequest, pk: int) -> Evidence:
    found = Evidence.objects.select_related("house__builder", "by", "crew")
    return get_own(found, person_of(request), *SEERS, path="house__builder", pk=pk)


@require_GET
@for_roles(*SEERS)
def evidence(request: HttpRequest, evidence: int) -> HttpResponse:
    """The copy that was written anew from the pixels; there is none before it is prepared."""
    found = _find(request, evidence)
    return _send(found.shown, f"{found.sha256[:12]}.jpg", "image/jpeg", download=False)


@require_GET
@for_roles(*SEERS)
def thumb(request: HttpRequest, evidence: int) -> HttpResponse:
    """The small copy; of photographs from before there were small ones, the other."""
    found = _find(request, evidence)
    small = found.thumb or found.shown
    return _send(small, f"{found.sha256[:12]}-small.jpg", "image/jpeg", download=False)


@require_GET
@for_roles(*SEERS)
def evidence_line(request: HttpRequest, evidence: int) -> HttpResponse:
    """One line of a list of photographs: a page asks for it again until the copies are made."""
    return show(request, "hold_points/_thumb.html", {"photo": _find(request, evidence)})


@require_GET
@for_roles(*SEERS)
def original(request: HttpRequest, evidence: int) -> HttpResponse:
    """The bytes as they were sent, as a download that no browser opens: their hash stands in the record."""
    found = _find(request, evidence)
    ending = str(found.original).rsplit(".", 1)[-1]
    return _send(found.original, f"{found.sha256}.{ending}", "application/octet-stream", download=True)


def _send(file: FieldFile, name: str, media_type: str, *, download: bool) -> HttpResponse:
    try:
        with file.open("rb") as opened:
            content = opened.read()
    except (FileNotFoundError, ValueError) as error:
        raise Http404("the file is not on this server") from error
    response = HttpResponse(content, content_type=media_type)
    # The name is made of the hash alone, so it needs no quoting.
    response.headers["Content-Disposition"] = f'{"attachment" if download else "inline"}; filename="{name}"'
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = SANDBOX
    response.headers["Cache-Control"] = "private, max-age=86400, immutable"
    return response
