"""What a tablet brings late is kept, shown, and never counts for what was disturbed or found wrong since."""

import datetime as dt

import pytest
from django.urls import reverse

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.refusals import WrongState
from hold_points.facts import load_point
from hold_points.models import Nonconformity, Outcome, RecordEntry
from hold_points.readiness import State
from hold_points.releasing import reopen
from hold_points.walking import confirm_not_here
from tests.hold_points.test_releasing import give_concession

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def later(monday_morning):
    """Lets hours pass."""
    return lambda hours=1: monday_morning.shift(hours * HOUR)


def state_of(site, key):
    return next(one for one in load_point(site.point("H4")).readiness.states if one.check.key == key)


def reopen_bath(site):
    reopen(site.point("H4"), [site.place("bath").pk], "a pipe was moved", by=site.supervisor)


def test_what_was_looked_at_before_a_re_opening_does_not_count_when_it_arrives_after_it(site, later, client):
    site.release_all("H3")
    site.pass_checks("H4")
    later()
    reopen_bath(site)
    later()
    site.find(site.check("pipe-off"), at=clock.now() - 2 * HOUR)
    site.find(site.check("pipe-test"), note="no. 12")
    one = state_of(site, "pipe-off")
    assert one.state is State.OPEN
    assert one.overtaken is not None
    with pytest.raises(WrongState) as refusal:
        site.sign("H4", section="pipes")
    assert [words for words in refusal.value.missing if "look again" in words] == [
        f"Bath: {one.check.text.rstrip('.')}: looked at before it was re-opened; look again"
    ]
    client.force_login(site.supervisor)
    page = client.get(reverse("hold_points:check", args=[one.check.id])).content.decode()
    assert "Looked at on Mon 13 Apr, 7:00, before this was re-opened." in page
    # It is on the record all the same.
    assert Outcome.objects.filter(check_judged=one.check.id).count() == 2
    assert RecordEntry.objects.filter(kind="outcome", text__contains='"key":"pipe-off"').count() == 2
    later()
    site.find(site.check("pipe-off"))
    assert state_of(site, "pipe-off").overtaken is None
    site.sign("H4", section="pipes")


def test_found_good_earlier_does_not_pass_what_was_found_wrong_since(site, later, client):
    """One supervisor finds it not met; another's tablet brings 'met' of an hour before that."""
    site.release_all("H3")
    later()
    site.find(site.check("pipe-off"), "not met", note="rests on a chord", by=site.deputy)
    later()
    site.find(site.check("pipe-off"), at=clock.now() - 2 * HOUR)
    one = state_of(site, "pipe-off")
    assert one.state is State.NOT_MET
    assert Nonconformity.objects.exclude(state="closed").count() == 1
    [words] = [gap.words for gap in load_point(site.point("H4")).readiness.missing if "late" in gap.words]
    assert words.endswith("found good before that, which came in late; look again")
    client.force_login(site.supervisor)
    page = client.get(reverse("hold_points:check", args=[one.check.id])).content.decode()
    assert "Found good on Mon 13 Apr, 7:00, before it was found not met." in page
    later()
    site.find(site.check("pipe-off"))
    assert state_of(site, "pipe-off").state is State.MET
    assert not Nonconformity.objects.exclude(state="closed").exists()


def test_what_is_to_be_put_right_since_a_re_opening_stays_so(site, later):
    site.release_all("H3")
    site.pass_checks("H4")
    later()
    reopen_bath(site)
    later()
    site.find(site.check("pipe-off"), "not met", note="rests on a chord")
    site.find(site.check("pipe-off"), by=site.deputy, at=clock.now() - 2 * HOUR)
    assert state_of(site, "pipe-off").state is State.NOT_MET
    assert Nonconformity.objects.get().state == "raised"


def test_not_met_counts_however_late_it_comes(site, later):
    site.release_all("H3")
    later()
    site.find(site.check("pipe-off"))
    site.find(site.check("pipe-off"), "not met", note="rests on a chord", at=clock.now() - HOUR)
    assert state_of(site, "pipe-off").state is State.NOT_MET


def test_the_hand_that_put_it_right_is_known_however_late_that_came_in(site, later):
    """Nor does another's late 'met' clear it: a second person looks."""
    site.release_all("H3")
    later(2)
    site.find(site.check("pipe-off"), "not met", note="rests on a chord", by=site.deputy)
    early = clock.now() - HOUR
    site.find(site.check("pipe-off"), "put right", own_hand=True, photo=True, at=early)
    site.find(site.check("pipe-off"), by=site.assessor, at=early)
    assert state_of(site, "pipe-off").hands == {site.supervisor.pk}
    later()
    with pytest.raises(WrongState, match="second person"):
        site.find(site.check("pipe-off"))
    site.find(site.check("pipe-off"), by=site.deputy)
    assert state_of(site, "pipe-off").passes


def test_a_release_names_the_outcome_that_counts_not_the_one_that_came_in_last(site, later):
    site.release_all("H3")
    site.pass_checks("H4")
    later()
    reopen_bath(site)
    later()
    site.find(site.check("pipe-test"), note="no. 12")
    counts = site.find(site.check("pipe-off"), note="from below")
    site.find(site.check("pipe-off"), note="seen on the way in", at=clock.now() - 2 * HOUR)
    site.sign("H4", section="pipes")
    text = RecordEntry.objects.get(kind="part release").text
    assert str(counts.pk) in text
    assert str(Outcome.objects.get(note="seen on the way in").pk) not in text


def test_not_on_this_house_closes_nothing_until_the_planner_agrees(site, later):
    """What was found wrong stays with the crew, and the planner is asked."""
    site.release_all("H3")
    site.find(site.check("pipe-off"), "not met", note="rests on a chord")
    later()
    asked = site.find(site.check("pipe-off"), "not on this house", note="drains through the slab")
    assert state_of(site, "pipe-off").state is State.NOT_HERE_ASKED
    assert Nonconformity.objects.get().state == "raised"
    [message] = Message.objects.filter(about=f"check:{asked.check_judged_id}")
    assert message.person == site.planner
    later()
    confirm_not_here(site.check("pipe-off"), site.planner)
    assert state_of(site, "pipe-off").state is State.NOT_HERE
    assert Nonconformity.objects.get().state == "closed"


def test_a_concession_does_not_pass_a_disturbed_room_that_nobody_has_seen_since(site, later):
    site.release_all("H3")
    site.find(site.check("pipe-off"), "not met", note="rests on a chord")
    later()
    reopen_bath(site)
    later()
    give_concession(site)
    assert state_of(site, "pipe-off").state is State.OPEN
    later()
    site.find(site.check("pipe-off"), "not seen", note="covered")
    assert state_of(site, "pipe-off").state is State.NOT_SEEN


def test_what_is_open_already_is_not_opened_again(site, later):
    site.release_all("H3")
    site.find(site.check("pipe-off"))
    later()
    reopen_bath(site)
    later()
    # The same once more is a press that was repeated; another reason is another act.
    reopen_bath(site)
    assert site.point("H4").reopenings.count() == 1
    with pytest.raises(WrongState, match="it is open already"):
        reopen(site.point("H4"), [site.place("bath").pk], "another pipe moved", by=site.supervisor)
