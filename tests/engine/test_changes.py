"""The difference of two plans: what moved, by how much, whose it is, and the one change that drove it."""

import dataclasses

import pytest

from coordination.engine import (
    Activity,
    Crew,
    Network,
    Relationship,
    WorkingCalendar,
    compare_plans,
    compute_dates,
)
from tests.engine.networks import MONDAY, single_storey

FIVE = {"site": WorkingCalendar()}


def changed(network, name, **facts):
    return dataclasses.replace(
        network,
        activities=tuple(dataclasses.replace(a, **facts) if a.id == name else a for a in network.activities),
    )


def compare(old, new, data_date=MONDAY, later=None):
    return compare_plans(
        compute_dates(old, data_date=data_date), compute_dates(new, data_date=later or data_date)
    )


def causes(difference):
    return {m.activity_id: (m.cause.kind, m.cause.activity_id) for m in difference.moves if m.cause}


HOUSE = Network(
    (
        Activity("brick", 16, "site", house="14 Example Street", crew={"layers": 1}),
        Activity("eaves", 3, "site", house="14 Example Street", crew={"carpenters": 1}),
        Activity("roof", 6, "site", house="14 Example Street"),
        Activity("plumb", 6, "site", house="14 Example Street"),
        Activity("lock-up", 1, "site", house="14 Example Street"),
    ),
    (
        Relationship("brick", "eaves"),
        Relationship("roof", "plumb"),
        Relationship("eaves", "lock-up"),
        Relationship("plumb", "lock-up"),
    ),
    FIVE,
    crews=(Crew("layers", 1), Crew("carpenters", 1)),
)


def test_the_same_plan_has_no_difference():
    difference = compare(HOUSE, HOUSE)
    assert (difference.moves, difference.added, difference.removed, difference.houses) == ((), (), (), {})


def test_a_longer_activity_is_the_cause_of_all_that_moves_behind_it():
    difference = compare(HOUSE, changed(HOUSE, "brick", duration=18))
    moves = {m.activity_id: (m.start_moved, m.finish_moved, m.half_days) for m in difference.moves}
    # From Wednesday's end to Thursday's; then Thursday morning to Friday morning and on over the weekend.
    assert moves == {"brick": (0, 2, 2), "eaves": (2, 6, 2), "lock-up": (6, 6, 2)}
    assert set(causes(difference).values()) == {("duration", "brick")}
    assert [m.crews for m in difference.moves] == [("layers",), ("carpenters",), ()]
    assert difference.moves[1].house == "14 Example Street"
    assert difference.houses == {"14 Example Street": 6}


def test_crews_whose_visits_move_are_to_be_told_once_for_each_visit():
    network = dataclasses.replace(
        changed(changed(HOUSE, "eaves", visit="linings and eaves"), "roof", crew={"carpenters": 1}),
        confirmed=frozenset({"linings and eaves"}),
    )
    difference = compare(network, changed(network, "brick", duration=18))
    assert [(v.crew, v.visit, v.activities, v.confirmed) for v in difference.tell] == [
        ("layers", None, ("brick",), False),
        ("carpenters", "linings and eaves", ("eaves",), True),
    ]
    brick, eaves = difference.tell
    assert (brick.start_before, brick.start) == (MONDAY, MONDAY)
    assert (brick.finish_before, brick.finish) == (MONDAY + 20, MONDAY + 22)
    assert eaves.house == "14 Example Street"
    assert (eaves.start_before, eaves.start) == (MONDAY + 20, MONDAY + 22)


def test_a_slip_within_the_float_moves_only_itself():
    difference = compare(HOUSE, changed(HOUSE, "plumb", duration=8))
    assert [m.activity_id for m in difference.moves] == ["plumb"]
    assert difference.houses == {}


def test_of_several_changes_on_the_chain_the_largest_is_named():
    both = changed(changed(HOUSE, "brick", duration=18), "eaves", duration=9)
    assert causes(compare(HOUSE, both))["lock-up"] == ("duration", "eaves")
    assert causes(compare(HOUSE, both))["brick"] == ("duration", "brick")


def test_the_largest_is_named_wherever_it_lies_on_the_chain():
    both = changed(changed(HOUSE, "brick", duration=22), "eaves", duration=4)
    assert causes(compare(HOUSE, both))["lock-up"] == ("duration", "brick")


def test_a_change_against_the_direction_of_the_move_is_no_cause():
    chain = Network(
        (Activity("a", 4), Activity("b", 5), Activity("c", 1)),
        (Relationship("a", "b"), Relationship("b", "c")),
    )
    mixed = changed(changed(changed(chain, "a", duration=6), "b", duration=2), "c", duration=3)
    moves = {m.activity_id: (m.finish_moved, m.cause.activity_id) for m in compare(chain, mixed).moves}
    assert moves == {"a": (2, "a"), "b": (-1, "b"), "c": (1, "a")}


