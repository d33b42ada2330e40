"""The pack of a house: a page to read and to print, and a PDF that a task makes."""

from __future__ import annotations

from django.contrib import messages
from django.core.files.storage import default_storage
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import for_roles, get_own
from coordination.people.refusals import WrongState
from coordination.sequence.models import House
from coordination.sequence.sketches import draw_sketch
from hold_points import pack_files
from hold_points.pack import read_pack
from hold_points.pack_sheets import Pack, Reader
from hold_points.views.finding import SEERS, person_of, show


def _find_pack(request: HttpRequest, house: int, reader: str) -> Pack:
    """The pack of a house of the person's own builders, for the reader that the address names."""
    if reader not in list(Reader):
        raise Http404
    houses = House.objects.select_related("builder", "sequence_version")
    return read_pack(get_own(houses, person_of(request), *SEERS, pk=house), Reader(reader))


@require_GET
@for_roles(*SEERS)
def pack(request: HttpRequest, house: int, reader: str) -> HttpResponse:
    """The whole pack as a page."""
    found = _find_pack(request, house, reader)
    sheets = [(sheet, draw_sketch(sheet.drawing, sheet.numbers)) for sheet in found.details]
    other = Reader.OWNER if found.reader is Reader.BUILDER else Reader.BUILDER
    context = {
        "section": "houses",
        "crumbs": [
            (found.house.name, reverse("planner:house", args=[found.house.pk])),
            (_("Record"), reverse("hold_points:record", args=[found.house.pk])),
            (found.title, ""),
        ],
        "pack": found,
        "house": found.house,
        "sheets": sheets,
        "other": other.value,
        "made": pack_files.is_made(found),
    }
    return show(request, "hold_points/pack.html", context)


@require_POST
@for_roles(*SEERS)
def make_pdf(request: HttpRequest, house: int, reader: str) -> HttpResponse:
    """Ask for the PDF; a task makes it."""
    found = _find_pack(request, house, reader)
    if not pack_files.is_made(found):
        try:
            pack_files.ask_for(found)
        except WrongState as refusal:
            messages.error(request, refusal.words)
        else:
            said = _("The PDF is being made. It takes up to a minute; open this page again.")
            messages.success(request, said)
    return redirect("hold_points:pack", house=house, reader=reader)


@require_GET
@for_roles(*SEERS)
def pdf(request: HttpRequest, house: int, reader: str) -> HttpResponse:
    """The PDF of the pack as it stands now; one of an older state is gone."""
    found = _find_pack(request, house, reader)
    try:
        with default_storage.open(pack_files.name_of(found)) as file:
            content = file.read()
    except FileNotFoundError as missing:
        raise Http404(_("This pack is not on paper yet: ask for it on its page.")) from missing
    response = HttpResponse(content, content_type="application/pdf")
    name = f"pack-{found.house.key}-{found.reader.value}.pdf"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "private, no-store"
    return response
