"""A fault at every statement of an act: what is stored is as before, or as after, never between.

The way of testing is SQLite's own ("anomaly testing": fail the 1st, 2nd, 3rd ... operation until a run ends
without a fault; sqlite.org/testing.html).
"""

import io

import pytest
from django.db import transaction

from coordination.sequence import answers, bookings, changing, holds
from coordination.sequence.models import Activity
from hold_points.evidence import read_photograph
from hold_points.identifiers import new_id
from hold_points.releasing import reopen
from hold_points.walking import confirm_not_here
from tests.crashes.faults import fail_everywhere, failing_at, picture_tables
from tests.hold_points.test_releasing import give_concession
from tests.sequence.builders import say_brought_in

pytestmark = pytest.mark.slow


def prepare_release(site):
    site.pencil("plumb")
    site.pass_checks("H3")
    release_id = new_id()
    return lambda: site.sign("H3", id=release_id)


def prepare_part_release(site):
    site.release_all("H3")
    site.pass_checks("H4")
    release_id = new_id()
    return lambda: site.sign("H4", section="pipes", id=release_id)


def prepare_concession(site):
    site.release_all("H3")
    site.find(site.check("cap-count"), "not met", value=2, photo=True)
    return lambda: give_concession(site)


def prepare_reopening(site):
    plumb = site.pencil("plumb")
    site.release_all("H3")
    plumb.refresh_from_db()
    bookings.make_firm(plumb, site.planner)
    point = site.point("H3")
    places = list(point.checks.filter(place__isnull=False).values_list("place_id", flat=True).distinct())
    return lambda: reopen(point, places[:1], "a cable was added", by=site.supervisor)


def prepare_setting_aside(site):
    Activity.objects.filter(covers__isnull=False).update(actual_start=1, actual_finish=2)
    say_brought_in(site.house)
    hold = site.hold("H3")
    return lambda: holds.set_aside(hold, site.planner, "brought in half way")


def prepare_making_firm(site):
    plumb = site.pencil("plumb")
    site.release_all("H3")
    plumb.refresh_from_db()
    return lambda: bookings.make_firm(plumb, site.planner)


def prepare_change_of_features(site):
    return lambda: changing.change_house(site.house, by=site.planner, features={"airway": 30})


def prepare_outcome(site):
    check, found = site.check("cap-count"), new_id()
    raw = site.picture()

    def act():
        site.find(check, "not met", value=2, id=found, photos=[read_photograph(io.BytesIO(raw))])

    return act


def prepare_whole_release_of_parts(site):
    """The signature of the last part, which lifts the hold."""
    site.pencil("batts")
    site.release_all("H3")
    site.pass_checks("H4")
    site.sign("H4", section="pipes")
    release_id = new_id()
    return lambda: site.sign("H4", section="air seal", id=release_id)


def prepare_reopening_by_a_crew(site):
    """While another crew is under way behind it: a stop message, and the booking stays a fact."""
    site.release_all("H3", "H4")
    site.pencil("batts")
    bookings.make_firm(site.booking("batts"), site.planner)
    answers.report_under_way(site.booking("batts"), crew=site.crews["installer"])
    places = [site.place("bath").pk]
    return lambda: reopen(site.point("H4"), places, "a pipe was moved", crew=site.crews["plumber"])


def prepare_going_past_a_hold(site):
    site.pencil("batts")
    booking = site.booking("batts")
    return lambda: answers.report_under_way(booking, crew=site.crews["installer"])


def prepare_agreeing_not_here(site):
    site.release_all("H3")
    site.find(site.check("pipe-off"), "not met", note="rests on a chord")
    site.find(site.check("pipe-off"), "not on this house", note="drains through the slab")
    check = site.check("pipe-off")
    found = new_id()
    return lambda: confirm_not_here(check, site.planner, outcome_id=found)


ACTS = {
    "release": prepare_release,
    "part release": prepare_part_release,
    "concede": prepare_concession,
    "release of the last part": prepare_whole_release_of_parts,
    "re-open": prepare_reopening,
    "re-open by a crew": prepare_reopening_by_a_crew,
    "go past a hold": prepare_going_past_a_hold,
    "agree that it is not on this house": prepare_agreeing_not_here,
    "set aside": prepare_setting_aside,
    "make firm": prepare_making_firm,
    "change of features": prepare_change_of_features,
    "outcome not met": prepare_outcome,
}


@pytest.mark.parametrize("name", ACTS)
def test_a_fault_at_any_statement_leaves_the_state_before(name, site):
    act = ACTS[name](site)
    failed, troubles = fail_everywhere(act)
    assert troubles == []
    assert failed >= 5


def test_twin_an_act_without_one_transaction_is_caught(site):
    """The same search finds a change that is made in two steps."""
    plumb = site.booking("plumb")

    def act_in_two_steps():
        with transaction.atomic():
            bookings.pencil(plumb, by=site.planner)
        with transaction.atomic():
            bookings.stand_down(plumb, "for this test", site.planner)

    _failed, troubles = fail_everywhere(act_in_two_steps)
    assert len(troubles) == 1
    assert "half done" in troubles[0]


def test_a_picture_tells_any_change(site):
    before = picture_tables()
    with failing_at(0):
        site.pencil("plumb")
    assert picture_tables() != before
