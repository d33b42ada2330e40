"""A crew's page behind its link: GET shows, POST acts. No password, and no session is ever made.

A link that is unknown or revoked answers 404, and so does a booking of another crew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import BinaryIO, NamedTuple, TypeVar, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.access import read_key
from coordination.people.links import crew_for_token, make_link, revoke_links
from coordination.people.models import Crew, CrewLink
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings
from coordination.sequence.inspection import port
from coordination.sequence.models import Booking, Detail, Place
from coordination.sequence.taking_back import take_back_report
from coordination.visits.cards import answer_on, cards_for, find_card, open_questions, unanswered
from coordination.visits.reporting import ASKED_ABOUT, Answer, question_before, stop_words
from coordination.visits.stating import StatementForm, keep_statement, read_form

Row = TypeVar("Row", Detail, Place)


def crew_behind(token: str) -> Crew:
    """The crew whose page this is.

    Raises:
        Http404: the link is unknown or revoked.
    """
    crew = crew_for_token(token, CrewLink.Kind.PAGE)
    if crew is None:
        raise Http404(_("This link is not in use any more. Ask the builder for a new one."))
    return crew


@require_safe
@never_cache
def page(request: HttpRequest, token: str) -> HttpResponse:
    """Where, when, what exactly, how, and till when at the latest."""
    crew = crew_behind(token)
    cards, answers = answer_on(cards_for(crew), messages.get_messages(request))
    # Said in the cards and above them, so not a second time in the head of the page.
    shown = {"crew": crew, "token": token, "cards": cards, "answers": answers, "messages": ()}
    return render(request, "visits/page.html", {**shown, "questions": open_questions(crew)})


@require_safe
@never_cache
def visit(request: HttpRequest, token: str, booking: int) -> HttpResponse:
    """One visit with everything, however far ahead it lies: what a crew is asked to say yes to."""
    crew = crew_behind(token)
    card = find_card(cards_for(crew), booking)
    if card is None:
        raise Http404(_("This visit is not your crew's."))
    return render(request, "visits/visit.html", {"crew": crew, "token": token, "card": card})


@require_POST
@never_cache
def act(request: HttpRequest, token: str, booking: int, verb: str) -> HttpResponse:
    """Answer or report on one visit; the visit's card then says what happened.

    A report that its day or a hold point speaks against is asked about on a page of its own first; nothing is
    recorded before the crew says that it is so.
    """
    crew = crew_behind(token)
    row = get_object_or_404(
        Booking.objects.select_related("house__builder", "house__supervisor", "visit", "crew"),
        pk=booking,
        crew=crew,
    )
    step = _STEPS.get(verb)
    if step is None:
        raise Http404(_("There is no such act."))
    form = read_form(request) if verb == "state" else None
    if form is not None and not form.refused:
        return _show_form(request, token, crew, row, form)
    if verb in ASKED_ABOUT and not request.POST.get("sure"):
        question = question_before(row, verb)
        if question is not None:
            shown = {"crew": crew, "token": token, "booking": row, "verb": verb, "question": question}
            return render(request, "visits/really.html", {**shown, "note": _words(request, "note", 300)})
    try:
        answer = step(request, row, crew)
        say = messages.error if isinstance(answer, Answer) and answer.alarm else messages.success
        words = answer.words if isinstance(answer, Answer) else answer
    except (WrongState, BadInput) as refusal:
        if form is not None:
            return _show_form(request, token, crew, row, form, refusal.words)
        card = find_card(cards_for(crew), row.pk) if verb == "disturbed" else None
        if card is not None and card.reopenable:
            shown = {"crew": crew, "token": token, "card": card, "entered": _read_disturbed(request)}
            return render(request, "visits/visit.html", {**shown, "refused": refusal.words}, status=422)
        say, words = messages.error, refusal.words
    except NotAllowed as refusal:
        say, words = messages.error, str(refusal)
    say(request, words, extra_tags=f"answer-{row.pk}")
    return redirect(f"{reverse('visits:page', args=[token])}#answer-{row.pk}")


def _show_form(
    request: HttpRequest, token: str, crew: Crew, booking: Booking, form: StatementForm, refused: str = ""
) -> HttpResponse:
    """The visit with a statement as it was entered: nothing of it is typed twice."""
    card = find_card(cards_for(crew), booking.pk)
    if card is None or form.check_id not in {item.check_id for item in card.statements}:
        raise Http404(_("This statement is not asked at this visit."))
    shown = {"crew": crew, "token": token, "card": replace(card, form=form), "refused_statement": refused}
    return render(request, "visits/visit.html", shown, status=422 if refused else 200)


def _state(request: HttpRequest, booking: Booking, crew: Crew) -> str:
    keep_statement(read_form(request), booking, crew)
    return _("Thank you: your statement is on the record.")


def _confirm(_request: HttpRequest, booking: Booking, crew: Crew) -> str:
    bookings.confirm(booking, crew)
    return _("Thank you: confirmed.")


def _decline(request: HttpRequest, booking: Booking, crew: Crew) -> str:
    why = _words(request, "why", 200)
    if not why:
        raise BadInput("why", _("Say in a few words why, so that the planner can find another day."))
    bookings.decline(booking, crew, why)
    return _("The planner has been told that you cannot come.")


def _ready(request: HttpRequest, booking: Booking, crew: Crew) -> str:
    labels = bookings.call_ready(booking, _words(request, "note", 300), crew=crew)
    if not labels:
        return _("Noted.")
    return _("Called ready for the walk: %(points)s.") % {"points": ", ".join(labels)}


def _not_ready(_request: HttpRequest, booking: Booking, crew: Crew) -> str:
    labels = bookings.take_back_call(booking, crew)
    return _("Taken back: %(points)s is not called for a walk. Call again when it is ready.") % {
        "points": ", ".join(labels)
    }


def _begun(_request: HttpRequest, booking: Booking, crew: Crew) -> Answer:
    bookings.report_under_way(booking, crew=crew)
    stop = stop_words(booking)
    if stop:
        return Answer(_("%(stop)s It is recorded that you are at work here.") % {"stop": stop}, alarm=True)
    return Answer(_("Noted: you are at work here."))


def _done(_request: HttpRequest, booking: Booking, crew: Crew) -> Answer:
    bookings.report_done(booking, crew=crew)
    stop = stop_words(booking)
    if stop:
        return Answer(_("%(stop)s It is recorded that your work is done.") % {"stop": stop}, alarm=True)
    return Answer(_("Noted: done. No more reminders for this visit."))


def _mistake(_request: HttpRequest, booking: Booking, crew: Crew) -> str:
    take_back_report(booking, crew)
    return _("Taken back: the visit stands as before. Planner and supervisor are told.")


def _photo(request: HttpRequest, booking: Booking, crew: Crew) -> str:
    photo = request.FILES.get("photo")
    if photo is None:
        raise BadInput("photo", _("No photograph came along. Take or choose one, then send it."))
    finding = _number(request, "finding")
    port().accept_photo(
        house=booking.house,
        crew=crew,
        file=cast("BinaryIO", photo),
        point_id=_number(request, "point"),
        nonconformity_id=finding,
        detail=_of_house(Detail, booking, request.POST.get("detail", "")),
        place=_of_house(Place, booking, request.POST.get("place", "")),
        words=_words(request, "words", 200),
    )
    if finding is not None and request.POST.get("done"):
        port().say_put_right(nonconformity_id=finding, crew=crew)
        return _("Thank you: photograph received, and noted as put right. The supervisor checks it again.")
    return _("Thank you: photograph received.")


def _put_right(request: HttpRequest, _booking: Booking, crew: Crew) -> str:
    finding = _number(request, "finding")
    if finding is None:
        raise BadInput("finding", _("Say what was put right: use the button beside it."))
    port().say_put_right(nonconformity_id=finding, crew=crew)
    return _("Noted as put right. The supervisor checks it again.")


def _disturbed(request: HttpRequest, booking: Booking, crew: Crew) -> str:
    moved = _read_disturbed(request)
    if moved.point is None or not moved.places or not moved.reason:
        raise BadInput("place", _("Tick the rooms and say in a few words what was moved."))
    if Place.objects.filter(pk__in=moved.places, house=booking.house_id).count() != len(moved.places):
        raise Http404(_("There is no such room in this house."))
    if not Detail.objects.filter(point=moved.point, house=booking.house_id).exists():
        raise Http404(_("There is no such point in this house."))
    port().reopen_by_crew(
        point_id=moved.point, crew=crew, place_ids=sorted(moved.places), reason=moved.reason
    )
    return _("Thank you for saying so. The rooms are checked again; nobody is blamed.")


class _Disturbed(NamedTuple):
    """What was entered of moved work; refused, it comes back in the form: nobody ticks the rooms twice."""

    point: int | None
    places: frozenset[int]
    reason: str


def _read_disturbed(request: HttpRequest) -> _Disturbed:
    keys = map(read_key, request.POST.getlist("place"))
    places = frozenset(key for key in keys if key is not None)
    return _Disturbed(_number(request, "point"), places, _words(request, "reason", 300))


def _of_house(model: type[Row], booking: Booking, text: str) -> Row | None:
    """The row of the booking's house that a hidden field names; None for an empty field, else 404."""
    return get_object_or_404(model, pk=read_key(text), house=booking.house_id) if text else None


