"""Crews by week: who is double-booked, idle, unconfirmed? And one crew: links, members, word time."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination import clock
from coordination.people.access import builders_of, for_roles
from coordination.people.companies import is_shared
from coordination.people.links import make_link, revoke_links
from coordination.people.models import Builder, Crew, CrewLink
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.crew_keeping import members_seen, send_page
from coordination.planner.crew_reading import crews_of, read_stays
from coordination.planner.crew_terms import agree_reserved_time, change_word_time
from coordination.planner.crew_weeks import WEEK, list_mondays, spread
from coordination.planner.forms.crews import MemberForm, ReserveForm, WordTimeForm
from coordination.planner.forms.weeks import CrewWeeksForm, link_from
from coordination.planner.views.finding import PLANNER, person_of, show
from coordination.sequence.models import ReservedTime

WEEKS = 2
"""On the page of all crews."""
LONG = 12
"""On the page of one crew."""


@require_GET
@for_roles(PLANNER)
def crews(request: HttpRequest) -> HttpResponse:
    """The crews of the person's builders over two weeks, all of them or those of one trade."""
    builders = builders_of(person_of(request), PLANNER)
    known = list(crews_of(builders))
    every = [crew for crew in known if crew.retired_on is None]
    form = CrewWeeksForm(every, request.GET if request.GET.keys() & {"from", "trade"} else None)
    found = form.choose(every)
    mondays = list_mondays(_today(request) if form.half_day is None else form.half_day, WEEKS)
    stays = read_stays(found, builders, mondays[0], mondays[-1] + WEEK)
    rows = [(crew, spread(stays.get(crew.pk, ()), crew.capacity, mondays)) for crew in found]
    context = {
        "form": form,
        "mondays": mondays,
        "last": mondays[-1] + WEEK - 1,
        "rows": rows,
        "double": [(crew, weeks.double_booked) for crew, weeks in rows if weeks.double_booked],
        "planned_double": [(crew, weeks.planned_double) for crew, weeks in rows if weeks.planned_double],
        "unconfirmed": [(crew, weeks.unconfirmed) for crew, weeks in rows if weeks.unconfirmed],
        "idle": [crew for crew, weeks in rows if weeks.idle_weeks == len(mondays)],
        "earlier": _link_to(request, mondays[0] - WEEKS * WEEK),
        "later": _link_to(request, mondays[0] + WEEKS * WEEK),
        "moved_on": form.half_day is not None,
        "retired": [crew for crew in known if crew.retired_on is not None],
    }
    status = 422 if form.errors else 200
    return show(request, "planner/crews.html", context, section="crews", status=status)


def _link_to(request: HttpRequest, monday: int) -> str:
    """The same trade from another Monday on."""
    return link_from(monday, trade=request.GET.get("trade"))


def _today(request: HttpRequest) -> int:
    builder = builders_of(person_of(request), PLANNER).first()
    return clock.current_half_day(builder.time_zone if builder else None)


def find_crew(request: HttpRequest, pk: int) -> Crew:
    """A crew that works for one of the person's builders; others do not exist."""
    return get_object_or_404(crews_of(builders_of(person_of(request), PLANNER)), pk=pk)


@require_GET
@for_roles(PLANNER)
def crew(request: HttpRequest, crew: int) -> HttpResponse:
    """One crew: contact, calendar, word time, links, the coming visits, reserved time."""
    return show_crew(request, find_crew(request, crew))


def show_crew(
    request: HttpRequest,
    found: Crew,
    refusal: BadInput | WrongState | None = None,
    status: int = 200,
    **extra: object,
) -> HttpResponse:
    """The crew's page, with what was refused or what a form says."""
    builders = builders_of(person_of(request), PLANNER)
    builder = builder_of(found, builders)
    today = _today(request)
    mondays = list_mondays(today, LONG)
    stays = read_stays([found], builders, mondays[0], mondays[-1] + 14).get(found.pk, [])
    links = found.links.filter(revoked_at__isnull=True).order_by("created_at")
    context = {
        "crew": found,
        "crumbs": [(_("Crews"), reverse("planner:crews")), (found.name, "")],
        "stays": sorted(stays, key=lambda stay: (stay.start, stay.finish)),
        "weeks": spread(stays, found.capacity, mondays),
        "page_links": [one for one in links if one.kind == CrewLink.Kind.PAGE],
        "feed_links": [one for one in links if one.kind == CrewLink.Kind.FEED],
        "word_form": WordTimeForm(initial={"word_time": found.word_time}),
        "reserve_form": ReserveForm(initial={"units": 1}),
        "reserved": ReservedTime.objects.filter(crew=found, builder__in=builders, end__gt=today)
        .select_related("builder")
        .order_by("first"),
        "builders": builders,
        "word_words": clock.say_length(found.word_time) if found.word_time else "",
        "members": members_seen(builder, found),
        "member_form": MemberForm(builder),
        "shared": is_shared(found, builders),
        **extra,
    }
    return show(request, "planner/crew.html", context, refusal, section="crews", status=status)


