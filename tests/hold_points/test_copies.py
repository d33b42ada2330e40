"""Copies of photographs: made after the commit, once, again when a worker was lost; position if agreed."""

import datetime as dt
import io
import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from coordination import clock
from coordination.people.refusals import BadInput, NotAllowed
from hold_points import copies, photographs
from hold_points.crew_work import read_photo
from hold_points.evidence import Shows, accept
from hold_points.models import Evidence, RecordEntry
from hold_points.tasks import prepare_photographs
from tests.hold_points.pictures import make_heic, make_picture, make_picture_with_camera_data
from tests.waiting import wait_until


def send(site, raw, check="pipe-off"):
    found = site.check(check)
    shows = Shows(inspection=found.inspection, check=found, by=site.supervisor, words=found.text)
    return accept(io.BytesIO(raw), site.house, shows)


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


def test_a_photograph_counts_at_once_and_is_shown_when_its_copies_are_made(site, client):
    kept = send(site, make_picture())
    assert (kept.shown.name, kept.thumb.name, kept.prepared_at) == ("", "", None)
    assert kept.original.size == kept.size
    client.force_login(site.supervisor)
    check = page("check", site.check("pipe-off").pk)
    assert "the copy is being prepared" in client.get(check).content.decode()
    assert client.get(page("evidence", kept.pk)).status_code == 404
    assert "hx-get" in client.get(page("evidence_line", kept.pk)).content.decode()
    with pytest.raises(NotAllowed, match="not for your crew"):
        read_photo(kept.pk, site.crews["plumber"])
    assert prepare_photographs.run() is None
    body = client.get(check).content.decode()
    assert "the copy is being prepared" not in body
    assert page("evidence_thumb", kept.pk) in body
    assert "hx-get" not in client.get(page("evidence_line", kept.pk)).content.decode()
    small = client.get(page("evidence_thumb", kept.pk))
    assert small.headers["Content-Type"] == "image/jpeg"
    with Image.open(io.BytesIO(small.content)) as picture:
        assert picture.size == (64, 48)


def test_a_heic_from_a_tablet_becomes_evidence_that_every_browser_shows(site, client):
    client.force_login(site.supervisor)
    upload = SimpleUploadedFile("IMG_0001.HEIC", make_heic(size=(400, 300)), "image/heic")
    client.post(page("check", site.check("pipe-off").pk), {"act": "photo", "photo": upload})
    kept = Evidence.objects.get()
    assert (kept.media_type, str(kept.original)[-5:]) == ("image/heic", ".heic")
    site.prepare()
    shown = client.get(page("evidence", kept.pk))
    with Image.open(io.BytesIO(shown.content)) as picture:
        assert (picture.format, picture.size) == ("JPEG", (400, 300))


def test_a_refused_picture_says_the_remedy_beside_the_button_that_took_it(site, client):
    client.force_login(site.supervisor)
    broken = SimpleUploadedFile("IMG_0001.HEIC", make_heic()[:300], "image/heic")
    address = page("check", site.check("pipe-off").pk)
    answer = client.post(address, {"act": "photo", "photo": broken}, headers={"HX-Request": "true"})
    beside = answer.content.decode().split('id="photo-refused"')[1].split("</div>")[0]
    assert "Most compatible" in beside


def test_copies_are_made_once_whoever_rings_and_however_often(site, monkeypatch):
    kept = send(site, make_picture())
    made = []

    def count(raw):
        made.append(raw)
        return photographs.make_copies(raw)

    monkeypatch.setattr(copies, "make_copies", count)
    prepare_photographs.run([kept.pk])
    prepare_photographs.run([kept.pk])
    prepare_photographs.run()
    assert len(made) == 1
    assert copies.prepare(kept.pk) is False


def test_what_a_lost_worker_had_claimed_is_taken_up_by_a_later_tick(site, monkeypatch, monday_morning):
    kept = send(site, make_picture())

    def die(raw):
        raise KeyboardInterrupt

    monkeypatch.setattr(copies, "make_copies", die)
    with pytest.raises(KeyboardInterrupt):
        copies.prepare(kept.pk)
    monkeypatch.undo()
    assert copies.prepare_waiting() == 0, "it is claimed"
    monday_morning.shift(dt.timedelta(minutes=6))
    assert copies.prepare_waiting() == 1
    kept.refresh_from_db()
    assert (kept.prepare_tries, kept.prepared_at) == (2, clock.now())


def test_a_lost_original_keeps_nobody_else_waiting_and_is_given_up_in_the_end(site, monday_morning, client):
    gone, other = send(site, make_picture()), send(site, make_picture(size=(70, 50)))
    gone.original.storage.delete(gone.original.name)
    assert copies.prepare_waiting() == 1
    other.refresh_from_db()
    assert other.prepared_at
    for _turn in range(Evidence.MOST_TRIES + 2):
        monday_morning.shift(dt.timedelta(minutes=6))
        copies.prepare_waiting()
    gone.refresh_from_db()
    assert (gone.prepare_tries, gone.given_up) == (Evidence.MOST_TRIES, True)
    client.force_login(site.supervisor)
    assert "No copy could be made" in client.get(page("evidence_line", gone.pk)).content.decode()


def test_the_position_is_dropped_unless_the_builder_has_agreed(site, client):
    raw = make_picture_with_camera_data()
    kept = send(site, raw)
    assert (kept.latitude, kept.longitude) == (None, None)
    site.find(site.check("pipe-off"))
    facts = json.loads(RecordEntry.objects.get(kind="outcome").text)["facts"]
    assert "position" not in facts["photographs"][0]
    site.builder.positions_agreed_at, site.builder.positions_agreed_by = clock.now(), site.planner
    site.builder.save()
    site.house.refresh_from_db()
    agreed = send(site, make_picture_with_camera_data("HEIC"), "pipe-test")
    assert (agreed.latitude, agreed.longitude) == (-42.86694, 147.31694)
    site.find(site.check("pipe-test"))
    facts = json.loads(RecordEntry.objects.filter(kind="outcome").latest("n").text)["facts"]
    assert facts["photographs"][0]["position"] == {"latitude": "-42.86694", "longitude": "147.31694"}
    site.prepare()
    client.force_login(site.supervisor)
    body = client.get(page("check", site.check("pipe-test").pk)).content.decode()
    assert "taken at -42.86694, 147.31694" in body
    for one in Evidence.objects.all():
        for copy in (one.shown, one.thumb):
            with copy.open("rb") as file:
                assert b"Exif" not in file.read(), "no copy carries it, agreed or not"


def test_a_picture_that_already_shows_something_else_is_refused(site):
    raw = make_picture()
    assert send(site, raw) == send(site, raw)
    with pytest.raises(BadInput, match="already shows something else"):
        send(site, raw, "pipe-test")


@pytest.mark.django_db(transaction=True)
def test_the_worker_makes_them_after_the_commit(monday_morning, settings, tmp_path, celery_worker):
    from tests.hold_points.houses import make_site

    settings.MEDIA_ROOT = tmp_path
    kept = send(make_site(), make_picture())

    def is_prepared():
        kept.refresh_from_db()
        return kept.prepared_at

    wait_until("the worker made the copies", is_prepared)
    assert kept.shown.size
    assert kept.thumb.size
