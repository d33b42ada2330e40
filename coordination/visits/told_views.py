"""How a crew is told: by which channel, when, whom to ring; and its choice to do without reminders."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coordination.people.models import Crew
from coordination.reminders.due import BREAKS_QUIET_WITHIN, VISIT_WORKING_DAYS
from coordination.reminders.wanted import are_wanted, builders_of_crew, choose_reminders
from coordination.sequence.telling import URGENT_WITHIN
from coordination.visits.views import crew_behind

ONE_CLICK = ("List-Unsubscribe", "One-Click")
"""What a mail program sends for its reader who presses 'unsubscribe' (RFC 8058, section 3.1)."""


@require_safe
@never_cache
def told(request: HttpRequest, token: str) -> HttpResponse:
    """By which channel and at which times messages come, and whom to ring to change it."""
    return _show(request, token, crew_behind(token))


def _show(request: HttpRequest, token: str, crew: Crew) -> HttpResponse:
    context = {
        "crew": crew,
        "token": token,
        "wanted": are_wanted(crew),
        "builders": builders_of_crew(crew),
        "visit_days": VISIT_WORKING_DAYS,
        "urgent_days": URGENT_WITHIN // 2,
        "wake_hours": int(BREAKS_QUIET_WITHIN.total_seconds()) // 3600,
    }
    return render(request, "visits/told.html", context)


@require_POST
@never_cache
def reminders(request: HttpRequest, token: str) -> HttpResponse:
    """The crew chooses on its page."""
    crew = crew_behind(token)
    wanted = request.POST.get("wanted") == "yes"
    choose_reminders(crew, wanted)
    messages.success(request, _say_choice(wanted))
    return redirect("visits:told", token)


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def stop_reminders(request: HttpRequest, token: str) -> HttpResponse:
    """What the head of a reminder mail names: a POST by the mail program stops reminders, a GET does not.

    A mail program has no cookies and no form token, so the secret in the address alone says who asks; whoever
    has it could press the button of the crew's page as well.
    """
    crew = crew_behind(token)
    field, value = ONE_CLICK
    if request.method != "POST" or request.POST.get(field) != value:
        return redirect("visits:told", token)
    choose_reminders(crew, wanted=False)
    return _show(request, token, crew)


def _say_choice(wanted: bool) -> str:
    if wanted:
        return _("You get reminders by e-mail again.")
    return _("No more reminders by e-mail. What changes, stops or is to be put right still comes.")