def builder_of(crew: Crew, builders: QuerySet[Builder]) -> Builder:
    """The first of the builders that the crew's company works for."""
    return builders.filter(engagements__company=crew.company_id).order_by("pk")[0]


@require_POST
@for_roles(PLANNER)
def new_link(request: HttpRequest, crew: int) -> HttpResponse:
    """Make the crew's page link; it is shown this once and cannot be read back.

    The page shows the visits of all builders, so of a crew that others engage too it goes to the crew alone.
    """
    found = find_crew(request, crew)
    if is_shared(found, builders_of(person_of(request), PLANNER)):
        return _send(request, found)
    token = make_link(found, CrewLink.Kind.PAGE)
    address = request.build_absolute_uri(reverse("visits:page", args=[token]))
    return show_crew(request, found, address=address)


@require_POST
@for_roles(PLANNER)
def send_link(request: HttpRequest, crew: int) -> HttpResponse:
    """Send the link of the crew's page to the person on the tools."""
    return _send(request, find_crew(request, crew))


def _send(request: HttpRequest, found: Crew) -> HttpResponse:
    builder = builder_of(found, builders_of(person_of(request), PLANNER))
    try:
        with transaction.atomic():
            send_page(builder, found)
    except WrongState as refusal:
        return show_crew(request, found, refusal)
    to = found.contact.email if found.contact else ""
    messages.success(
        request, _("The link goes to %(mail)s, after the quiet hours if it is late.") % {"mail": to}
    )
    return redirect("planner:crew", crew=found.pk)


@require_POST
@for_roles(PLANNER)
def revoke(request: HttpRequest, crew: int) -> HttpResponse:
    """Make all links of the crew's page useless."""
    found = find_crew(request, crew)
    count = revoke_links(found, CrewLink.Kind.PAGE)
    if count:
        messages.success(request, _("The links of %(crew)s open nothing any more.") % {"crew": found.name})
    else:
        messages.info(request, _("%(crew)s had no link in use.") % {"crew": found.name})
    return redirect("planner:crew", crew=found.pk)


@require_POST
@for_roles(PLANNER)
def word_time(request: HttpRequest, crew: int) -> HttpResponse:
    """Change how long before its start the crew needs word; its houses are planned anew."""
    found = find_crew(request, crew)
    form = WordTimeForm(request.POST)
    if not form.is_valid():
        return show_crew(request, found, word_form=form)
    houses = change_word_time(
        found,
        form.cleaned_data["word_time"],
        person_of(request),
        builders_of(person_of(request), PLANNER),
    )
    facts = {"crew": found.name, "count": len(houses)}
    messages.success(request, _("Word time of %(crew)s changed; %(count)s houses planned anew.") % facts)
    return redirect("planner:crew", crew=found.pk)


@require_POST
@for_roles(PLANNER)
def reserve(request: HttpRequest, crew: int) -> HttpResponse:
    """Keep time that was agreed with the crew, no house named."""
    found = find_crew(request, crew)
    form = ReserveForm(request.POST)
    if not form.is_valid():
        return show_crew(request, found, reserve_form=form)
    builder = get_object_or_404(
        builders_of(person_of(request), PLANNER), slug=request.POST.get("builder", "")
    )
    data = form.cleaned_data
    agree_reserved_time(builder, found, data["first"], data["last"] + 1, data["units"])
    messages.success(request, _("The time is reserved with %(crew)s.") % {"crew": found.name})
    return redirect("planner:crew", crew=found.pk)
