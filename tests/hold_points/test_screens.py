"""The screens: who sees what, who may do what, and what a press brings about."""

import json
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from hold_points.identifiers import new_id
from hold_points.models import Evidence, Nonconformity, Outcome, Release, Reopening
from hold_points.port import HoldPointsPort
from hold_points.verify_record import verify_export
from tests.hold_points.houses import PASSWORD, STROKES, make_site


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


def upload(site, name="photo.jpg"):
    return SimpleUploadedFile(name, site.picture(), "image/jpeg")


def judge(client, check, act, **more):
    return client.post(page("check", check.pk), {"act": act, "id": str(new_id()), **more})


def sign(client, inspection, **more):
    values = {
        "id": str(new_id()),
        "password": PASSWORD,
        "signature": json.dumps(STROKES),
    }
    return client.post(page("release", inspection.pk), {**values, **more})


def every_page(site):
    """Every address with an object of this site."""
    site.find(site.check("pipe-off"), "not met", photo=True)
    site.prepare()
    inspection, trouble, photo = site.point("H4"), Nonconformity.objects.get(), Evidence.objects.get()
    return [
        page("walk", inspection.pk),
        page("hold", inspection.pk),
        page("photographs", inspection.pk),
        page("release", inspection.pk),
        page("reopen", inspection.pk),
        page("check", site.check("airway", "bath").pk),
        page("concession", trouble.pk),
        page("evidence", photo.pk),
        page("evidence_original", photo.pk),
        page("record", site.house.pk),
        page("record_file", site.house.pk),
    ]


def test_every_page_opens_for_the_supervisor_and_says_what_it_is_not(site, as_supervisor):
    for address in every_page(site):
        answer = as_supervisor.get(address, follow=True)
        assert answer.status_code == 200, address
        if answer.headers["Content-Type"].startswith("text/html"):
            body = answer.content.decode()
            assert " style=" not in body, f"{address}: inline style"
            assert not re.search(r"<script(?![^>]*\bsrc=)", body), f"{address}: inline script"
    assert b"it is no certificate" in as_supervisor.get(page("record", site.house.pk)).content


def test_a_supervisor_is_offered_no_page_that_only_the_office_opens(site, as_supervisor):
    body = as_supervisor.get(page("walks")).content.decode()
    assert f'href="{reverse("planner:houses")}"' in body
    for name in ("planner:crews", "planner:sequences"):
        assert f'href="{reverse(name)}"' not in body, name


def test_another_builders_supervisor_finds_nothing_anywhere(site, client):
    client.force_login(make_site("lot-8", "wattle").supervisor)
    addresses = every_page(site)
    assert [client.get(address).status_code for address in addresses] == [404] * len(addresses)
    assert judge(client, site.check("full", "bed"), "met").status_code == 404
    assert sign(client, site.point("H4")).status_code == 404
    room = page("room", site.point("H5").pk, site.place("bath").pk)
    assert client.post(room, {"act": "nothing"}).status_code == 404
    assert b"Saltbush" not in client.get(page("walks")).content


def test_who_is_not_signed_in_is_asked_to(site, client):
    for address in every_page(site):
        answer = client.get(address)
        assert (answer.status_code, "sign-in" in answer.headers["Location"]) == (302, True)


def test_a_contact_without_an_office_role_is_told_that_the_page_is_not_theirs(site, client):
    client.force_login(site.crews["plumber"].contact)
    for address in every_page(site):
        assert client.get(address).status_code == 403


def test_a_planner_looks_but_neither_judges_nor_signs(site, client):
    site.release_all("H3")
    site.pass_checks("H4")
    client.force_login(site.planner)
    for name in ("hold", "photographs", "walk"):
        answer = client.get(page(name, site.point("H4").pk), follow=True)
        assert answer.status_code == 200
        assert page("release", site.point("H4").pk).encode() not in answer.content
    assert judge(client, site.check("full", "bed"), "met").status_code == 403
    assert client.get(page("release", site.point("H4").pk)).status_code == 403
    assert sign(client, site.point("H4")).status_code == 403
    assert site.hold("H4").is_open


def test_who_worked_in_the_crew_is_told_so_and_may_not_sign(site, client):
    site.release_all("H3")
    site.pass_checks("H4")
    client.force_login(site.tradesman)
    answer = sign(client, site.point("H4"))
    assert (answer.status_code, b"installed what is judged here" in answer.content) == (403, True)


def test_met_goes_on_to_the_next_check_of_the_room(site, as_supervisor):
    first = site.check("pipe-off")
    answer = judge(as_supervisor, first, "met")
    assert answer.headers["Location"] == page("check", site.check("pipe-test").pk)
    assert Outcome.objects.get().kind == "met"


def test_a_press_that_arrives_twice_is_one_outcome(site, as_supervisor):
    values = {"act": "met", "id": str(new_id())}
    for _again in range(2):
        as_supervisor.post(page("check", site.check("pipe-off").pk), values)
    assert Outcome.objects.count() == 1


