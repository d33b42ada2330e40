"""Drawings in mails: few and small, shown by their Content-ID, and said in words for who sees none."""

import datetime as dt
import email
import io
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core import mail
from PIL import Image

from coordination import clock
from coordination.outbox.models import Message
from coordination.reminders import pictures
from coordination.reminders.tasks import put_and_send
from coordination.sequence.models import Detail
from coordination.sequence.sketch_pictures import paint_picture
from tests.hold_points.houses import make_site

pytestmark = pytest.mark.django_db

HOBART = ZoneInfo("Australia/Hobart")
MONDAY = dt.datetime(2026, 4, 13, 8, tzinfo=HOBART)

SECTIONS: dict[str, tuple[str, dict[str, Any]]] = {
    "d-pipes": ("truss_pipes", {"pitch": 22.5, "batt": 290}),
    "d-lagging": ("pipe_split", {}),
    "d-caps": ("void_cap", {"batt": 290}),
}


@pytest.fixture
def days():
    with time_machine.travel(MONDAY, tick=True) as traveller:
        yield traveller


@pytest.fixture
def site(days, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    made = make_site()
    for key, (name, numbers) in SECTIONS.items():
        Detail.objects.filter(house=made.house, key=key).update(drawing=name, drawing_numbers=numbers)
    made.pencil("plumb")
    put_and_send()
    Message.objects.filter(sent_at=None).update(superseded_at=clock.now())
    mail.outbox.clear()
    return made


def send_the_eve(site, days):
    days.move_to(MONDAY.replace(hour=15, minute=31))
    put_and_send()
    contact = site.crews["plumber"].contact
    [sent] = [one for one in mail.outbox if one.to == [contact.email]]
    return sent, email.message_from_bytes(sent.message().as_bytes())


def paint(key):
    painted = paint_picture(*SECTIONS[key])
    assert painted is not None
    return painted


def part(message, kind):
    return [one for one in message.walk() if one.get_content_type() == kind]


def test_the_eve_carries_the_sections_of_its_work(site, days):
    sent, message = send_the_eve(site, days)
    images = part(message, "image/png")
    assert len(images) == 3
    assert message.get_content_type() == "multipart/related"
    [html] = part(message, "text/html")
    words = html.get_payload(decode=True).decode()
    for image in images:
        assert f"cid:{image['Content-ID'].strip('<>')}" in words
        assert image.get_content_disposition() == "inline"
        with Image.open(io.BytesIO(image.get_payload(decode=True))) as opened:
            assert opened.format == "PNG"
            assert opened.width == 560
            # Ink, paper and pens: a picture without its lettering would have next to no dark dots.
            dark = sum(opened.convert("L").histogram()[:90])
            assert dark > 0.02 * opened.width * opened.height
    assert len(sent.message().as_bytes()) < 200_000


def test_the_text_part_says_all_that_the_drawings_show(site, days):
    _sent, message = send_the_eve(site, days)
    [text] = part(message, "text/plain")
    words = text.get_payload(decode=True).decode()
    [html] = part(message, "text/html")
    for key in SECTIONS:
        says = paint(key).says
        assert says in words, key
        assert says.replace("'", "&#x27;").replace('"', "&quot;") in html.get_payload(decode=True).decode()
    assert "the local figure prevails" in words


def test_what_costs_most_to_miss_is_drawn_first_and_the_rest_stays_on_the_page(site, days):
    details = Detail.objects.filter(house=site.house)
    details.filter(key="d-caps").update(miss={"loss": 0.4, "mould": True})
    details.filter(key="d-lagging").update(miss={"loss": 2.0, "mould": False})
    details.filter(key="d-pipes").update(miss={"loss": 0.1, "mould": False})
    sent, _message = send_the_eve(site, days)
    captions = [line for line in sent.body.splitlines() if line.startswith("Drawing:")]
    names = [details.get(key=key).name for key in ("d-caps", "d-lagging", "d-pipes")]
    assert captions == [f"Drawing: {site.house.name}: {name}" for name in names]


def test_a_mail_keeps_to_its_number_and_size_of_drawings(site, days, monkeypatch):
    monkeypatch.setattr(pictures, "MOST", 2)
    messages = [Message(kind=Message.Kind.EVE, facts={"booking": site.booking("plumb").pk})]
    assert len(pictures.choose_pictures(messages, "example.org")) == 2
    monkeypatch.setattr(pictures, "MOST_BYTES", len(paint("d-pipes").png) + 10)
    assert len(pictures.choose_pictures(messages, "example.org")) == 1


def test_the_same_section_is_not_shown_twice(site, days):
    Detail.objects.filter(house=site.house, key="d-caps").update(drawing="pipe_split", drawing_numbers={})
    _sent, message = send_the_eve(site, days)
    assert len(part(message, "image/png")) == 2


def test_numbers_that_give_no_drawing_stop_no_mail(site, days):
    Detail.objects.filter(house=site.house).update(drawing="eave", drawing_numbers={"pitch": 0})
    sent, message = send_the_eve(site, days)
    assert part(message, "image/png") == []
    assert "Plumbing rough-in" in sent.body


def test_work_to_put_right_comes_with_its_section(site, days):
    site.find(site.check("pipe-off", "bath"), "not met", photo=True)
    put_and_send()
    [sent] = [one for one in mail.outbox if one.subject.startswith("Put right")]
    message = email.message_from_bytes(sent.message().as_bytes())
    assert len(part(message, "image/png")) == 1
    assert "Pipes in the roof space" in sent.body


def test_no_request_paints_a_picture(site, days, client, monkeypatch):
    """A crew's page shows the SVG; painting is the sending task's work."""
    sent, _message = send_the_eve(site, days)
    path = next(word for word in sent.body.split() if "/v/" in word).split("/v/", 1)[1]

    def refuse(*args, **kwargs):
        raise AssertionError("painted in a request")

    monkeypatch.setattr("coordination.sequence.sketch_pictures.resvg_py.svg_to_bytes", refuse)
    page = client.get(f"/v/{path}")
    assert page.status_code == 200
    assert "to-scale" in page.content.decode()
