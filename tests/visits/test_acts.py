"""Every button of a crew's page: what it does once, what it refuses, and in which words."""

import datetime as dt
import io
import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.links import crew_for_token
from coordination.people.models import CrewLink
from coordination.sequence import bookings
from coordination.sequence.models import Booking
from hold_points.models import Call, Evidence, Nonconformity, RecordEntry, Reopening
from hold_points.reopening import reopen
from tests.hold_points.houses import Site
from tests.planner.conftest import text_of
from tests.visits.conftest import page_of, path_of

pytestmark = pytest.mark.django_db


def press(phone: Client, link: str, booking: Booking, verb: str, **entries: Any) -> str:
    """Press a button and read the page that is shown then."""
    answer = phone.post(path_of(link, booking, verb), entries, follow=True)
    assert answer.redirect_chain == [(f"{link}#answer-{booking.pk}", 302)]
    return text_of(answer)


def refused(phone: Client, link: str, booking: Booking, **entries: Any) -> str:
    """Say what was moved, and read the form that comes back with why it was not taken."""
    answer = phone.post(path_of(link, booking, "disturbed"), entries)
    assert answer.status_code == 422
    return text_of(answer)


def photo_of(site: Site, name: str = "site.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, site.picture(), "image/jpeg")


def test_yes_is_kept_and_answers_what_waited_for_it(site: Site, phone: Client, link: str) -> None:
    booking = site.pencil("plumb")
    question = Message.objects.get(crew=booking.crew, kind=Message.Kind.CHANGE)
    assert "I have read this" in text_of(phone.get(link))
    words = press(phone, link, booking, "confirm")
    assert "Thank you: confirmed." in words
    assert "You confirmed this visit." in words
    assert "I have read this" not in words
    booking.refresh_from_db()
    question.refresh_from_db()
    assert booking.confirmed_at == question.acknowledged_at == clock.now()


def test_no_needs_a_reason_and_tells_the_office(site: Site, phone: Client, link: str) -> None:
    booking = site.pencil("plumb")
    words = press(phone, link, booking, "decline", why="  ")
    assert "Say in a few words why" in words
    booking.refresh_from_db()
    assert booking.state == Booking.State.PENCILLED
    words = press(phone, link, booking, "decline", why="The van is broken")
    assert "The planner has been told that you cannot come." in words
    booking.refresh_from_db()
    assert booking.state == Booking.State.DECLINED
    told = Message.objects.filter(kind=Message.Kind.NOTICE, about=f"booking:{booking.pk}")
    assert {message.person for message in told} == {site.planner, site.supervisor}
    assert all("The van is broken" in message.body for message in told)
    assert "No visits are booked" in words


def test_ready_is_called_for_the_points_of_the_visit(site: Site, phone: Client, link: str) -> None:
    booking = site.booking("plumb")
    bookings.report_under_way(booking, crew=site.crews["plumber"])
    words = press(phone, link, booking, "ready", note="Keys in the meter box")
    assert "Called ready for the walk: " in words
    assert "Services and air seal" in words
    booking.refresh_from_db()
    assert booking.ready_at == clock.now()


def test_ready_before_the_work_has_begun_is_asked_about_first_and_can_be_taken_back(
    site: Site, phone: Client, link: str
) -> None:
    booking = site.booking("plumb")
    asked = phone.post(path_of(link, booking, "ready"), {"note": "Keys in the box"})
    assert "Really ready for the walk?" in text_of(asked)
    assert "Hold point not released: Pockets." in text_of(asked)
    assert not Call.objects.exists()
    shown = asked.content.decode()
    assert 'name="note" value="Keys in the box"' in shown
    press(phone, link, booking, "ready", sure="1", note="Keys in the box")
    assert Call.objects.get(inspection__point__key="H4").note == "Keys in the box"
    assert "Not ready after all" in text_of(phone.get(link))

    words = press(phone, link, booking, "not-ready")
    assert "Taken back: Services and air seal is not called for a walk." in words
    assert not Call.objects.exists()
    booking.refresh_from_db()
    assert booking.ready_at is None
    told = Message.objects.filter(kind=Message.Kind.CALL)
    assert [one.superseded_at is not None for one in told] == [True], "it was not sent yet, and never is"
    acts = list(RecordEntry.objects.filter(house=site.house).order_by("n").values_list("kind", flat=True))
    assert acts[-2:] == ["call", "call taken back"]
    assert "Nothing of this visit is called" in press(phone, link, booking, "not-ready")

    press(phone, link, booking, "ready", sure="1")
    Message.objects.update(sent_at=clock.now())
    press(phone, link, booking, "not-ready")
    notice = Message.objects.get(kind=Message.Kind.NOTICE, subject__startswith="Not ready after all")
    assert notice.person == site.supervisor


def test_begun_behind_a_closed_hold_is_taken_as_a_fact_and_told(site: Site, phone: Client, link: str) -> None:
    booking = site.booking("plumb")
    words = press(phone, link, booking, "begun", sure="1")
    assert f"Hold point not released: Pockets. Stop and ring {site.supervisor.name}" in words
    assert "Noted" not in words
    booking.refresh_from_db()
    assert (booking.state, booking.went_past_hold) == (Booking.State.UNDER_WAY, True)
    told = Message.objects.filter(about=f"booking:{booking.pk}", urgent=True, person=site.planner)
    assert "went past hold point Pockets" in told.get().body


def test_done_ends_the_reminders(site: Site, phone: Client, link: str) -> None:
    booking = site.pencil("plumb")
    words = press(phone, link, booking, "done", sure="1")
    assert "It is recorded that your work is done." in words
    booking.refresh_from_db()
    assert booking.state == Booking.State.DONE
    waiting = Message.objects.filter(crew=booking.crew, sent_at=None, superseded_at=None)
    assert not waiting.exists()
    assert "1 visit is done" in words


def test_done_twice_is_the_same_as_once(site: Site, phone: Client, link: str) -> None:
    booking = site.booking("plumb")
    press(phone, link, booking, "done", sure="1")
    press(phone, link, booking, "done", sure="1")
    booking.refresh_from_db()
    assert booking.state == Booking.State.DONE


def test_the_crews_photograph_passes_its_photo_point(site: Site, phone: Client, link: str) -> None:
    check = site.check("lagged", "bath")
    entries = {
        "point": check.inspection.point_id,
        "detail": check.detail_id,
        "place": check.place_id,
        "words": check.text,
    }
    words = press(phone, link, site.booking("plumb"), "photo", photo=photo_of(site), **entries)
    assert "Thank you: photograph received." in words
    assert "Received. Send another if it shows more." in words
    evidence = Evidence.objects.get()
    assert (evidence.crew, evidence.place, evidence.by) == (site.crews["plumber"], check.place, None)
    check.inspection.point.refresh_from_db()
    assert check.inspection.point.actual_finish is not None


def test_a_file_that_is_no_photograph_is_refused_and_nothing_is_kept(
    site: Site, phone: Client, link: str
) -> None:
    check = site.check("lagged", "bath")
    entries = {"point": check.inspection.point_id, "detail": check.detail_id}
    bad = SimpleUploadedFile("x.jpg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "image/jpeg")
    booking = site.booking("plumb")
    assert "This is no photograph." in press(phone, link, booking, "photo", photo=bad, **entries)
    assert "No photograph came along." in press(phone, link, booking, "photo", **entries)
    assert not Evidence.objects.exists()


def raise_finding(site: Site) -> Nonconformity:
    site.find(site.check("pipe-off", "bath"), "not met", note="On the chord", photo=True)
    return Nonconformity.objects.get()


def test_put_right_with_its_photograph_in_one_press(site: Site, phone: Client, link: str) -> None:
    finding = raise_finding(site)
    assert "Put right: Bath" in text_of(phone.get(link))
    words = press(
        phone, link, site.booking("plumb"), "photo", finding=finding.pk, done="1", photo=photo_of(site)
    )
    assert "noted as put right. The supervisor checks it again." in words
    finding.refresh_from_db()
    assert finding.state == Nonconformity.State.PUT_RIGHT
    assert Evidence.objects.get(nonconformity=finding).crew == site.crews["plumber"]


def test_the_crew_that_has_a_finding_sees_its_picture_and_no_other_crew_does(
    site: Site, phone: Client, link: str
) -> None:
    raise_finding(site)
    assert "its copy is being prepared" in phone.get(link).content.decode()
    site.prepare()
    picture = Evidence.objects.get()
    address = f"{link}photograph/{picture.pk}/"
    assert f'src="{address}"' in phone.get(link).content.decode()
    shown = phone.get(address)
    assert shown.status_code == 200
    assert shown["Content-Type"] == "image/jpeg"
    assert shown["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert Image.open(io.BytesIO(shown.content)).format == "JPEG"
    other = page_of(site.crews["installer"])
    assert phone.get(f"{other}photograph/{picture.pk}/").status_code == 404
    assert phone.get(f"{link}photograph/{picture.pk + 1}/").status_code == 404
    assert phone.post(address).status_code == 405
    picture.shown.delete(save=False)
    assert phone.get(address).status_code == 404


def test_put_right_without_a_photograph(site: Site, phone: Client, link: str) -> None:
    finding = raise_finding(site)
    booking = site.booking("plumb")
    assert "use the button beside it" in press(phone, link, booking, "put-right")
    assert "Noted as put right." in press(phone, link, booking, "put-right", finding=finding.pk)
    finding.refresh_from_db()
    assert finding.state == Nonconformity.State.PUT_RIGHT


def test_another_crew_can_neither_see_nor_close_a_finding(site: Site, phone: Client) -> None:
    finding = raise_finding(site)
    link = page_of(site.crews["installer"])
    assert "Put right" not in text_of(phone.get(link))
    press(phone, link, site.booking("batts"), "put-right", finding=finding.pk)
    press(phone, link, site.booking("batts"), "photo", finding=finding.pk, done="1", photo=photo_of(site))
    finding.refresh_from_db()
    assert finding.state == Nonconformity.State.RAISED
    assert not Evidence.objects.filter(nonconformity=finding, crew=site.crews["installer"]).exists()


def test_disturbed_re_opens_the_rooms_without_blame(site: Site, phone: Client, link: str) -> None:
    site.release_all("H3", "H4")
    booking, hold, bath = site.booking("plumb"), site.hold("H4"), site.place("bath")
    entries = {"point": hold.point_id, "place": [bath.pk], "reason": "A pipe was moved"}
    for missing in ("place", "reason", "point"):
        some = {name: value for name, value in entries.items() if name != missing}
        assert "Tick the rooms" in refused(phone, link, booking, **some)
    assert not Reopening.objects.exists()
    words = press(phone, link, booking, "disturbed", **entries)
    assert "Thank you for saying so." in words
    reopening = Reopening.objects.get()
    assert (reopening.crew, reopening.by, list(reopening.places.all())) == (booking.crew, None, [bath])
    hold.refresh_from_db()
    assert hold.is_open


def test_disturbed_at_a_point_where_nothing_was_judged_is_refused(
    site: Site, phone: Client, link: str
) -> None:
    entries = {"point": site.hold("H4").point_id, "place": [site.place("bath").pk], "reason": "moved"}
    assert "I moved a batt or drilled a plate later" not in text_of(phone.get(link)), "nothing to open again"
    booking = site.booking("plumb")
    assert "Nothing was judged at this point yet" in press(phone, link, booking, "disturbed", **entries)


def test_a_crew_may_open_what_was_judged_of_others_the_latest_first_and_a_refusal_keeps_what_was_entered(
    site: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    for point in ("H3", "H4", "H5"):
        site.release_all(point)
        monday_morning.shift(60)
    booking, bath, garage = site.booking("plumb"), site.place("bath"), site.place("garage")
    page = phone.get(link).content.decode()
    fold = page[page.index("Which walk") : page.index("Which rooms")]
    assert re.findall(r"<option[^>]*>([^<]+)", fold) == ["Insulation", "Services and air seal", "Pockets"]

    entries = {"place": [garage.pk, bath.pk], "reason": "A batt was pulled for a cable"}
    answer = phone.post(
        path_of(link, booking, "disturbed"), {**entries, "point": site.hold("H4").point_id}
    ).content.decode()
    assert "Nothing of Services and air seal is judged in Garage. It is judged in: Bath, Bed 1." in answer
    assert f'value="{site.hold("H4").point_id}" selected' in answer
    assert all(f'value="{room.pk}" checked' in answer for room in (garage, bath))
    assert 'value="A batt was pulled for a cable"' in answer
    assert not Reopening.objects.exists()

    press(phone, link, booking, "disturbed", **entries, point=site.hold("H5").point_id)
    assert Reopening.objects.get().crew == site.crews["plumber"]
    assert (site.hold("H5").is_open, site.hold("H4").is_open) == (True, False)


NONSENSE = ("abc", "-1", "1.5", "9" * 30, "9" * 5000, "٣", "\0")


@pytest.mark.parametrize("name", ["place", "detail", "point", "finding"])
@pytest.mark.parametrize("value", NONSENSE, ids=range(len(NONSENSE)))
def test_nonsense_in_a_hidden_field_is_refused_and_stops_nothing(
    site: Site, phone: Client, link: str, name: str, value: str
) -> None:
    check = site.check("lagged", "bath")
    entries: dict[str, Any] = {"point": check.inspection.point_id, "detail": check.detail_id, name: value}
    booking = site.booking("plumb")
    for verb in ("photo", "disturbed", "put-right"):
        answer = phone.post(
            path_of(link, booking, verb), {**entries, "reason": "moved", "photo": photo_of(site)}
        )
        assert answer.status_code in {302, 404, 422}
    assert not Reopening.objects.exists()


@pytest.mark.parametrize("verb", ["decline", "ready", "disturbed", "photo"])
def test_characters_that_no_text_has_do_not_stop_the_page(
    site: Site, phone: Client, link: str, verb: str
) -> None:
    site.release_all("H3", "H4")
    entries = {
        "sure": "1",
        "why": "The van\0 is broken",
        "note": "Keys\0",
        "reason": "Moved\0 a pipe",
        "words": "pipe\0",
        "point": site.hold("H4").point_id,
        "place": site.place("bath").pk,
        "photo": photo_of(site),
    }
    assert phone.post(path_of(link, site.booking("plumb"), verb), entries).status_code == 302


def test_a_message_is_acknowledged_once_and_by_its_own_crew(
    site: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    message = Message.objects.get(pk=_question(site).pk)
    stranger = page_of(site.crews["installer"])
    assert phone.post(f"{stranger}read/{message.pk}/").status_code == 404
    assert phone.post(f"{link}read/{message.pk + 1000}/").status_code == 404
    message.refresh_from_db()
    assert message.acknowledged_at is None
    first = clock.now()
    words = text_of(phone.post(f"{link}read/{message.pk}/", follow=True))
    assert "the builder sees that you have read it" in words
    monday_morning.shift(dt.timedelta(hours=1))
    phone.post(f"{link}read/{message.pk}/")
    message.refresh_from_db()
    assert message.acknowledged_at == first


def test_only_the_newest_word_about_a_visit_stands_and_answers_the_earlier_ones(
    site: Site, phone: Client, link: str
) -> None:
    """Firm, sent; then re-opened: 'firm' may not stand beside 'no longer firm'."""
    site.release_all("H3")
    site.pencil("plumb")
    firm = bookings.make_firm(site.booking("plumb"), site.planner)
    told = Message.objects.filter(crew=firm.crew, about=f"booking:{firm.pk}", superseded_at=None)
    told.update(sent_at=clock.now())
    reopen(site.point("H3"), [site.place("bed").pk], "A pocket was opened", by=site.supervisor)
    newest = told.latest("pk")
    assert told.count() == 2
    page = phone.get(link)
    assert text_of(page).count("I have read this") == 1
    assert page.context["questions"] == [newest]
    phone.post(f"{link}read/{newest.pk}/")
    assert not told.filter(acknowledged_at=None).exists()
    assert "I have read this" not in text_of(phone.get(link))


def _question(site: Site) -> Message:
    booking = site.pencil("plumb")
    return Message.objects.get(crew=booking.crew, kind=Message.Kind.CHANGE, needs_answer=True)


def test_a_calendar_address_is_shown_once_and_older_ones_stop_when_asked(
    site: Site, phone: Client, link: str
) -> None:
    addresses = []
    for entries in ({}, {}, {"only_this": "1"}):
        answer = phone.post(f"{link}calendar/", entries)
        assert "no-store" in answer["Cache-Control"]
        addresses.append(answer.context["address"])
        assert answer.context["subscribe"] == "webcal:" + addresses[-1].split(":", 1)[1]
        assert addresses[-1] in answer.content.decode()
    tokens = [address.rsplit("/", 1)[1].removesuffix(".ics") for address in addresses]
    crews = [crew_for_token(token, CrewLink.Kind.FEED) for token in tokens]
    assert crews == [None, None, site.crews["plumber"]]
    assert phone.get(link).status_code == 200
    assert [phone.get(address).status_code for address in addresses] == [404, 404, 200]