def test_a_value_outside_the_limit_says_so_and_keeps_what_was_typed(site, as_supervisor):
    answer = judge(as_supervisor, site.check("airway", "bath"), "met", value="24,5", note="at the truss")
    body = answer.content.decode()
    assert answer.status_code == 422
    assert "outside the limit of ≥ 25 mm" in body
    assert 'value="24,5"' in body
    assert "at the truss" in body
    assert not Outcome.objects.exists()


@pytest.mark.parametrize("typed", ["abc", "1e999", "nan", "--3", "3 1"])
def test_what_is_no_number_is_refused(site, as_supervisor, typed):
    assert judge(as_supervisor, site.check("airway", "bath"), "met", value=typed).status_code == 422


def test_not_met_asks_once_more_and_says_who_will_have_it(site, as_supervisor):
    check = site.check("pipe-off")
    answer = judge(as_supervisor, check, "not met", note="north wall", photo=upload(site))
    body = answer.content.decode()
    assert site.crews["plumber"].name in body
    assert "north wall" in body
    assert not Outcome.objects.exists()
    assert Evidence.objects.get().check_shown == check, "the photograph is kept meanwhile"
    judge(as_supervisor, check, "not met", note="north wall", sure="yes")
    assert Nonconformity.objects.get().crew == site.crews["plumber"]


def test_a_photograph_is_kept_beside_a_half_typed_number(site, as_supervisor):
    check = site.check("airway", "bath")
    answer = judge(as_supervisor, check, "photo", value="31", photo=upload(site))
    assert answer.headers["Location"].endswith("?value=31")
    assert b'value="31"' in as_supervisor.get(answer.headers["Location"]).content
    assert judge(as_supervisor, check, "photo").status_code == 422


