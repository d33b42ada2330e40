"""One house's record: who released what, on what evidence; and its export."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles
from coordination.sequence.models import Activity, Covering, Hold
from hold_points.facts import PointRows, load_points
from hold_points.models import Concession, Inspection, Nonconformity, RecordEntry, Seal
from hold_points.record import export_record, head_of
from hold_points.sealing import export_seals
from hold_points.views.finding import SEERS, find_house, show


@dataclass(frozen=True)
class RecordRow:
    """A point on the record page."""

    rows: PointRows
    hold: Hold | None
    first_time: int
    looked_at: int
    photographs: int
    former_failures: int
    gone_past: bool
    """Whether what buries its details has begun."""

    @property
    def state(self) -> str:
        """Word of the hold bar."""
        if self.hold is not None and self.hold.set_aside_at is not None:
            return "set aside"
        if self.rows.released:
            return "released"
        if self.rows.releases:
            return "re-opened"
        return "held" if any(one.latest for one in self.rows.readiness.states) else "not ready"

    @property
    def not_attended(self) -> bool:
        """A witness point that nobody signed before the work went on: allowed, and it stays on the record."""
        inspection = self.rows.inspection
        witness = inspection.point.point_kind == Activity.PointKind.WITNESS
        return witness and (self.gone_past or inspection.lapsed_at is not None) and not self.rows.released

    @property
    def unsigned(self) -> str:
        """Why nobody's name stands at a point that nobody signed."""
        point = self.rows.inspection.point
        if self.hold is not None and self.hold.set_aside_at is not None:
            return _("not recorded")
        if point.point_kind == Activity.PointKind.PHOTO and self.rows.readiness.ready:
            return _("shown by the crew's photographs")
        if self.not_attended:
            absent = self.rows.inspection.absent
            return _("%(who)s did not attend") % {"who": absent} if absent else _("nobody: the work went on")
        if point.actual_finish is not None and not self.rows.reopenings:
            return _("passed without a signature")
        return _("nobody yet")

    @property
    def stops(self) -> bool:
        return self.rows.inspection.point.point_kind in Activity.HOLDING


@require_GET
@for_roles(*SEERS)
def record(request: HttpRequest, house: int) -> HttpResponse:
    """Every point of the house with its releases, re-openings, concessions and what was put right."""
    found = find_house(request, house)
    ids = Inspection.objects.filter(house=found).order_by("point__order").values_list("pk", flat=True)
    loaded = load_points(ids)
    holds = {one.point_id: one for one in Hold.objects.filter(house=found)}
    failures: dict[int, int] = {}
    failed = Nonconformity.objects.filter(house=found, check_failed__isnull=False)
    for inspection in failed.values_list("check_failed__inspection", flat=True):
        failures[inspection] = failures.get(inspection, 0) + 1
    buried = set(
        Covering.objects.filter(
            Q(point__house=found) | Q(detail__point__house=found), activity__actual_start__isnull=False
        ).values_list(Coalesce("point", "detail__point"), flat=True)
    )
    points = [
        RecordRow(
            loaded[pk],
            holds.get(loaded[pk].inspection.point_id),
            sum(bool(one.first_time) for one in loaded[pk].readiness.states),
            sum(one.latest is not None for one in loaded[pk].readiness.states),
            len({photo.pk for photos in loaded[pk].evidence.values() for photo in photos}),
            failures.get(pk, 0),
            loaded[pk].inspection.point_id in buried,
        )
        for pk in ids
    ]
    return show(
        request,
        "hold_points/record.html",
        {
            "section": "houses",
            "house": found,
            "crumbs": [
                (_("Houses"), reverse("planner:houses")),
                (found.name, reverse("planner:house", args=[found.pk])),
                (_("Record"), ""),
            ],
            "points": points,
            "entries": RecordEntry.objects.filter(house=found).count(),
            "head": head_of(found),
            "seal": Seal.objects.filter(builder=found.builder_id).order_by("-n").first(),
            "concessions": Concession.objects.filter(nonconformity__house=found)
            .select_related("by", "nonconformity__check_failed__place", "nonconformity__check_failed")
            .order_by("at"),
            "gone_past": Nonconformity.objects.filter(house=found, gone_past__isnull=False)
            .select_related("gone_past__point", "visit", "crew", "decided_by")
            .order_by("raised_at", "pk"),
            "title": _("Record"),
        },
    )


@require_GET
@for_roles(*SEERS)
def record_file(request: HttpRequest, house: int) -> HttpResponse:
    """The record as a file that can be verified without this program."""
    found = find_house(request, house)
    response = HttpResponse(export_record(found), content_type="text/plain; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="record-{found.key}.txt"'
    return response


@require_GET
@for_roles(*SEERS)
def seals_file(request: HttpRequest, house: int) -> HttpResponse:
    """The seals of the house's builder as a file, to verify records against."""
    found = find_house(request, house)
    response = HttpResponse(export_seals(found.builder), content_type="text/plain; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="seals-{found.builder.slug}.txt"'
    return response
