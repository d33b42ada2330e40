"""Answers coordination's questions: the other side of `coordination.sequence.inspection`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import BinaryIO

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput, NotAllowed
from coordination.sequence import progress
from coordination.sequence.inspection import HoldState, Missing, WorkItem
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Booking, Detail, Hold, House, Place
from coordination.sequence.standard import ResolvedSequence
from coordination.sequence.statements import Stated
from hold_points import calling, crew_work, gone_past, record, rework, stating
from hold_points.evidence import Shows, keep_photograph, read_photograph
from hold_points.facts import PointRows, load_point, load_points
from hold_points.installing import visits_installing
from hold_points.models import Inspection, Nonconformity
from hold_points.readiness import State
from hold_points.releasing import half_day_of
from hold_points.reopening import find_judged_points, reopen, reopen_locked
from hold_points.standard import change_checks, set_out_checks


class HoldPointsPort:
    """The package that judges, as coordination sees it."""

    def on_set_out(self, house: House, resolved: ResolvedSequence) -> None:
        """Make the inspections and checks of a house that was just set out."""
        set_out_checks(house, resolved)

    def on_change(self, house: House, resolved: ResolvedSequence) -> Sequence[str]:
        """Bring checks in line with changed features; returns in words what re-opened."""
        with transaction.atomic():
            house = lock_house(house.pk)
            changed = change_checks(house, resolved)
            asked: dict[int, list[Place | None]] = {}
            for check in changed.asked:
                asked.setdefault(check.inspection_id, []).append(check.place)
            words = []
            for pk, point in load_points(asked).items():
                places = {place.pk: place for place in asked[pk] if place is not None}
                names = ", ".join(place.name for place in places.values()) or _("whole house")
                values = {"point": point.inspection.point.name, "count": len(asked[pk]), "rooms": names}
                if point.counting_releases:
                    reopen_locked(house, point.inspection, list(places.values()), _("the house was changed"))
                    words.append(_("%(point)s re-opened: %(count)d checks (%(rooms)s)") % values)
                else:
                    words.append(_("%(point)s: %(count)d checks asked anew (%(rooms)s)") % values)
        return words

    def missing(self, hold_ids: Iterable[int]) -> Mapping[int, HoldState]:
        """State of each hold and what keeps it closed, one entry per id asked."""
        holds = list(Hold.objects.filter(pk__in=list(hold_ids)))
        inspections = dict(
            Inspection.objects.filter(point__in=[hold.point_id for hold in holds]).values_list("point", "pk")
        )
        rows = load_points(inspections.values())
        calls = calling.find_calls(rows, {pk: point.reopened_at for pk, point in rows.items()})
        states = {}
        for hold in holds:
            pk = inspections.get(hold.point_id)
            if pk is None:
                # Never silently open: a hold that nobody judges stays shut and says so.
                gap = Missing(_("no inspection is set out for this hold point"), waits_for="planner")
                states[hold.pk] = HoldState(hold.pk, (gap,), 0, 0, 0)
            else:
                states[hold.pk] = describe_hold(hold, rows[pk], calls[pk])
        return states

    def work(self, visit_ids: Iterable[int]) -> Mapping[int, Sequence[WorkItem]]:
        """What the crews of these visits have to do and show, one entry per id asked."""
        return crew_work.find_work(visit_ids)

    def accept_photo(
        self,
        *,
        house: House,
        crew: Crew,
        file: BinaryIO,
        point_id: int | None = None,
        nonconformity_id: int | None = None,
        detail: Detail | None = None,
        place: Place | None = None,
        words: str = "",
    ) -> str:
        """Keep a crew's photograph; returns its SHA-256. Bad files raise BadInput.

        It is evidence of what the crew has to put right, or of a detail that it installs; of another trade's
        detail it is kept, and proves nothing.
        """
        photograph = read_photograph(file, house.builder.time_zone)
        with transaction.atomic():
            house = lock_house(house.pk)
            if not Booking.objects.filter(house=house, crew=crew, state__in=Booking.LIVE).exists():
                raise NotAllowed(_("Your crew is not booked at this house."))
            trouble = None
            if nonconformity_id is not None:
                trouble = (
                    Nonconformity.objects.filter(pk=nonconformity_id, crew=crew, house=house)
                    .select_related("check_failed__inspection__point", "gone_past__point")
                    .first()
                )
                if trouble is None:
                    raise NotAllowed(_("This is not for your crew to put right."))
                if trouble.gone_past is not None:
                    # No check failed, since nobody looked: it shows what was decided, and proves no check.
                    inspection, detail, place = trouble.gone_past, None, None
                else:
                    inspection = trouble.failed.inspection
                    detail, place = trouble.failed.detail, trouble.failed.place
            else:
                inspection = _inspection_of(house, point_id, detail)
                place = place or _only_place(inspection, detail)
                if detail is not None and not _installs(crew, detail):
                    # Another trade's photograph proves nothing of it: kept with the point, of no check.
                    words, detail, place = (words or detail.name), None, None
            shows = Shows(
                inspection=inspection,
                nonconformity=trouble,
                detail=detail,
                place=place,
                crew=crew,
                words=words,
            )
            kept = keep_photograph(photograph, house, shows)
            _pass_photo_point(house, inspection)
        return kept.sha256

    def show_photo(self, *, photo_id: int, crew: Crew) -> bytes:
        """JPEG of a photograph of what the crew has to put right, or of its own; others raise NotAllowed."""
        return crew_work.read_photo(photo_id, crew)

    def say_put_right(self, *, nonconformity_id: int, crew: Crew) -> None:
        """A crew says that something is put right. Another crew's raises NotAllowed."""
        if gone_past.say_put_right(nonconformity_id, crew) is None:
            rework.say_put_right(nonconformity_id, crew)

    def state_runs(self, *, check_id: int, crew: Crew, stated: Stated) -> None:
        """Keep what a crew states of its own work. Another crew's raises NotAllowed."""
        stating.state_runs(check_id, crew, stated)

    def call_ready(self, *, visit_id: int, crew: Crew, note: str = "") -> Sequence[str]:
        """A crew calls its points ready for the walk; returns the labels of the points called."""
        return calling.call_ready(visit_id, crew, note)

    def take_back_call(self, *, visit_id: int, crew: Crew) -> Sequence[str]:
        """A crew is not ready after all; returns the labels of the points that are called no more."""
        return calling.take_back_call(visit_id, crew)

    def judged_points(self, house_ids: Iterable[int]) -> Mapping[int, Sequence[tuple[int, str]]]:
        """By house, points (id, name) at which something was judged or released, the latest first."""
        return find_judged_points(house_ids)

    def reopen_by_crew(self, *, point_id: int, crew: Crew, place_ids: Iterable[int], reason: str) -> None:
        """A crew says that it disturbed work behind a released point: re-opens without blame."""
        reopen(_require_inspection(point_id), place_ids, reason, crew=crew)

    def reopen_by_person(
        self, *, point_id: int, person: Person, place_ids: Iterable[int], reason: str
    ) -> None:
        """A person with the role re-opens a released point for the named places."""
        reopen(_require_inspection(point_id), place_ids, reason, by=person)

    def record_act(self, house: House, kind: str, facts: Mapping[str, object]) -> None:
        """Put an act of coordination ('set aside', 'went past') on the record of the locked house."""
        record.append(house, kind, facts)
        if kind == "went past":
            gone_past.raise_gone_past(house, facts)