def test_a_photograph_by_htmx_answers_with_the_page_to_pick_from(site, as_supervisor):
    check = site.check("airway", "bath")
    values = {"act": "photo", "id": str(new_id()), "photo": upload(site)}
    answer = as_supervisor.post(page("check", check.pk), values, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert b'id="photos"' in answer.content
    bad = {**values, "photo": SimpleUploadedFile("x.jpg", b"<svg/>", "image/jpeg")}
    answer = as_supervisor.post(page("check", check.pk), bad, headers={"HX-Request": "true"})
    assert (answer.status_code, b"no photograph" in answer.content) == (200, True)


def test_nothing_to_note_needs_a_photograph_and_takes_both_in_one_press(site, as_supervisor):
    address = page("room", site.point("H5").pk, site.place("bed").pk)
    assert as_supervisor.post(address, {"act": "nothing"}).status_code == 422
    assert as_supervisor.post(address, {"act": "photo"}).status_code == 422
    answer = as_supervisor.post(address, {"act": "nothing", "photo": upload(site)})
    assert answer.status_code == 302
    assert Outcome.objects.get().check_judged == site.check("full", "bed")


def test_a_room_of_another_house_is_not_found(site, as_supervisor):
    other = make_site("lot-8", "wattle")
    address = page("room", site.point("H5").pk, other.place("bed").pk)
    assert as_supervisor.post(address, {"act": "nothing"}).status_code == 404


def test_the_release_page_lists_what_is_missing_and_offers_no_signature(site, as_supervisor):
    body = as_supervisor.get(page("release", site.point("H4").pk)).content.decode()
    assert "Pipes off the chords: 0 of 2 checked" in body
    assert "data-signature" not in body
    answer = sign(as_supervisor, site.point("H4"))
    assert (answer.status_code, Release.objects.count()) == (422, 0)


def test_signing_releases_and_shows_by_whom(site, as_supervisor):
    site.release_all("H3")
    site.pass_checks("H4")
    body = as_supervisor.get(page("release", site.point("H4").pk)).content.decode()
    assert "it is no certificate" in body
    assert sign(as_supervisor, site.point("H4"), password="wrong").status_code == 422
    assert sign(as_supervisor, site.point("H4"), signature="[[[").status_code == 422
    answer = sign(as_supervisor, site.point("H4"))
    assert answer.headers["Location"] == page("hold", site.point("H4").pk)
    assert not site.hold("H4").is_open
    assert b"by KitSaltbush Marlow (supervisor)" in as_supervisor.get(answer.headers["Location"]).content


def test_nobody_signs_in_anothers_name_and_a_name_signed_earlier_stays_readable(site, as_supervisor):
    site.pass_checks("H3")
    form = as_supervisor.get(page("release", site.point("H3").pk)).content.decode()
    assert 'name="name"' not in form
    answer = sign(as_supervisor, site.point("H3"), name=site.deputy.name)
    assert (answer.status_code, Release.objects.count()) == (422, 0)
    assert "sign in no other name" in answer.content.decode()
    sign(as_supervisor, site.point("H3"), name=" kitsaltbush  MARLOW ")
    assert Release.objects.get().name == site.supervisor.name
    pages = [page("hold", site.point("H3").pk), page("record", site.house.pk)]
    pages.append(page("pack", site.house.pk, "builder"))
    for address in pages:
        assert "signed as" not in as_supervisor.get(address).content.decode(), address
    # What was signed is never changed: the person is now called otherwise.
    site.supervisor.name = "Kit Vale"
    site.supervisor.save()
    for address in pages:
        assert "Kit Vale, signed as KitSaltbush Marlow" in as_supervisor.get(address).content.decode(), (
            address
        )
    assert verify_export(as_supervisor.get(page("record_file", site.house.pk)).content)


def test_a_part_is_signed_from_its_own_address(site, as_supervisor):
    site.release_all("H3")
    for key in ("pipe-off", "pipe-test"):
        site.find(site.check(key), note="no. 12")
    body = as_supervisor.get(page("release", site.point("H4").pk) + "?part=pipes").content.decode()
    assert 'name="part" value="pipes"' in body
    sign(as_supervisor, site.point("H4"), part="pipes")
    assert Release.objects.filter(section="pipes").count() == 1
    assert site.hold("H4").is_open


def test_reopening_asks_once_more_and_then_closes(site, as_supervisor, monday_morning):
    site.release_all("H3", "H4")
    monday_morning.shift(60)
    address = page("reopen", site.point("H4").pk)
    values = {"places": [site.place("bath").pk], "reason": "pipe moved"}
    assert as_supervisor.post(address, {"reason": "pipe moved"}).status_code == 422
    assert as_supervisor.post(address, {"places": values["places"]}).status_code == 422
    first = as_supervisor.post(address, values)
    assert (first.status_code, Reopening.objects.count()) == (200, 0)
    assert b"Re-open for Bath?" in first.content
    as_supervisor.post(address, {**values, "sure": "yes"})
    assert site.hold("H4").is_open


def test_photographs_are_served_as_clean_copies_that_can_run_nothing(site, as_supervisor):
    site.find(site.check("pipe-off"), photo=True)
    site.prepare()
    photo = Evidence.objects.get()
    answer = as_supervisor.get(page("evidence", photo.pk))
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer.headers["Content-Disposition"].startswith("inline")
    original = as_supervisor.get(page("evidence_original", photo.pk))
    assert original.headers["Content-Type"] == "application/octet-stream"
    assert original.headers["Content-Disposition"].startswith("attachment")
    with photo.original.open() as kept:
        assert original.content == kept.read()


def test_the_record_is_downloaded_and_fits(site, as_supervisor):
    site.release_all("H3")
    answer = as_supervisor.get(page("record_file", site.house.pk))
    assert verify_export(answer.content)
    body = as_supervisor.get(page("record", site.house.pk)).content.decode()
    assert "KitSaltbush Marlow (supervisor)" in body
    assert json.loads(answer.content.splitlines()[0])["head"] in body


def test_todays_walks_name_those_not_to_drive_to(site, as_supervisor, monday_morning):
    body = as_supervisor.get(page("walks")).content.decode()
    assert body.index("No walk is called ready") < body.index("Do not drive: not called yet")
    HoldPointsPort().call_ready(visit_id=site.visit("plumb").pk, crew=site.crews["plumber"])
    body = as_supervisor.get(page("walks")).content.decode()
    assert body.index("Services and air seal") < body.index("Do not drive: not called yet")


def test_own_hand_and_absence_wait_on_the_list_of_whom_they_wait_for(site, client):
    site.find(site.check("pipe-off"), "put right", own_hand=True, photo=True)
    site.find(site.check("pipe-test"), "not on this house", note="no pressure pipe")
    client.force_login(site.supervisor)
    assert b"Judge from the photograph" not in client.get(page("walks")).content
    client.force_login(site.planner)
    body = client.get(page("walks")).content
    assert b"Judge from the photograph" in body
    client.post(page("confirm_absence", site.check("pipe-test").pk))
    judge(client, site.check("pipe-off"), "met", from_photograph="yes")
    assert b"Waits for a second pair of eyes" not in client.get(page("walks")).content


def test_a_concession_is_given_on_its_page_and_refused_for_safety(site, as_supervisor):
    site.find(site.check("pipe-off"), "not met")
    trouble = Nonconformity.objects.get()
    values = {
        "authority": "T. Vale",
        "reason": "short piece",
        "follow_up": "camera at the audit",
        "follow_up_on": "2026-09-01",
        "follow_up_owner": "T. Vale",
        "password": PASSWORD,
    }
    address = page("concession", trouble.pk)
    assert as_supervisor.post(address, {**values, "follow_up_on": "soon"}).status_code == 422
    assert as_supervisor.post(address, values).status_code == 302
    assert b"short piece" in as_supervisor.get(page("record", site.house.pk)).content
    site.find(site.check("hot"), "not met")
    safety = page("concession", Nonconformity.objects.latest("pk").pk)
    assert as_supervisor.post(safety, values).status_code == 422
    assert b"Give the concession" not in as_supervisor.get(safety).content


def test_pages_need_few_queries(site, as_supervisor, django_assert_max_num_queries):
    with django_assert_max_num_queries(40):
        as_supervisor.get(page("check", site.check("airway", "bath").pk))
    with django_assert_max_num_queries(40):
        as_supervisor.get(page("walks"))
    with django_assert_max_num_queries(40):
        as_supervisor.get(page("record", site.house.pk))
