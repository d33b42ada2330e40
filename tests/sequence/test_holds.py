"""Holds: placed, before which visit, lifted by a release only, closed again with one message per crew."""

import uuid

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, guard, holds
from coordination.sequence.models import Activity, Booking, Change, Hold, HoldBefore, Relationship, ToldDate
from tests.sequence.builders import (
    START,
    book,
    make_person,
    record_reopening,
    say_rewriting,
    sign_release,
)

State = Booking.State


def lift(small):
    return holds.lift(small.hold, sign_release(small))


def to_crew(small, name, **extra):
    return Message.objects.filter(
        recipient=f"crew:{small.crews[name].pk}", superseded_at__isnull=True, **extra
    )


# ---------------------------------------------------------------- which holds are before what


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=30))
@settings(max_examples=200)
def test_the_closure_is_what_networkx_calls_descendants(pairs):
    """Checked against networkx.descendants, a general-purpose library."""
    edges = [(a, b) for a, b in pairs if a < b]
    graph = nx.DiGraph()
    graph.add_nodes_from(range(10))
    graph.add_edges_from(edges)
    visits = {activity: 100 + activity for activity in range(10)}
    expected = {(point, 100 + one) for point in (0, 3) for one in nx.descendants(graph, point)}
    assert holds.find_closure([0, 3], edges, visits) == expected


def test_a_hold_is_before_a_visit_at_any_distance(small):
    far = Activity.objects.create(
        house=small.house, visit=small.visits["frame"], key="far", name="Far", order=20, half_days=1
    )
    Relationship.objects.create(
        house=small.house, predecessor=small.activities["linings"], successor=far, kind="SS", lag=0
    )
    holds.rebuild_hold_before(small.house)
    assert list(holds.holds_before(small.visits["frame"])) == [small.hold]
    assert list(holds.open_holds_before(small.visits["wiring"])) == []
    assert holds.recount(small.house) == []


@pytest.mark.parametrize(("kind", "lag"), [("FF", 0), ("SF", 0), ("FS", -1)])
def test_other_relationships_carry_no_hold(small, kind, lag):
    """Finish-finish and start-finish say nothing about a start, and an overlap may start before."""
    Relationship.objects.create(
        house=small.house,
        predecessor=small.activities["linings"],
        successor=small.activities["frame"],
        kind=kind,
        lag=lag,
    )
    holds.rebuild_hold_before(small.house)
    assert list(holds.holds_before(small.visits["frame"])) == []


def test_a_negative_lag_out_of_a_hold_is_refused_by_name(small):
    say_rewriting(small.house)
    Relationship.objects.filter(successor=small.activities["linings"]).update(lag=-1)
    with pytest.raises(BadInput, match="H5 to linings"):
        holds.rebuild_hold_before(small.house)


def test_rebuilding_removes_what_is_no_longer_before(small):
    say_rewriting(small.house)
    Relationship.objects.filter(successor=small.activities["board"]).delete()
    assert holds.recount(small.house) == [
        f"{small.house}: Insulation is stored before board and is not before it"
    ]
    holds.rebuild_hold_before(small.house)
    assert set(HoldBefore.objects.values_list("visit__key", flat=True)) == {"linings"}


def test_the_recount_names_a_point_without_hold_and_a_closure_gone_stale(small):
    HoldBefore.objects.filter(visit=small.visits["board"]).delete()
    Activity.objects.create(
        house=small.house,
        key="H6",
        name="Wet areas",
        order=30,
        half_days=1,
        is_point=True,
        point_kind=Activity.PointKind.HOLD_FROM_PHOTOGRAPHS,
    )
    assert holds.recount() == [
        f"{small.house}: H6 has no hold",
        f"{small.house}: Insulation is before board and is not stored",
    ]
    assert [hold.point.key for hold in holds.place_holds(small.house)] == ["H6"]
    assert holds.place_holds(small.house) == []


# ---------------------------------------------------------------- lift


def test_a_hold_is_lifted_by_a_release_of_its_point(small):
    release = sign_release(small)
    lifted = holds.lift(small.hold, release)
    assert (lifted.lifted_by, lifted.is_open) == (release, False)
    assert Change.objects.get(what="hold lifted").facts == {"release": str(release)}