def describe_hold(hold: Hold, point: PointRows, calls: calling.CallState) -> HoldState:
    """One hold in words: what is missing, who waits for whom, who released it, whether that counts."""
    last = point.releases[-1] if point.releases else None
    reopened = point.reopened_at if not point.released else None
    return HoldState(
        hold_id=hold.pk,
        missing=()
        if not hold.is_open
        else tuple(
            Missing(gap.words, gap.section, gap.waits_for, gap.since) for gap in point.readiness.missing
        ),
        checks_open=point.readiness.left,
        checks_total=point.readiness.asked,
        put_right_open=point.readiness.to_put_right,
        walk_called_at=calls.since if calls.ready else None,
        reopened_at=reopened,
        reopened_places=point.reopened_names if reopened else (),
        released_by=last.by.initials if last else "",
        released_at=last.at if last else None,
        concessions=sum(one.state is State.CONCESSION for one in point.readiness.states),
        page=reverse("hold_points:hold", args=[point.inspection.pk]),
    )


def _require_inspection(point_id: int) -> Inspection:
    found = Inspection.objects.filter(point=point_id).first()
    if found is None:
        raise BadInput("point", _("There is no such point."))
    return found


def _inspection_of(house: House, point_id: int | None, detail: Detail | None) -> Inspection:
    asked = point_id or (detail.point_id if detail else None)
    found = Inspection.objects.filter(house=house, point=asked).select_related("point").first()
    if found is None or (detail is not None and detail.house_id != house.pk):
        raise BadInput("point", _("Say what the photograph shows: the point is not of this house."))
    return found


def _installs(crew: Crew, detail: Detail) -> bool:
    """Whether the crew is booked for a visit that installs the detail."""
    visits = visits_installing([detail.pk])[detail.pk]
    return Booking.objects.filter(visit__in=visits, crew=crew, state__in=Booking.LIVE).exists()


def _only_place(inspection: Inspection, detail: Detail | None) -> Place | None:
    """The place of a detail that is judged in one place only; a photograph need not name that."""
    if detail is None:
        return None
    checks = inspection.checks.filter(detail=detail, withdrawn_at=None).select_related("place")
    places = {check.place for check in checks}
    if len(places) > 1 and None not in places:
        raise BadInput("place", _("Say which room or side the photograph shows."))
    return places.pop() if len(places) == 1 else None


def _pass_photo_point(house: House, inspection: Inspection) -> None:
    """A photo point is passed with its last photograph."""
    point = inspection.point
    if point.point_kind != Activity.PointKind.PHOTO or point.actual_finish is not None:
        return
    if load_point(inspection).readiness.ready:
        progress.point_passed(point, half_day_of(clock.now(), house.builder))
