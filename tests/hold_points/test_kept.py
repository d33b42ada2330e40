"""What was kept on a tablet comes in at the server: once, at its own time, in nobody else's name."""

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from coordination import clock
from coordination.sequence import changing
from hold_points.facts import load_point
from hold_points.identifiers import new_id
from hold_points.models import Evidence, Nonconformity, Outcome, RecordEntry
from hold_points.readiness import State
from tests.hold_points.houses import make_site
from tests.hold_points.test_late_outcomes import reopen_bath
from tests.hold_points.test_screens import page, upload

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def later(monday_morning):
    """Lets hours pass."""
    return lambda hours=1: monday_morning.shift(hours * HOUR)


def kept(by, act="met", ago=0.0, skew=0.0, **more):
    """What a tablet sends: found `ago` hours ago, its clock `skew` hours ahead of the server's."""
    now = clock.now() + skew * HOUR
    at = now - ago * HOUR
    values = {"person": by.pk, "act": act, "at": at.isoformat(), "now": now.isoformat(), "seen": ""}
    return {"id": str(new_id()), **values, **more}


def send(client, check, values):
    answer = client.post(page("accept_kept", check.pk), values)
    return answer.status_code, answer.json()


def test_the_same_sent_again_is_on_the_record_once(site, as_supervisor):
    check = site.check("airway", "bath")
    values = kept(site.supervisor, value="31,5", note="by the vent", shown=clock.now().isoformat())
    for _time in range(3):
        status, answer = send(as_supervisor, check, values)
        assert (status, answer["answer"]) == (200, "recorded")
    outcome = Outcome.objects.get()
    assert (str(outcome.pk), outcome.value, outcome.note) == (values["id"], 31.5, "by the vent")
    assert RecordEntry.objects.filter(kind="outcome").count() == 1
    # The same id for something else is no repeat.
    assert send(as_supervisor, check, values | {"value": "40"})[0] == 422


def test_a_request_that_did_arrive_does_no_harm_when_it_is_kept_as_well(site, as_supervisor):
    check, id = site.check("full", "bath"), str(new_id())
    as_supervisor.post(page("check", check.pk), {"act": "met", "id": id})
    assert send(as_supervisor, check, kept(site.supervisor, id=id))[1]["answer"] == "recorded"
    assert Outcome.objects.count() == 1


def test_only_whoever_kept_it_sends_it_and_only_who_may_judge(site, client):
    check = site.check("full", "bath")
    values = kept(site.supervisor)
    assert send(client, check, values) == (401, {"answer": "signed out"})
    client.force_login(site.deputy)
    assert send(client, check, values) == (409, {"answer": "another person"})
    client.force_login(site.planner)
    status, answer = send(client, check, kept(site.planner))
    assert (status, answer["answer"], "needs the role" in answer["words"]) == (403, "refused", True)
    other = make_site(key="lot-9", builder="wattle")
    client.force_login(other.supervisor)
    status, answer = send(client, check, kept(other.supervisor))
    assert (status, answer["answer"]) == (404, "refused")
    assert client.get(page("along", check.inspection_id)).status_code == 404
    client.force_login(site.tradesman)
    status, answer = send(client, site.check("pipe-off"), kept(site.tradesman))
    assert (status, answer["answer"]) == (403, "refused")
    assert not Outcome.objects.exists()


def test_who_is_signed_in_is_told_with_a_token(site, client):
    assert client.get(page("who")).status_code == 401
    client.force_login(site.supervisor)
    told = client.get(page("who")).json()
    assert (told["person"], told["name"]) == (site.supervisor.pk, site.supervisor.name)
    assert len(told["token"]) == 64


@pytest.mark.parametrize("skew", [0, -72, 72, 24 * 4000, -24 * 4000])
def test_a_clock_that_is_wrong_by_days_dates_nothing_wrongly(site, as_supervisor, later, skew):
    looked = clock.now()
    later(3)
    send(as_supervisor, site.check("full", "bath"), kept(site.supervisor, ago=3, skew=skew))
    outcome = Outcome.objects.get()
    assert outcome.at == looked
    assert outcome.received_at == clock.now()


def test_a_clock_that_was_set_right_in_between_dates_nothing_before_its_page(site, as_supervisor, later):
    shown = clock.now()
    later(3)
    slow = kept(site.supervisor, ago=50, shown=shown.isoformat())
    send(as_supervisor, site.check("full", "bath"), slow)
    fast = kept(site.supervisor, ago=-50, shown=shown.isoformat())
    send(as_supervisor, site.check("full", "bed"), fast)
    moments = [one.at for one in Outcome.objects.order_by("received_at")]
    assert moments == [shown, clock.now()]


@pytest.mark.parametrize(
    "wrong", [{"at": "yesterday"}, {"now": ""}, {"at": "2026-04-13T07:00"}, {"act": "x"}]
)
def test_what_cannot_be_read_is_refused_with_words(site, as_supervisor, wrong):
    status, answer = send(as_supervisor, site.check("full", "bath"), kept(site.supervisor) | wrong)
    assert (status, answer["answer"]) == (422, "refused")
    assert answer["words"]
    assert not Outcome.objects.exists()


def test_what_somebody_else_found_meanwhile_is_told_and_stays(site, as_supervisor, later):
    check = site.check("full", "bath")
    values = kept(site.supervisor)
    later()
    site.find(check, "not met", note="slumped", by=site.deputy)
    status, answer = send(as_supervisor, check, values)
    assert (status, answer["answer"]) == (409, "found otherwise")
    assert site.deputy.name in answer["words"]
    assert Outcome.objects.get().by == site.deputy


