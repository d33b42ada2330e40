"""The pack of a house: its contents against the rows, its two readers, its PDF, and who may have it."""

import datetime as dt
import io
from dataclasses import replace

import pytest
from django.core.files.storage import default_storage
from django.urls import reverse
from kombu.exceptions import OperationalError
from pypdf import PdfReader

from coordination.sequence import answers, holds
from coordination.sequence.models import Detail, House
from hold_points import copies, pack_files
from hold_points.models import Check, Evidence, Inspection, Nonconformity, Outcome, Release
from hold_points.pack import read_pack
from hold_points.pack_paper import write_pdf
from hold_points.pack_sheets import Reader
from hold_points.readiness import State
from hold_points.record import head_of
from hold_points.releasing import concede
from hold_points.sealing import seal
from tests.hold_points.houses import PASSWORD, make_site
from tests.sequence.builders import say_brought_in
from tests.waiting import wait_until

SENTENCE = (
    "Records that the builder's own checks were made. It is no certificate and replaces no statutory "
    "inspection."
)


@pytest.fixture
def lived(site, monday_morning):
    """Walked, put right, conceded, gone past, set aside and sealed: everything that a pack must tell."""
    site.release_all("H3")
    monday_morning.shift(dt.timedelta(hours=1))
    site.find(site.check("pipe-off", "bath"), "not met", note="Rory left it on the chord", photo=True)
    monday_morning.shift(dt.timedelta(hours=1))
    site.find(site.check("pipe-off", "bath"), "put right", note="lifted", photo=True)
    site.find(site.check("airway", "bath"), "not met", value=18.0, photo=True)
    concede(
        Nonconformity.objects.get(check_failed__key="airway"),
        by=site.planner,
        authority="Thermal assessor",
        reason="the fascia stands",
        follow_up="camera over the eave",
        follow_up_on=dt.date(2026, 6, 1),
        follow_up_owner="Toni Vale",
        password=PASSWORD,
    )
    answers.report_under_way(site.booking("batts"), crew=site.crews["installer"])
    copies.prepare_waiting()
    seal(site.builder)
    return site


def sheet_of(pack, key):
    return next(one for one in pack.details if one.key == key)


def check_of(pack, key):
    return next(one for sheet in pack.details for one in sheet.checks if one.key == key)


def url(site, name="pack", reader="builder"):
    return reverse(f"hold_points:{name}", args=[site.house.pk, reader])


def test_every_detail_and_every_current_check_is_in_it(lived):
    pack = read_pack(lived.house, Reader.BUILDER)
    keys = [one.key for one in pack.details if one.key]
    assert keys == list(Detail.objects.filter(house=lived.house).values_list("key", flat=True))
    shown = sum(len(check.rows) + check.not_drawn for one in pack.details for check in one.checks)
    assert shown == Check.objects.filter(inspection__house=lived.house, withdrawn_at=None).count()
    assert [one.name for one in pack.points] == list(
        lived.house.activities.filter(is_point=True).order_by("order").values_list("name", flat=True)
    )


def test_a_limit_stands_with_its_source_and_where_it_applies_and_what_was_measured_with_its_unit(lived):
    pack = read_pack(lived.house, Reader.BUILDER)
    row = lived.check("airway", "bath")
    sheet = check_of(pack, "airway")
    assert (sheet.limit, sheet.source, sheet.applies) == ("≥ 25 mm", row.source, row.applies)
    [found] = [one for one in sheet.rows if one.found]
    assert (found.place, found.found, found.state) == ("Bath", "18 mm", State.CONCESSION)
    assert not found.passes


def test_who_released_when_and_what_had_failed_first_stand_in_it(lived):
    pack = read_pack(lived.house, Reader.BUILDER)
    release = Release.objects.get()
    point = next(one for one in pack.points if one.signed)
    assert point.signed == (f"{release.name} ({release.role}), Mon 13 Apr 2026",)
    bath = next(one for one in check_of(pack, "pipe-off").rows if one.place == "Bath")
    assert bath.state is State.PUT_RIGHT
    assert bath.before == ("not met Mon 13 Apr 2026",)
    assert bath.note == "lifted"