def test_no_hold_is_lifted_without_a_release_in_the_record(small):
    with pytest.raises(WrongState, match="release of its point"):
        holds.lift(small.hold, uuid.uuid4())
    small.hold.refresh_from_db()
    assert small.hold.is_open
    assert not Change.objects.filter(what="hold lifted").exists()


@pytest.mark.parametrize("seconds", [60, 0, -60])
def test_a_release_from_before_the_re_opening_lifts_nothing_whatever_the_clock_says(
    small, monday_morning, seconds
):
    from hold_points.models import Inspection

    old = sign_release(small)
    holds.lift(small.hold, old)
    monday_morning.shift(seconds)
    record_reopening(Inspection.objects.get(), small.supervisor)
    holds.close_again(small.hold, reason="batt pulled", by=small.supervisor)
    with pytest.raises(WrongState, match="release of its point"):
        holds.lift(small.hold, old)
    monday_morning.shift(60)
    assert not holds.lift(small.hold, sign_release(small)).is_open


def test_a_hold_is_lifted_once(small):
    lift(small)
    with pytest.raises(WrongState, match="released already"):
        lift(small)


# ---------------------------------------------------------------- close again (rule 2)


def test_re_opening_takes_firm_bookings_back_and_tells_each_crew_once(small):
    lift(small)
    linings, board = book(small, "linings", State.FIRM), book(small, "board", State.FIRM)
    fallen = holds.close_again(
        small.hold, reason="cable added in Bed 2", place_names=["Bed 2"], by=small.supervisor
    )
    assert {one.pk for one in fallen} == {linings.pk, board.pk}
    for booking, name in ((linings, "linings"), (board, "board")):
        booking.refresh_from_db()
        assert booking.state == State.PENCILLED
        assert booking.fell_back_at is not None
        assert booking.told_start == START + 14, "the day is kept"
        [message] = to_crew(small, name)
        assert (message.kind, message.urgent, message.needs_answer) == ("change", True, True)
        assert (message.about, message.version) == (f"booking:{booking.pk}", str(booking.sequence))
        assert "Saltbush Homes, Lot 7" in message.body[:60]
        assert len(message.body) <= 300
        assert ToldDate.objects.get(booking=booking).state == "pencilled"
    small.hold.refresh_from_db()
    assert small.hold.is_open


def test_a_crew_with_two_visits_behind_the_hold_gets_one_message(small):
    lift(small)
    linings = book(small, "linings", State.FIRM)
    board = book(small, "board", State.FIRM, crew=small.crews["linings"])
    holds.close_again(small.hold, reason="cable added")
    [message] = to_crew(small, "linings")
    assert set(message.facts["bookings"]) == {str(linings.pk), str(board.pk)}


def test_a_crew_under_way_gets_a_stop_for_the_rooms_and_stays_under_way(small):
    lift(small)
    booking = book(small, "linings", State.UNDER_WAY)
    fallen = holds.close_again(small.hold, reason="pipe leaks", place_names=["Bed 1", "Bed 2"])
    booking.refresh_from_db()
    assert (fallen, booking.state) == ([], State.UNDER_WAY)
    [message] = to_crew(small, "linings")
    assert (message.kind, message.urgent, message.needs_answer) == ("stop", True, True)
    assert message.facts["rooms"] == ["Bed 1", "Bed 2"]
    assert "Stop in Bed 1, Bed 2." in message.body


def test_planner_and_supervisor_are_told_and_nobody_else(small):
    other = make_person(small.builder, Role.Kind.SUPERVISOR, "Other")
    assessor = make_person(small.builder, Role.Kind.ASSESSOR, "Assessor")
    lift(small)
    book(small, "linings", State.UNDER_WAY)
    holds.close_again(small.hold, reason="pipe leaks")
    told = set(Message.objects.filter(kind="notice").values_list("person", flat=True))
    assert told == {small.planner.pk, small.supervisor.pk}
    assert not told & {other.pk, assessor.pk}