def test_a_released_part_and_a_replaced_check_take_nothing_and_say_why(site, as_supervisor):
    site.release_all("H3")
    check = site.check("pocket-filled")
    status, answer = send(as_supervisor, check, kept(site.supervisor, seen="x"))
    assert (status, answer["answer"]) == (409, "refused")
    assert "Re-open the hold point" in answer["words"]
    replaced = site.check("airway", "bath")
    changing.change_house(site.house, by=site.planner, features={"airway": 40})
    status, answer = send(as_supervisor, replaced, kept(site.supervisor, value="31"))
    assert (status, answer["answer"]) == (409, "check replaced")
    assert answer["address"] == f"{page('walk', replaced.inspection_id)}?room={replaced.place_id}"
    assert not Outcome.objects.filter(check_judged=replaced).exists()


def test_a_kept_photograph_is_evidence_of_its_check_once(site, as_supervisor):
    check = site.check("airway", "bath")
    content = site.picture()
    for _time in range(2):
        photo = SimpleUploadedFile("tape.jpg", content, "image/jpeg")
        status, answer = send(as_supervisor, check, kept(site.supervisor, "photo", photo=photo))
        assert (status, answer["answer"]) == (200, "recorded")
    assert Evidence.objects.get().check_shown == check
    status, answer = send(as_supervisor, check, kept(site.supervisor, "photo"))
    assert (status, "Take it again" in answer["words"]) == (422, True)


def test_a_photograph_from_before_it_was_found_wrong_or_opened_again_proves_nothing(
    site, as_supervisor, later
):
    """It is on the record of the room, and the check still waits for one that shows the work as it is."""
    site.release_all("H3")
    site.pass_checks("H4")
    check, wrong = site.check("pipe-off"), site.check("full", "bath")
    later()
    reopen_bath(site)
    site.find(wrong, "not met", note="slumped", by=site.deputy)
    later()
    for one in (check, wrong):
        values = kept(site.supervisor, "photo", ago=1.5, photo=upload(site))
        status, answer = send(as_supervisor, one, values)
        assert (status, "does not count for that" in answer["words"]) == (200, True)
    late = Evidence.objects.order_by("-pk")[:2]
    assert [(photo.check_shown, photo.place) for photo in late] == [(None, check.place)] * 2
    send(as_supervisor, wrong, kept(site.supervisor, "photo", ago=0.5, photo=upload(site)))
    assert Evidence.objects.latest("pk").check_shown == wrong


def test_found_before_a_re_opening_is_kept_and_does_not_count(site, as_supervisor, later):
    site.release_all("H3")
    site.pass_checks("H4")
    later()
    reopen_bath(site)
    later()
    check = site.check("pipe-off")
    seen = str(check.outcomes.get().pk)
    assert send(as_supervisor, check, kept(site.supervisor, ago=1.5, skew=-24, seen=seen))[0] == 200
    states = {one.check.key: one.state for one in load_point(site.point("H4")).readiness.states}
    assert states["pipe-off"] is State.OPEN
    assert check.outcomes.count() == 2


def test_not_met_that_comes_in_late_is_sent_to_its_crew(site, as_supervisor, later):
    check = site.check("pipe-off")
    later(5)
    send(as_supervisor, check, kept(site.supervisor, "not met", ago=5, note="rests on a chord"))
    assert Nonconformity.objects.get().crew == site.crews["plumber"]


def test_the_list_of_pages_changes_its_mark_where_something_was_found(site, as_supervisor):
    point = site.point("H5").pk

    def marks():
        told = as_supervisor.get(page("along", point)).json()
        return {one["address"]: one["mark"] for one in told["pages"]}

    before = marks()
    bath, bed = site.place("bath").pk, site.place("bed").pk
    for check in site.point("H5").checks.filter(withdrawn_at=None):
        assert page("check", check.pk) in before
    site.find(site.check("full", "bath"))
    changed = {address for address, mark in marks().items() if mark != before[address]}
    assert f"{page('walk', point)}?room={bath}" in changed
    assert page("check", site.check("airway", "bath").pk) in changed
    assert f"{page('walk', point)}?room={bed}" not in changed


def test_a_copy_is_made_for_one_person_and_says_nothing_that_was_said_to_another_page(site, as_supervisor):
    check, following = site.check("full", "bath"), site.check("airway", "bath")
    as_supervisor.post(page("check", check.pk), {"act": "met", "id": str(new_id())})
    copy = as_supervisor.get(page("check", following.pk), headers={"Walks-Copy": "yes"})
    assert copy.headers["Walks-Of"] == str(site.supervisor.pk)
    assert "On the record:" not in copy.content.decode()
    assert "On the record:" in as_supervisor.get(page("check", following.pk)).content.decode()


def test_a_form_sent_by_a_script_is_told_where_it_leads(site, as_supervisor):
    check = site.check("full", "bath")
    values = {"act": "met", "id": str(new_id())}
    answer = as_supervisor.post(page("check", check.pk), values, headers={"Walks-Sent": "yes"})
    assert answer.json() == {"go": as_supervisor.post(page("check", check.pk), values).headers["Location"]}


def test_the_worker_keeps_nothing_stale_and_takes_itself_away_when_it_is_turned_off(client, settings):
    answer = client.get(page("worker"))
    assert (answer.headers["Content-Type"], answer.headers["Cache-Control"]) == (
        "text/javascript; charset=utf-8",
        "no-cache",
    )
    assert page("worker") == "/walks/sw.js"
    assert "respondWith" in answer.content.decode()
    settings.COORDINATION_OFFLINE_WALKS = False
    off = client.get(page("worker")).content.decode()
    assert "unregister" in off
    assert "respondWith" not in off


def test_the_page_of_what_is_kept_is_for_people_of_the_builder(site, client):
    assert client.get(page("kept")).status_code == 302
    client.force_login(site.supervisor)
    assert "Nothing waits here" in client.get(page("kept")).content.decode()
