"""Promise dates: kept as often as promised, in the draws they come from and in fresh ones."""

import dataclasses
import math

import pytest

from coordination.engine import (
    DEFAULT_FACTORS,
    Activity,
    Crew,
    Network,
    Refused,
    Relationship,
    SharedFactors,
    Spread,
    WorkingCalendar,
    compute_dates,
    promise_starts,
)
from coordination.engine.network import Fails, Late
from tests.engine.networks import MONDAY, single_storey


def uncertain_house(late=None):
    network = single_storey()
    return dataclasses.replace(
        network,
        activities=tuple(
            dataclasses.replace(
                a,
                range=DEFAULT_FACTORS.range_of(a.duration),
                fails=Fails(0.3, 3) if a.id in ("H4", "H5") else None,
                crew={"everybody": 1},
            )
            for a in network.activities
        ),
        crews=(Crew("everybody", 9, "site", late=late),),
    )


@pytest.fixture(scope="module")
def promised():
    return {
        (p.hold, p.activity_id): p
        for p in promise_starts(uncertain_house(), data_date=MONDAY, samples=4000, seed=1)
    }


def test_each_booking_behind_each_point_of_the_default_house_has_a_promise(promised):
    network = single_storey()
    points = {detail.point for detail in network.details if detail.point}
    expected = {(x.from_id, x.to_id) for x in network.relationships if x.from_id in points}
    assert promised.keys() == expected
    assert ("H5", "linings") in promised


def test_a_promise_is_a_working_half_day_and_the_earliest_that_holds_in_enough_draws(promised):
    site = single_storey().calendars["site"]
    for p in promised.values():
        assert site.works(p.start)
        assert site.works(p.likely)
        assert p.share >= 0.8
        earlier = [t for t in range(p.ready.first, p.start) if site.works(t)]
        assert all(p.ready.share_by(t) < 0.8 for t in earlier)
        assert p.planned <= p.likely <= p.start
        assert p.ready.draws == 4000


def test_promises_hold_in_draws_that_they_do_not_come_from(promised):
    again = promise_starts(uncertain_house(), data_date=MONDAY, samples=4000, seed=77)
    for other in again:
        p = promised[other.hold, other.activity_id]
        error = math.sqrt(2 * p.share * (1 - p.share) / 4000)
        assert other.ready.share_by(p.start) == pytest.approx(p.share, abs=5 * error + 1e-3)


def test_a_higher_confidence_never_promises_earlier(promised):
    surer = promise_starts(uncertain_house(), data_date=MONDAY, samples=4000, seed=1, confidence=0.95)
    for other in surer:
        assert other.start >= promised[other.hold, other.activity_id].start


def test_without_uncertainty_the_promise_is_the_plan():
    plan = compute_dates(single_storey(), data_date=MONDAY)
    for p in promise_starts(single_storey(), data_date=MONDAY, samples=2):
        assert p.start == p.likely == p.planned == plan[p.activity_id].es
        assert p.share == 1.0


def test_a_crew_that_may_come_late_itself_does_not_move_its_own_promise_but_those_behind_it():
    network = Network(
        (
            Activity("walk", 1, "site"),
            Activity("linings", 6, "site", crew={"liners": 1}),
            Activity("paint", 4, "site"),
        ),
        (Relationship("walk", "linings", lag=3), Relationship("linings", "paint")),
        {"site": WorkingCalendar()},
        crews=(Crew("liners", 1, "site", late=Late(1.0, (4, 4))),),
    )
    linings, paint = promise_starts(network, data_date=MONDAY, activities=["linings", "paint"], samples=10)
    assert (linings.hold, linings.start) == (None, MONDAY + 4)
    # Four half-days late, six of work, over the weekend.
    assert paint.start == MONDAY + 4 + 4 + 6 + 4
    assert paint.planned == MONDAY + 4 + 6 + 4


def test_holds_may_be_named_and_work_begun_is_not_promised():
    network = uncertain_house()
    (frame_fix, *others) = promise_starts(network, data_date=MONDAY, holds=["H2"], samples=50)
    assert {p.hold for p in (frame_fix, *others)} == {"H2"}
    begun = dataclasses.replace(
        network,
        activities=tuple(
            dataclasses.replace(a, actual_start=MONDAY) if a.id == frame_fix.activity_id else a
            for a in network.activities
        ),
    )
    left = promise_starts(begun, data_date=MONDAY, holds=["H2"], samples=50)
    assert [p.activity_id for p in left] == [p.activity_id for p in others]


def test_houses_with_much_in_common_are_promised_from_the_same_luck():
    together = promise_starts(
        uncertain_house(), data_date=MONDAY, samples=2000, seed=1, factors=SharedFactors(crew=0.8, weather=0)
    )
    apart = promise_starts(
        uncertain_house(), data_date=MONDAY, samples=2000, seed=1, factors=SharedFactors(crew=0, weather=0)
    )
    wide = {p.activity_id: p.start - p.likely for p in together}
    narrow = {p.activity_id: p.start - p.likely for p in apart}
    assert wide["linings"] > narrow["linings"]


@pytest.mark.parametrize("confidence", [0, 1, -0.5, 80, "0.8", None])
def test_a_confidence_that_is_none_is_refused(confidence):
    with pytest.raises(Refused, match="confidence of a promise must lie between 0 and 1"):
        promise_starts(single_storey(), data_date=MONDAY, confidence=confidence)


def test_an_unknown_hold_or_activity_is_refused_by_name():
    with pytest.raises(Refused, match="unknown activity 'H9'"):
        promise_starts(single_storey(), data_date=MONDAY, holds=["H9"])
    with pytest.raises(Refused, match="unknown activity 'attic'"):
        promise_starts(single_storey(), data_date=MONDAY, activities=["attic"])


def test_a_network_without_points_has_nothing_to_promise():
    assert promise_starts(Network((Activity("a", 1),))) == ()


def test_a_spread_is_read_exactly():
    spread = Spread.of([5, 5, 6, 9, 9])
    assert [spread.at(share) for share in (0.01, 0.4, 0.41, 0.6, 0.61, 1.0)] == [5, 5, 6, 6, 9, 9]
    assert [spread.share_by(t) for t in (4, 5, 6, 8, 9, 99)] == [0.0, 0.4, 0.6, 0.6, 1.0, 1.0]
    for share in (0, 1.1):
        with pytest.raises(Refused, match="confidence must lie above 0"):
            spread.at(share)
    with pytest.raises(Refused, match="at least one draw"):
        Spread.of([])