def test_concessions_what_went_past_and_what_was_set_aside_are_said_plainly(lived):
    for activity in lived.house.activities.filter(is_point=False):
        activity.actual_start = activity.actual_finish = 41000
        activity.save()
    say_brought_in(lived.house)
    holds.set_aside(lived.hold("H5"), lived.planner, "brought in half built")
    pack = read_pack(lived.house, Reader.BUILDER)
    [conceded] = pack.concessions
    assert conceded.authority == "Thermal assessor"
    assert conceded.follow_up == "camera over the eave (Toni Vale), by Mon 1 Jun 2026"
    [past] = pack.went_past
    assert lived.crews["installer"].name in past
    assert lived.hold("H4").label in past
    [aside] = pack.set_aside
    assert "brought in half built" in aside
    point = next(one for one in pack.points if one.name == lived.hold("H5").point.name)
    assert (point.state, point.signed, point.plain) == ("not recorded", (), False)


def test_head_and_seal_are_those_of_the_record(lived):
    pack = read_pack(lived.house, Reader.OWNER)
    assert pack.head == head_of(lived.house)
    assert pack.entries == lived.house.record.count()
    assert pack.seal == lived.builder.seals.get().hash
    lived.find(lived.check("wet-wall", "bath"), "met", photo=True)
    assert read_pack(lived.house, Reader.OWNER).head == head_of(lived.house) != pack.head


def test_the_owners_pack_names_nobody_and_repeats_no_remark(lived, client):
    client.force_login(lived.planner)
    page = client.get(url(lived, reader="owner"))
    words = page.content.decode()
    main = words[words.index("<main") : words.index("</main>")]
    for crew in lived.crews.values():
        assert crew.name not in main
        assert crew.contact.name not in main
    for person in (lived.supervisor, lived.deputy, lived.planner, lived.assessor, lived.tradesman):
        assert person.name not in main
    assert "Rory" not in main
    assert "Toni" not in main
    # What went otherwise is not left out with the names.
    for said in ("Thermal assessor", "the fascia stands", "work went on past", "not met Mon 13 Apr 2026"):
        assert said in main
    assert "supervisor, Mon 13 Apr 2026" in main
    builders = client.get(url(lived)).content.decode()
    assert "Rory left it" not in builders, "only the outcome that counts is told with its note"
    assert lived.crews["installer"].name in builders


def test_the_page_says_the_sentence_and_shows_drawings_and_clean_copies(lived, client):
    client.force_login(lived.assessor)
    words = client.get(url(lived)).content.decode()
    assert words.count(SENTENCE.replace("'", "&#x27;")) == 2, "above, and at the foot of each printed sheet"
    assert "Eave in section" in words
    assert head_of(lived.house) in words
    for photograph in Evidence.objects.filter(house=lived.house, inspection__isnull=False):
        assert reverse("hold_points:evidence_thumb", args=[photograph.pk]) in words
    assert "/original/" not in words[words.index("<main") :]


def test_another_builder_and_a_crew_get_nothing(lived, client):
    other = make_site("lot-8", "wattle")
    client.force_login(other.planner)
    for name in ("pack", "pack_pdf"):
        assert client.get(url(lived, name)).status_code == 404
    assert client.post(url(lived, "make_pack")).status_code == 404
    client.logout()
    assert client.get(url(lived)).status_code == 302
    client.force_login(lived.crews["plumber"].contact)
    assert client.get(url(lived)).status_code == 403
    client.force_login(lived.planner)
    assert client.get(url(lived, reader="everybody")).status_code == 404
    assert client.get(url(lived, "make_pack")).status_code == 405


def test_every_side_of_the_pdf_carries_the_sentence_and_the_first_the_whole_head(lived):
    pack = read_pack(lived.house, Reader.BUILDER)
    read = PdfReader(io.BytesIO(write_pdf(pack)))
    assert len(read.pages) > 1
    for side in read.pages:
        assert SENTENCE in side.extract_text()
        assert (round(side.mediabox.width), round(side.mediabox.height)) == (595, 842)
    words = "\n".join(side.extract_text() for side in read.pages)
    flat = " ".join(words.split())
    assert pack.head in words
    assert pack.seal in words
    for said in ("≥ 25 mm", "18 mm", "Thermal assessor", "Toni Vale", lived.crews["installer"].name):
        assert said in flat
    for detail in pack.details:
        assert detail.name in flat
    pictures = [image for side in read.pages for image in side.images]
    assert len(pictures) >= 1 + Evidence.objects.filter(inspection__house=lived.house).count()


