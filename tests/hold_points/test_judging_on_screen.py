"""A check on the tablet: who is offered what, and where a press leads when something is still missing."""

import re

from hold_points.facts import load_point
from hold_points.models import Outcome
from tests.hold_points.test_screens import judge, page, upload


def test_a_planner_is_offered_to_judge_only_what_another_put_right_by_own_hand(site, client):
    check = site.check("pipe-off")
    walk = page("walk", site.point("H4").pk) + f"?room={site.place('bath').pk}"
    client.force_login(site.planner)
    body = client.get(page("check", check.pk)).content.decode()
    assert "Whoever walks the point judges it" in body
    assert 'name="act"' not in body
    assert 'name="act"' not in client.get(walk).content.decode()
    site.find(check, "put right", own_hand=True, photo=True)
    body = client.get(page("check", check.pk)).content.decode()
    acts = re.findall(r'name="act" value="([^"]+)"', body)
    assert acts == ["met", "not met"]
    assert judge(client, check, "met", from_photograph="yes").status_code == 302
    assert Outcome.objects.filter(by=site.planner, kind="met").exists()


def test_who_worked_in_the_crew_finds_none_of_its_work_good_but_may_say_what_is_wrong(site, client):
    client.force_login(site.tradesman)
    check, bath = site.check("pipe-off"), site.place("bath")
    for address in (page("check", check.pk), page("walk", site.point("H4").pk) + f"?room={bath.pk}"):
        assert f"You belong to {site.crews['plumber']}" in client.get(address).content.decode()
    walk = client.get(page("walk", site.point("H4").pk) + f"?room={bath.pk}").content.decode()
    assert 'value="nothing"' not in walk
    assert "before it can be signed" not in walk
    assert 'value="met"' not in client.get(page("check", check.pk)).content.decode()
    for act in ("met", "put right"):
        answer = judge(client, check, act)
        assert (answer.status_code, b"which installed this" in answer.content) == (403, True)
    room = page("room", site.point("H4").pk, bath.pk)
    assert client.post(room, {"act": "nothing", "photo": upload(site)}).status_code == 403
    assert not Outcome.objects.exists()
    site.find(check, "not met", by=site.tradesman, note="I saw it")
    # What another crew installed is judged like by anybody.
    there = page("check", site.check("full", "bed").pk)
    assert 'value="met"' in client.get(there).content.decode()
    site.find(site.check("full", "bed"), by=site.tradesman)


def test_met_without_its_photograph_stays_on_the_check_until_it_is_there(site, as_supervisor):
    site.find(site.check("full", "bath"))
    check = site.check("airway", "bath")
    here = page("check", check.pk)
    answer = judge(as_supervisor, check, "met", value="31")
    assert answer.headers["Location"] == here
    body = as_supervisor.get(here).content.decode()
    assert "Clear airway over the batt, met. Its photograph is still missing: take it now." in body
    assert "Go on with the walk" not in body
    # Whoever leaves it is led back before the room counts as walked.
    site.find(site.check("wet-wall", "bath"))
    assert as_supervisor.get(page("walk", site.point("H5").pk)).headers["Location"] != here, "dry is open"
    site.find(site.check("dry"), value=12)
    for room in ("bed", "garage"):
        site.find(site.check("full", room))
    assert as_supervisor.get(page("walk", site.point("H5").pk)).headers["Location"] == here
    body = as_supervisor.post(here, {"act": "photo", "photo": upload(site)}, follow=True).content.decode()
    assert f'href="{page("walk", site.point("H5").pk)}?room={check.place_id}">Go on with the walk' in body
    assert load_point(site.point("H5")).readiness.ready


def test_a_repair_by_own_hand_stays_one_when_its_photograph_was_missing(site, as_supervisor):
    check = site.check("pipe-off")
    answer = judge(as_supervisor, check, "put right", own_hand="on", note="lifted it")
    assert answer.status_code == 422
    body = answer.content.decode()
    assert '<details class="otherwise" open>' in body
    assert 'name="own_hand" checked' in body
    # The photograph is taken, also where no script sends it by itself; the tick is still there.
    photo = {"photo": upload(site), "own_hand": "on", "note": "lifted it"}
    body = as_supervisor.post(
        page("check", check.pk), {"act": "photo", **photo}, follow=True
    ).content.decode()
    assert '<details class="otherwise" open>' in body
    assert 'name="own_hand" checked' in body
    assert ">lifted it</textarea>" in body
    answer = judge(as_supervisor, check, "met", own_hand="on", note="lifted it")
    assert (answer.status_code, Outcome.objects.count()) == (422, 0)
    assert "take the tick away" in answer.content.decode()
    judge(as_supervisor, check, "put right", own_hand="on", note="lifted it")
    assert Outcome.objects.get().own_hand


def test_not_met_asks_for_number_or_note_before_it_asks_whether_it_is_sure(site, as_supervisor):
    check = site.check("airway", "bath")
    answer = judge(as_supervisor, check, "not met")
    assert (answer.status_code, b"Give the number that you found" in answer.content) == (422, True)
    assert b"send it as rework?" not in answer.content
    answer = judge(as_supervisor, check, "not met", value="31")
    assert b"Say in the note why it is not met" in answer.content
    answer = judge(as_supervisor, check, "not met", value="12")
    assert (answer.status_code, b"send it as rework?" in answer.content) == (200, True)
    done = judge(as_supervisor, check, "not met", value="12", sure="yes")
    said = as_supervisor.get(done.headers["Location"]).content.decode()
    assert "On the record: Clear airway over the batt, not met." in said
