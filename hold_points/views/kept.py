"""What was kept on a tablet without reception: its page, who is signed in, and the door where it comes in."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from coordination import clock
from coordination.people.access import for_roles
from coordination.people.models import Person
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from hold_points.entering import FoundOtherwise
from hold_points.kept import accept_kept_photograph, correct_moment, read_moment
from hold_points.models import Check, Outcome
from hold_points.views.check import read_found
from hold_points.views.finding import SEERS, find_check, person_of, photo_of, show
from hold_points.walking import record_outcome

PHOTOGRAPH = "photo"
"""The act of a photograph that is kept by itself; every other act is a kind of outcome."""


@require_GET
@for_roles(*SEERS)
def kept(request: HttpRequest) -> HttpResponse:
    """What waits on this tablet. The tablet fills the page: the server knows nothing of it yet."""
    return show(request, "hold_points/kept.html", {"section": "walks"})


@never_cache
@require_GET
def who(request: HttpRequest) -> JsonResponse:
    """Who is signed in, with a fresh token for forms; asked before anything that was kept is sent."""
    person = request.user
    if not isinstance(person, Person):
        return answer_signed_out()
    return JsonResponse({"person": person.pk, "name": person.name, "token": get_token(request)})


def answer_signed_out() -> JsonResponse:
    """Nobody is signed in: everything stays on the tablet."""
    return JsonResponse({"answer": "signed out"}, status=401)


@never_cache
@require_POST
def accept_kept(request: HttpRequest, check: int) -> JsonResponse:
    """Take one kept outcome or photograph; the answer says what became of it, in words for its person.

    Only what was kept by whoever is signed in is taken: nobody judges in another's name.
    """
    if not isinstance(request.user, Person):
        return answer_signed_out()
    if request.POST.get("person") != str(request.user.pk):
        return JsonResponse({"answer": "another person"}, status=409)
    try:
        found = find_check(request, check)
        words = _take(request, found)
    except Http404:
        return _refuse(404, _("There is no such check for you any more. Ask the planner about the house."))
    except NotAllowed as refusal:
        return _refuse(403, str(refusal))
    except FoundOtherwise as refusal:
        return _refuse(409, refusal.words, answer="found otherwise")
    except WrongState as refusal:
        if found.withdrawn_at is None:
            return _refuse(409, refusal.words)
        walk = reverse("hold_points:walk", args=[found.inspection_id])
        address = f"{walk}?room={found.place_id or 0}"
        return _refuse(409, refusal.words, answer="check replaced", address=address)
    except BadInput as refusal:
        return _refuse(422, refusal.words)
    return JsonResponse({"answer": "recorded", "words": words})


def _refuse(status: int, words: str, answer: str = "refused", **more: Any) -> JsonResponse:
    return JsonResponse({"answer": answer, "words": words, **more}, status=status)


def _take(request: HttpRequest, check: Check) -> str:
    """Put it on the record, and say so."""
    shown = request.POST.get("shown", "")
    at = correct_moment(
        read_moment(request.POST.get("at", ""), "at"),
        read_moment(request.POST.get("now", ""), "now"),
        read_moment(shown, "shown") if shown else None,
    )
    act = request.POST.get("act", "")
    what = check.text.rstrip(".")
    if act == PHOTOGRAPH:
        photo = photo_of(request)
        if photo is None:
            raise BadInput("photo", _("The photograph did not come through. Take it again."))
        evidence = accept_kept_photograph(photo, check, person_of(request), at)
        if evidence.check_shown_id == check.pk:
            return _("On the record: a photograph, %(what)s.") % {"what": what}
        return _(
            "On the record: a photograph of the room. It was taken before %(what)s was found not met or "
            "opened again, and does not count for that: take another."
        ) % {"what": what}
    # A photograph comes by itself, for it may have been overtaken by then.
    entered = replace(read_found(request, check, act), at=at, photos=())
    outcome = record_outcome(check, entered, person_of(request))
    kind = Outcome.Kind(outcome.kind).label
    at_words = clock.say_moment(outcome.at, check.inspection.house.builder.time_zone)
    return _("On the record: %(what)s, %(kind)s, %(at)s.") % {"what": what, "kind": kind, "at": at_words}