def test_a_deputy_is_told_with_the_supervisor(small):
    deputy = make_person(small.builder, Role.Kind.SUPERVISOR, "Deputy")
    Role.objects.filter(person=deputy).update(deputy_for=Role.objects.get(person=small.supervisor))
    lift(small)
    holds.close_again(small.hold, reason="pipe leaks")
    assert Message.objects.filter(kind="notice", person=deputy).count() == 1


def test_closing_again_before_the_stop_was_sent_names_all_rooms_in_one_message(small):
    lift(small)
    book(small, "linings", State.UNDER_WAY)
    holds.close_again(small.hold, reason="pipe leaks", place_names=["Bed 1"])
    holds.close_again(small.hold, reason="batt pulled", place_names=["Bed 2"])
    [message] = to_crew(small, "linings")
    assert message.facts["rooms"] == ["Bed 1", "Bed 2"]
    assert Message.objects.filter(kind="stop").count() == 2, "the first is kept, as superseded"


def test_closing_again_after_the_stop_was_sent_stops_again(small):
    lift(small)
    book(small, "linings", State.UNDER_WAY)
    holds.close_again(small.hold, reason="pipe leaks", place_names=["Bed 1"])
    Message.objects.filter(kind="stop").update(sent_at=clock.now())
    holds.close_again(small.hold, reason="batt pulled", place_names=["Bed 2"])
    assert [one.facts["rooms"] for one in to_crew(small, "linings").order_by("pk")] == [["Bed 1"], ["Bed 2"]]


def test_re_opened_and_released_again_before_it_was_sent_is_never_heard_of(small, answering_port):
    lift(small)
    booking = book(small, "linings")
    bookings.make_firm(booking)
    Message.objects.filter(kind="change").update(sent_at=clock.now())
    holds.close_again(small.hold, reason="cable added")
    lift(small)
    booking.refresh_from_db()
    bookings.make_firm(booking)
    assert to_crew(small, "linings", sent_at__isnull=True).count() == 0


def test_re_opened_sent_and_released_again_tells_that_it_is_firm(small, answering_port):
    lift(small)
    booking = book(small, "linings")
    bookings.make_firm(booking)
    holds.close_again(small.hold, reason="cable added")
    Message.objects.filter(kind="change").update(sent_at=clock.now())
    lift(small)
    bookings.make_firm(booking)
    [message] = to_crew(small, "linings", sent_at__isnull=True)
    assert message.facts["state"] == "firm"


def test_a_message_for_two_visits_is_put_again_for_the_one_that_still_needs_it(small, answering_port):
    lift(small)
    linings = book(small, "linings")
    board = book(small, "board", crew=small.crews["linings"])
    for booking in (linings, board):
        bookings.make_firm(booking)
    Message.objects.filter(kind="change").update(sent_at=clock.now())
    holds.close_again(small.hold, reason="cable added")
    lift(small)
    bookings.make_firm(linings)
    [message] = to_crew(small, "linings", sent_at__isnull=True)
    assert set(message.facts["bookings"]) == {str(board.pk)}


@pytest.mark.parametrize("sent", [False, True])
def test_a_stop_ends_with_the_next_release(small, sent):
    """Unsent it is taken back; sent it is followed by one 'go on'."""
    lift(small)
    book(small, "linings", State.UNDER_WAY)
    holds.close_again(small.hold, reason="pipe leaks", place_names=["Bed 1"])
    if sent:
        Message.objects.filter(kind="stop").update(sent_at=clock.now())
    lift(small)
    waiting = list(to_crew(small, "linings", sent_at__isnull=True))
    assert len(waiting) == (1 if sent else 0)
    if sent:
        assert "Go on in Bed 1" in waiting[0].body


def test_go_on_names_the_rooms_of_every_stop_that_was_sent_since_the_last_release(small):
    lift(small)
    book(small, "linings", State.UNDER_WAY)
    for room in ("Bed 1", "Bed 2", "Bath"):
        holds.close_again(small.hold, reason=f"batt pulled in {room}", place_names=[room])
        if room != "Bath":
            Message.objects.filter(kind="stop").update(sent_at=clock.now())
    lift(small)
    [message] = to_crew(small, "linings", sent_at__isnull=True)
    assert "Go on in Bed 1, Bed 2." in message.body, "it never heard of the bath"


