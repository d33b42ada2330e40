"""Access windows of concealed details, and the faults of a sequence that would bury one unseen."""

import pytest

from coordination.engine import (
    Activity,
    Detail,
    LongestGap,
    Network,
    Refused,
    Relationship,
    WorkingCalendar,
    compute_dates,
    find_detail_faults,
    refuse_detail_faults,
)
from coordination.engine.plan import GapWarning, LateWarning
from tests.engine.networks import MONDAY

FIVE = {"site": WorkingCalendar()}
FRIDAY_END = MONDAY + 10
CAPS = Detail("caps", ("seal",), ("batts", "board"), point="walk")
LINKS = (
    Relationship("wire", "seal", lag=1),
    Relationship("seal", "walk"),
    Relationship("walk", "batts", lag=2),
    Relationship("walk", "board", lag=9),
)


def network_of(links=LINKS, details=(CAPS,), walk_length=1, **facts):
    lengths = {"wire": 4, "seal": 2, "walk": walk_length, "batts": 2, "board": 3}
    return Network(
        tuple(Activity(name, n, "site", **facts.get(name, {})) for name, n in lengths.items()),
        links,
        FIVE,
        details,
    )


def window(network, data_date=MONDAY, name="caps"):
    return compute_dates(network, data_date=data_date).details[name]


def test_a_window_opens_with_the_work_before_and_is_due_at_the_walk():
    seen = window(network_of())
    assert (seen.opens, seen.due, seen.buried) == (MONDAY + 5, MONDAY + 7, FRIDAY_END + 4)
    assert (seen.slack_due, seen.slack_buried) == (0, 3)
    assert not seen.inverted


def test_a_detail_that_waits_for_nothing_opens_at_the_data_date():
    assert window(network_of(LINKS[1:])).opens == MONDAY


def test_only_finish_to_start_predecessors_outside_the_installers_open_it():
    two = Detail("caps", ("wire", "seal"), ("board",), point="walk")
    links = (*LINKS, Relationship("board", "late"), Relationship("late", "never", "SS"))
    network = Network(
        (*network_of().activities, Activity("late", 1, "site"), Activity("never", 1, "site")),
        links,
        FIVE,
        (two,),
    )
    assert window(network).opens == MONDAY


def test_without_a_point_it_is_due_when_it_is_buried():
    seen = window(network_of(details=(Detail("caps", ("seal",), ("batts",)),)))
    assert seen.due == seen.buried == seen.put_right_until == FRIDAY_END + 4


def test_a_coverer_alongside_buries_when_it_finishes():
    beside = Detail("caps", ("seal",), ("batts",), "walk", frozenset({"batts"}))
    assert window(network_of(details=(beside,))).buried == FRIDAY_END + 6


def test_put_right_until_stops_everything_behind_the_point_not_only_the_coverer():
    assert window(network_of()).put_right_until == MONDAY + 7
    # The batts late: the board is still kept by its lag of 9.
    late_batts = {"batts": {"not_before": MONDAY + 16}}
    assert window(network_of(**late_batts)).put_right_until == MONDAY + 7
    late_batts["board"] = {"not_before": MONDAY + 30}
    assert window(network_of(**late_batts)).put_right_until == MONDAY + 9
    other = (*LINKS, Relationship("walk", "paint"))
    network = Network(
        (*network_of(**late_batts).activities, Activity("paint", 1, "site")), other, FIVE, (CAPS,)
    )
    assert window(network).put_right_until == MONDAY + 7


def test_put_right_until_is_never_before_it_opens():
    begun = {"batts": {"actual_start": MONDAY}}
    seen = window(network_of(**begun), MONDAY + 1)
    assert seen.put_right_until == seen.opens


def test_a_point_without_successor_can_be_put_right_until_buried():
    links = (*LINKS[:2], Relationship("seal", "batts", lag=4), Relationship("seal", "board", lag=4))
    seen = window(network_of(links, walk_length=0))
    assert (seen.due, seen.buried, seen.put_right_until) == (MONDAY + 7, FRIDAY_END + 5, FRIDAY_END + 5)


def test_slack_is_counted_in_the_last_installers_calendar():
    short = {"site": WorkingCalendar(), "rare": WorkingCalendar((2, 2, 2, 0, 0, 0, 0))}
    activities = (Activity("seal", 2, "rare"), Activity("batts", 2, "site", not_before=MONDAY + 8))
    network = Network(
        activities, (Relationship("seal", "batts"),), short, (Detail("caps", ("seal",), ("batts",)),)
    )
    assert window(network).slack_buried == 4