def test_a_change_that_is_hidden_by_another_is_not_named():
    both = changed(changed(HOUSE, "brick", duration=18), "plumb", duration=7)
    assert causes(compare(HOUSE, both))["lock-up"] == ("duration", "brick")


@pytest.mark.parametrize(
    ("facts", "kind"),
    [
        ({"not_before": MONDAY + 4}, "not_before"),
        ({"actual_start": MONDAY, "remaining": 20}, "progress"),
        ({"calendar": "short"}, "calendar"),
    ],
)
def test_other_changes_of_an_activity_are_named(facts, kind):
    old = dataclasses.replace(HOUSE, calendars={**FIVE, "short": WorkingCalendar((2, 2, 2, 0, 0, 0, 0))})
    difference = compare(old, changed(old, "brick", **facts))
    assert causes(difference)["lock-up"] == (kind, "brick")


def test_a_day_taken_out_of_a_calendar_is_named():
    shut = dataclasses.replace(HOUSE, calendars={"site": WorkingCalendar(off={MONDAY + 2, MONDAY + 3})})
    assert causes(compare(HOUSE, shut))["brick"] == ("calendar", "brick")


def test_an_added_relationship_is_named_when_work_moves_later_and_the_same_when_it_goes():
    link = Relationship("brick", "plumb", "FS", 2)
    held = dataclasses.replace(HOUSE, relationships=(*HOUSE.relationships, link))
    difference = compare(HOUSE, held)
    assert causes(difference) == {"plumb": ("relationship", "plumb"), "lock-up": ("relationship", "plumb")}
    assert difference.moves[0].cause.relationship == link
    back = compare(held, HOUSE)
    assert causes(back) == causes(difference)
    assert all(m.finish_moved < 0 for m in back.moves)


def test_a_shorter_activity_is_named_when_work_moves_earlier():
    difference = compare(HOUSE, changed(HOUSE, "brick", duration=13))
    assert causes(difference)["lock-up"] == ("duration", "brick")
    assert all(m.half_days == -3 for m in difference.moves)


def test_a_later_data_date_is_named_when_nothing_else_changed():
    difference = compare(HOUSE, HOUSE, later=MONDAY + 2)
    assert {m.cause.kind for m in difference.moves} == {"data_date"}


def test_what_the_later_data_date_brings_is_not_counted_to_a_change():
    chain = Network((Activity("a", 4), Activity("b", 5)), (Relationship("a", "b"),))
    both = changed(changed(chain, "a", duration=5), "b", duration=7)
    difference = compare(chain, both, later=MONDAY + 6)
    assert [(m.finish_moved, m.cause.activity_id, m.cause.half_days) for m in difference.moves] == [
        (7, "a", 1),
        (9, "b", 2),
    ]


def test_a_chain_over_a_start_is_not_moved_by_the_length_of_the_work():
    chain = Network((Activity("a", 4), Activity("b", 5)), (Relationship("a", "b", "SS", 1),))
    difference = compare(chain, changed(chain, "a", duration=9, not_before=MONDAY + 1))
    cause = next(m.cause for m in difference.moves if m.activity_id == "b")
    assert (cause.kind, cause.activity_id, cause.half_days) == ("not_before", "a", 1)


def test_added_and_removed_activities_are_listed_and_named():
    clean = Activity("clean", 4, "site", house="14 Example Street")
    more = dataclasses.replace(
        HOUSE,
        activities=(*HOUSE.activities, clean),
        relationships=(
            *HOUSE.relationships,
            Relationship("brick", "clean"),
            Relationship("clean", "lock-up"),
        ),
    )
    difference = compare(HOUSE, more)
    assert (difference.added, difference.removed) == (("clean",), ())
    assert causes(difference) == {"lock-up": ("added", "clean")}
    back = compare(more, HOUSE)
    assert (back.added, back.removed) == ((), ("clean",))
    assert causes(back) == {"lock-up": ("removed", "clean")}


def test_in_the_default_house_brick_and_not_the_caps_moves_the_linings():
    difference = compare(single_storey(), single_storey(longer={"brick": 6, "caps": 6}))
    found = causes(difference)
    assert found["linings"] == ("duration", "brick")
    assert found["H4"] == ("duration", "caps")
    linings = next(m for m in difference.moves if m.activity_id == "linings")
    assert linings.half_days == 6