@pytest.mark.parametrize("state", [State.ASKED, State.PENCILLED, State.FIRM])
def test_a_crew_whose_work_is_reported_as_begun_is_stopped_whatever_its_booking_says(small, state):
    lift(small)
    booking = book(small, "linings", state)
    small.visits["linings"].activities.update(actual_start=START)
    holds.close_again(small.hold, reason="pipe leaks", place_names=["Bed 1"])
    [message] = to_crew(small, "linings")
    assert (message.kind, message.facts["rooms"]) == ("stop", ["Bed 1"])
    booking.refresh_from_db()
    assert booking.state != State.FIRM
    assert ("no longer firm" in message.body) is (state == State.FIRM)
    small.visits["linings"].activities.update(actual_finish=START + 2)
    assert holds.at_work_behind(small.hold) == []


def test_a_stale_closure_does_not_stand_in_the_way_of_closing(small):
    lift(small)
    HoldBefore.objects.all().delete()
    booking = book(small, "linings", State.FIRM)
    assert [one.pk for one in holds.close_again(small.hold, reason="cable added")] == [booking.pk]
    assert holds.recount(small.house) == []


def test_closing_needs_a_reason(small):
    with pytest.raises(BadInput, match="reason"):
        holds.close_again(small.hold, reason="  ")


def test_pencilled_crews_are_not_told_of_a_re_opening(small):
    lift(small)
    book(small, "linings", State.PENCILLED)
    holds.close_again(small.hold, reason="cable added")
    assert to_crew(small, "linings").count() == 0


def test_a_failure_in_the_middle_leaves_everything_as_it_was(small, monkeypatch):
    lift(small)
    booking = book(small, "linings", State.FIRM)

    def fail(*args, **kwargs):
        raise RuntimeError("the power went")

    monkeypatch.setattr("coordination.sequence.telling.tell_office", fail)
    with pytest.raises(RuntimeError):
        holds.close_again(small.hold, reason="cable added")
    booking.refresh_from_db()
    small.hold.refresh_from_db()
    assert (booking.state, small.hold.is_open) == (State.FIRM, False)
    assert Message.objects.count() == 0


# ---------------------------------------------------------------- the network changes


def test_a_new_relationship_takes_a_firm_booking_behind_it_back_first(small):
    booking = book(small, "frame", State.FIRM)
    edge = (small.activities["H5"], small.activities["frame"])
    with pytest.raises(WrongState, match="hold point"), guard.speaking():
        Relationship.objects.create(house=small.house, predecessor=edge[0], successor=edge[1], kind="FS")
    fallen = holds.prepare_relationships(small.house, [(edge[0].pk, edge[1].pk)], "frame comes later")
    assert [one.pk for one in fallen] == [booking.pk]
    Relationship.objects.create(house=small.house, predecessor=edge[0], successor=edge[1], kind="FS")
    assert holds.rebuild_hold_before(small.house) == []
    assert to_crew(small, "frame").count() == 1


def test_closing_again_costs_few_queries(small, django_assert_max_num_queries):
    lift(small)
    book(small, "linings", State.FIRM)
    with django_assert_max_num_queries(60):
        holds.close_again(small.hold, reason="cable added")


def test_a_hold_of_another_house_stays_as_it_is(small):
    from tests.sequence.builders import small_house

    other = small_house(small.builder, "lot-8")
    lift(small)
    lift(other)
    book(small, "linings", State.FIRM)
    there = book(other, "linings", State.FIRM)
    holds.close_again(small.hold, reason="cable added")
    there.refresh_from_db()
    assert there.state == State.FIRM
    assert Hold.objects.get(pk=other.hold.pk).is_open is False


def test_work_that_covers_stays_behind_its_point_when_the_path_is_cut(small):
    say_rewriting(small.house)
    Relationship.objects.filter(predecessor=small.activities["H5"]).delete()
    holds.rebuild_hold_before(small.house)
    assert list(holds.open_holds_before(small.visits["linings"])) == [small.hold]
    assert list(holds.open_holds_before(small.visits["board"])) == []