@pytest.mark.parametrize("begun", ["batts", "board"])
def test_work_recorded_out_of_order_is_marked_inverted_not_refused(begun):
    network = network_of(**{begun: {"actual_start": MONDAY}})
    assert window(network, MONDAY + 1).inverted


def test_a_walk_recorded_before_the_installing_is_marked_inverted():
    walked = {"walk": {"actual_start": MONDAY, "actual_finish": MONDAY + 1}}
    assert window(network_of(**walked), MONDAY + 1).inverted


def test_a_coverer_begun_during_the_walk_is_marked_inverted():
    walk_ends = MONDAY + 8
    walked = {
        "seal": {"actual_start": MONDAY, "actual_finish": MONDAY + 2},
        "walk": {"actual_start": MONDAY + 6},
    }
    for begun, inverted in ((walk_ends - 1, True), (walk_ends, False)):
        walked["walk"]["actual_finish"] = walk_ends
        walked["batts"] = {"actual_start": begun}
        assert window(network_of(**walked), walk_ends).inverted is inverted


def faults(network):
    return [(f.kind, f.first, f.second) for f in find_detail_faults(network)]


def test_a_protected_detail_has_no_fault():
    assert faults(network_of()) == []
    refuse_detail_faults(network_of())


def test_a_coverer_that_does_not_follow_the_installer_is_refused():
    network = network_of(LINKS[:3])
    assert faults(network) == [("coverer", "seal", "board"), ("hold", "walk", "board")]
    with pytest.raises(Refused, match="'caps': the coverer 'board' does not follow the installer 'seal'"):
        refuse_detail_faults(network)


def test_a_holding_point_beside_the_way_to_the_coverer_is_refused():
    links = (*LINKS[:3], Relationship("seal", "board"))
    assert faults(network_of(links)) == [("hold", "walk", "board")]


def test_a_point_that_does_not_follow_every_installer_is_refused():
    two = Detail("caps", ("seal", "wire"), ("batts",), point="walk")
    assert faults(network_of(LINKS[1:], (two,))) == [("coverer", "wire", "batts"), ("point", "wire", "walk")]


def test_a_point_without_successor_holds_nobody():
    links = (*LINKS[:2], Relationship("seal", "batts"), Relationship("seal", "board"))
    assert faults(network_of(links, walk_length=0)) == []


def test_a_path_over_starts_does_not_protect():
    """SS from the installer leaves from its start: the coverer may begin before the installer ends."""
    links = (*LINKS[:3], Relationship("seal", "board", "SS"), Relationship("walk", "board", "FF"))
    assert ("coverer", "seal", "board") in faults(network_of(links))


def test_a_negative_lag_does_not_protect_and_out_of_a_hold_it_is_refused():
    links = (*LINKS[:3], Relationship("walk", "board", lag=-1))
    assert faults(network_of(links)) == [
        ("coverer", "seal", "board"),
        ("hold", "walk", "board"),
        ("lag", "walk", "board"),
    ]


def test_a_coverer_alongside_need_only_finish_after():
    beside = Detail("caps", ("seal",), ("batts",), None, frozenset({"batts"}))
    finish = (Relationship("seal", "batts", "FF"),)
    assert faults(network_of(finish, (beside,))) == []
    assert faults(network_of(finish, (Detail("caps", ("seal",), ("batts",)),))) == [
        ("coverer", "seal", "batts")
    ]


@pytest.mark.parametrize(("longest", "warned"), [(2, True), (3, False), (4, False)])
def test_a_longest_gap_is_a_warning_with_both_dates(longest, warned):
    network = network_of()
    gap = LongestGap("seal", "batts", longest)
    plan = compute_dates(
        Network(network.activities, network.relationships, FIVE, longest_gaps=(gap,)), data_date=MONDAY
    )
    expected = (GapWarning(gap, MONDAY + 7, FRIDAY_END + 4, 3),) if warned else ()
    assert plan.warnings == expected


def test_an_elapsed_longest_gap_counts_the_weekend():
    network = network_of()
    gap = LongestGap("seal", "batts", 6, elapsed=True)
    plan = compute_dates(
        Network(network.activities, network.relationships, FIVE, longest_gaps=(gap,)), data_date=MONDAY
    )
    assert plan.warnings == (GapWarning(gap, MONDAY + 7, FRIDAY_END + 4, 7),)


def test_a_missed_not_after_is_a_warning_and_negative_float_never_a_refusal():
    activity = Activity("wire", 4, "site", not_after=MONDAY + 2)
    plan = compute_dates(Network((activity,), (), FIVE), data_date=MONDAY)
    assert (plan["wire"].total_float, plan["wire"].critical) == (-2, True)
    assert plan.warnings == (LateWarning("wire", MONDAY + 2, MONDAY + 4),)