def test_what_is_longer_than_a_sheet_goes_on_upon_the_next(site):
    pack = replace(read_pack(site.house, Reader.BUILDER), sequence="brick veneer " * 2000)
    read = PdfReader(io.BytesIO(write_pdf(pack)))
    assert sum(side.extract_text().count("veneer") for side in read.pages) >= 2000


@pytest.mark.django_db(transaction=True)
def test_the_task_makes_what_the_page_offers(lived, client, celery_worker):
    client.force_login(lived.planner)
    assert client.get(url(lived, "pack_pdf")).status_code == 404
    answer = client.post(url(lived, "make_pack"))
    assert answer.status_code == 302
    # The worker's own copy: another one made here, in another language, would take its place.
    wait_until("the worker made it", lambda: pack_files.is_made(read_pack(lived.house, Reader.BUILDER)))
    assert "Download the PDF" in client.get(url(lived)).content.decode()
    got = client.get(url(lived, "pack_pdf"))
    assert got["Content-Type"] == "application/pdf"
    assert head_of(lived.house) in PdfReader(io.BytesIO(got.content)).pages[0].extract_text()


def test_without_a_worker_the_page_says_so_and_can_still_be_printed(lived, client, monkeypatch):
    def refuse(*args, **kwargs):
        raise OperationalError("no broker")

    monkeypatch.setattr("celery.current_app.send_task", refuse)
    client.force_login(lived.planner)
    page = client.post(url(lived, "make_pack"), follow=True)
    assert page.status_code == 200
    assert "The worker that makes it cannot be reached." in page.content.decode()


def test_a_pack_of_an_older_state_is_neither_offered_nor_kept(lived, client):
    language = "en"
    first = pack_files.make(lived.house.pk, Reader.BUILDER, language, lambda pack: b"first %%EOF")
    again = pack_files.make(lived.house.pk, Reader.BUILDER, language, lambda pack: b"never written")
    assert first == again
    with default_storage.open(first) as file:
        assert file.read() == b"first %%EOF"
    owners = pack_files.make(lived.house.pk, Reader.OWNER, language, lambda pack: b"owner's %%EOF")
    lived.find(lived.check("wet-wall", "bath"), "met", photo=True)
    client.force_login(lived.planner)
    assert client.get(url(lived, "pack_pdf")).status_code == 404
    second = pack_files.make(lived.house.pk, Reader.BUILDER, language, lambda pack: b"second %%EOF")
    assert second != first
    assert not default_storage.exists(first)
    assert default_storage.exists(owners)


def test_a_photograph_whose_file_is_gone_stops_no_pack(lived):
    for one in Evidence.objects.filter(house=lived.house):
        default_storage.delete(str(one.shown))
    words = "".join(
        side.extract_text()
        for side in PdfReader(io.BytesIO(write_pdf(read_pack(lived.house, Reader.BUILDER)))).pages
    )
    assert "more photographs are on the record" in " ".join(words.split())


def test_a_house_of_which_nothing_is_recorded_has_a_pack_that_claims_nothing(site):
    pack = read_pack(House.objects.get(pk=site.house.pk), Reader.OWNER)
    assert (pack.entries, pack.head, pack.seal) == (0, "nothing recorded yet", "")
    assert {one.state for one in pack.points} == {"open"}
    assert not any(row.passes for sheet in pack.details for check in sheet.checks for row in check.rows)
    assert PdfReader(io.BytesIO(write_pdf(pack))).pages


def test_a_pack_takes_a_fixed_number_of_queries(lived, django_assert_max_num_queries):
    house = House.objects.select_related("builder", "sequence_version").get(pk=lived.house.pk)
    with django_assert_max_num_queries(24):
        read_pack(house, Reader.BUILDER)
    assert Outcome.objects.exists()


def test_a_witness_point_that_nobody_attended_is_said_to_be_that(lived):
    Inspection.objects.filter(pk=lived.point("W1").pk).update(
        lapsed_at=lived.house.created_at, absent="Kit of the council"
    )
    for reader in Reader:
        pack = read_pack(lived.house, reader)
        point = next(one for one in pack.points if one.name == lived.point("W1").point.name)
        assert (point.state, point.signed, point.plain) == ("not attended", (), False)
        assert "Kit of the council" not in repr(pack)
