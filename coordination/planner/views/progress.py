"""Report progress: several activities at once; the effect is shown before anything is put on the record."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from coordination.people.access import for_roles
from coordination.people.models import Person
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.effect import newest_line, read_gone_past, rehearse
from coordination.planner.forms.progress import ProgressForm, TakeBackForm
from coordination.planner.house_head import read_head, say_today
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.sequence.models import Activity, House, Plan
from coordination.sequence.progress import record_progress, record_up_to, take_back
from coordination.sequence.queries import ActivityRow, Programme, programme

SOON = 14
"""Half-days ahead within which an activity is offered without asking for all."""


def offered(known: Programme | None, today: int, *, every: bool) -> list[ActivityRow]:
    """Unfinished activities that can be reported, the earliest first; hold points are released instead."""
    rows = [
        row
        for row in (known.activities if known else ())
        if row.actual_finish is None and row.point_kind not in Activity.HOLDING
    ]
    rows.sort(key=lambda row: (row.actual_start is None, row.start, row.order))
    return rows if every else [row for row in rows if row.start <= today + SOON]


def kept(posted: QueryDict) -> list[tuple[str, str]]:
    """What was entered, to be sent along with the decision."""
    left_out = {"csrfmiddlewaretoken", "apply", "edit"}
    return [(name, value) for name, values in posted.lists() if name not in left_out for value in values]


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def progress(request: HttpRequest, house: int) -> HttpResponse:
    """Enter reports, look at their effect, put them on the record."""
    found = find_house(request, house, PLANNER)
    every = request.method == "POST" or request.GET.get("all") == "1"
    activities = offered(programme(found), say_today(found), every=every)
    form = ProgressForm(activities, request.POST if request.method == "POST" else None)
    if request.method == "GET" or "edit" in request.POST or not form.is_valid():
        return _show_form(request, found, form, every)
    act = _choose_act(found, form, person_of(request))
    try:
        if "apply" not in request.POST:
            effect = rehearse(found, act)
            context = {
                "effect": effect,
                "house": found,
                "kept": kept(request.POST),
                "crumbs": read_head(found).crumbs_to(_("The effect of the report")),
                "apply_words": _("Put on the record"),
                "editable": True,
            }
            return show(request, "planner/effect.html", context)
        last = newest_line(found)
        plan = act()
    except (BadInput, WrongState) as refusal:
        return _show_form(request, found, form, every, refusal)
    for line in read_gone_past(found, last):
        messages.error(
            request,
            _("%(words)s. Went past %(holds)s: on the record, supervisor and planners are told.")
            % {"words": line.words, "holds": line.holds},
        )
    done = _say_done(len(form.reports()))
    messages.success(
        request, _("%(done)s; the plan is revision %(number)s.") % {"done": done, "number": plan.number}
    )
    return redirect("planner:house", house=found.pk)


def _choose_act(house: House, form: ProgressForm, by: Person) -> Callable[[], Plan]:
    """The reports; without any, that nothing is new up to the half-day that was entered, or up to now."""
    reports, up_to = form.reports(), form.cleaned_data["up_to"]
    if not reports:
        return partial(record_up_to, house, say_today(house) if up_to is None else up_to, by=by)
    return partial(record_progress, house, reports, by=by, up_to=up_to)


def _say_done(count: int) -> str:
    if not count:
        return _("How far work is recorded was moved")
    return ngettext("%(count)d activity reported", "%(count)d activities reported", count) % {"count": count}


@require_POST
@for_roles(PLANNER)
def retract(request: HttpRequest, house: int) -> HttpResponse:
    """Take back the latest report of an activity: its finish, else its start."""
    found = find_house(request, house, PLANNER)
    form = TakeBackForm(found, request.POST)
    if not form.is_valid():
        return _show_form(request, found, _offer_form(found), every=False, take_back_form=form)
    activity, why = form.cleaned_data["reported"], form.cleaned_data["mistake"]
    try:
        plan = take_back(activity, why, by=person_of(request))
    except (BadInput, WrongState) as refusal:
        return _show_form(request, found, _offer_form(found), every=False, refusal=refusal)
    messages.success(
        request,
        _("%(cause)s. The plan is revision %(number)s.") % {"cause": plan.cause, "number": plan.number},
    )
    return redirect("planner:house", house=found.pk)


def _offer_form(house: House) -> ProgressForm:
    return ProgressForm(offered(programme(house), say_today(house), every=False))


def _show_form(
    request: HttpRequest,
    found: House,
    form: ProgressForm,
    every: bool,
    refusal: BadInput | WrongState | None = None,
    take_back_form: TakeBackForm | None = None,
) -> HttpResponse:
    context = {
        "house": found,
        "form": form,
        "every": every,
        "take_back_form": take_back_form or TakeBackForm(found),
        "crumbs": read_head(found).crumbs_to(_("Report progress")),
    }
    return show(request, "planner/progress.html", context, refusal)