def _number(request: HttpRequest, name: str) -> int | None:
    return read_key(request.POST.get(name, ""))


def _words(request: HttpRequest, name: str, longest: int) -> str:
    """What was written into a field. The zero character is in no text and no database takes it."""
    return request.POST.get(name, "").replace("\0", "").strip()[:longest]


_STEPS: dict[str, Callable[[HttpRequest, Booking, Crew], str | Answer]] = {
    "confirm": _confirm,
    "decline": _decline,
    "ready": _ready,
    "not-ready": _not_ready,
    "begun": _begun,
    "done": _done,
    "mistake": _mistake,
    "photo": _photo,
    "put-right": _put_right,
    "disturbed": _disturbed,
    "state": _state,
}


@require_safe
@never_cache
def photograph(request: HttpRequest, token: str, photo: int) -> HttpResponse:
    """A photograph of what the crew has to put right, or one that it sent; another crew's answers 404."""
    crew = crew_behind(token)
    try:
        picture = port().show_photo(photo_id=photo, crew=crew)
    except NotAllowed as refusal:
        raise Http404(str(refusal)) from refusal
    response = HttpResponse(picture, content_type="image/jpeg")
    # Whatever a browser makes of the bytes, it may run nothing and reach nothing.
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


@require_POST
@never_cache
def acknowledge(request: HttpRequest, token: str, message: int) -> HttpResponse:
    """The crew has read a message that needs an answer, and with it what it replaced."""
    crew = crew_behind(token)
    row = get_object_or_404(Message, pk=message, crew=crew, needs_answer=True)
    unanswered(crew).filter(about=row.about, pk__lte=row.pk).update(acknowledged_at=clock.now())
    messages.success(request, _("Thank you: the builder sees that you have read it."))
    return redirect("visits:page", token)


@require_POST
@never_cache
def calendar(request: HttpRequest, token: str) -> HttpResponse:
    """Make a calendar address and show it once; former ones of the crew stop working when it asks so."""
    crew = crew_behind(token)
    if request.POST.get("only_this"):
        revoke_links(crew, CrewLink.Kind.FEED)
    feed = make_link(crew, CrewLink.Kind.FEED)
    address = request.build_absolute_uri(reverse("calendar_feeds:feed", args=[feed]))
    return render(
        request,
        "visits/calendar.html",
        {"crew": crew, "token": token, "address": address, "subscribe": _as_webcal(address)},
    )


def _as_webcal(address: str) -> str:
    """The scheme that phones open in their calendar."""
    return "webcal:" + address.split(":", 1)[1]
