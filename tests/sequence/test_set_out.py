"""Setting out: the published dates of the shipped sequence, refusals by name, nothing half saved."""

import datetime as dt

import pytest

from coordination import clock
from coordination.people.models import Engagement, RegionDay
from coordination.people.refusals import BadInput
from coordination.sequence.models import (
    Activity,
    Change,
    Detail,
    Hold,
    HoldBefore,
    House,
    Place,
    Plan,
    Relationship,
    Visit,
)
from coordination.sequence.set_out import resolved_of, set_out
from tests.sequence.brick_veneer import date_of, open_office, plan_of, says, working_half_days

pytestmark = pytest.mark.django_db


def test_the_shipped_house_has_its_published_dates_in_tasmania(office):
    """Start Mon 2 Feb 2026 with statewide holidays: Eight Hours Day 9 Mar, Good Friday, Easter Monday."""
    house = office.house()
    dates = {key: says(date_of(house, key).start) for key in ("H4", "H5", "board-del", "linings")}
    assert dates == {
        "H4": "2026-03-19 am",
        "H5": "2026-03-25 am",
        "board-del": "2026-03-26 am",
        "linings": "2026-03-27 am",
    }
    assert says(plan_of(house).finish - 1) == "2026-05-13 am"
    assert plan_of(house).stake_start == date_of(house, "linings").start


def test_the_shipped_house_has_its_published_dates_without_holidays(office_without_holidays):
    house = office_without_holidays.house()
    assert says(date_of(house, "linings").start) == "2026-03-26 am"
    assert says(plan_of(house).finish) == "2026-05-08 pm"
    assert working_half_days(house, date_of(house, "linings").es) == 76
    assert working_half_days(house, plan_of(house).finish) == 139


@pytest.mark.parametrize(
    ("weekday", "linings", "end"), [(0, 76, 139), (1, 76, 137), (2, 76, 136), (3, 78, 141), (4, 76, 139)]
)
def test_an_elapsed_cure_meets_the_weekend(office_without_holidays, weekday, linings, end):
    """Published with the sequence: half-days to linings and end for a start on Monday to Friday."""
    starts = dt.date(2026, 2, 2) + dt.timedelta(days=weekday)
    house = office_without_holidays.house(starts_on=starts)
    assert working_half_days(house, date_of(house, "linings").es) == linings
    assert working_half_days(house, plan_of(house).finish) == end


def test_the_floats_are_those_of_the_published_table(office_without_holidays):
    """Float to the linings and to the end: caps 3 and 6, ceiling battens 8 and 11, brick 0 and 3 ..."""
    house = office_without_holidays.house()
    published = {"caps": 3, "battens": 8, "brick": 0, "roof": 3, "vert-batts": 1, "H5": 0, "board-del": 1}
    assert {key: date_of(house, key).float_to_stake for key in published} == published
    ends = {"caps": 6, "battens": 11, "brick": 3, "supply": 37, "external": 46, "H6": 0, "paint": 0}
    assert {key: date_of(house, key).total_float for key in ends} == ends


def test_a_point_without_time_and_without_successor_has_no_float(office):
    house = office.house()
    for key in ("W2", "P1", "W4"):
        date = date_of(house, key)
        assert (date.total_float, date.free_float, date.float_to_stake) == (None, None, None)


def test_the_driving_chain_is_the_published_one(office_without_holidays):
    house = office_without_holidays.house()
    chain = [link["key"] for link in plan_of(house).driving_chain]
    assert " > ".join(chain) == (
        "set-out > drains > slab-prep > H1 > pour > frame-del > frames > trusses > frame-end > H2 > "
        "frame-fix > H3 > wrap > windows > brick > eaves > lock-up > wall-batts > H5 > linings > setting > "
        "waterproof > H6 > tiling > paint > plumb-fit > floors > audit > H7 > defects"
    )
    assert [link["key"] for link in plan_of(house).stake_chain] == chain[: chain.index("linings") + 1]


def test_the_windows_are_those_of_the_published_table(office_without_holidays):
    """Half-days from the start: opens, due, buried; then half-days to the walk and to burial."""
    house = office_without_holidays.house()
    published = {
        "d06": (33, 37, 69, 3, 35),
        "d10": (49, 64, 69, 9, 14),
        "d08": (50, 64, 68, 5, 9),
        "d13": (62, 64, 69, 0, 5),
        "d16": (68, 72, 76, 0, 4),
        "d07": (49, 50, 53, 0, 3),
    }
    for key, (opens, due, buried, to_walk, to_burial) in published.items():
        window = plan_of(house).windows.get(detail__key=key)
        counted = tuple(working_half_days(house, at) for at in (window.opens, window.due, window.buried))
        assert (key, *counted) == (key, opens, due, buried)
        assert (key, window.slack_due, window.slack_buried) == (key, to_walk, to_burial)


def test_everything_that_the_sequence_says_stands_in_the_house(office, recording_port):
    house = office.house()
    resolved = resolved_of(house)
    assert house.activities.count() == len(resolved.activities) == 61
    assert house.relationships.count() == len(resolved.relationships)
    assert house.visits.count() == len(resolved.visits)
    assert house.details.count() == len(resolved.details) == 26
    assert house.places.count() == len(resolved.entry.places)
    assert house.holds.count() == 7
    assert HoldBefore.objects.filter(hold__house=house).exists()
    assert house.sequence_version == office.version
    assert house.features["pitch"] == 22.5
    assert recording_port.set_out == [(house.key, 7)]
    linings = house.activities.get(key="linings")
    assert linings.is_stake
    assert linings.visit is not None
    assert set(house.details.get(key="d13").coverings.values_list("activity__key", flat=True)) == {
        "ceil-batts",
        "linings",
    }
    assert house.changes.get(what="set out").by == office.planner


def test_details_stand_in_the_places_that_have_them(office):
    house = office.house(
        places=[
            {"key": "bath", "name": "Bathroom", "zone": "ground", "attributes": {"wet": True}},
            {"key": "bed", "name": "Bedroom", "zone": "ground"},
        ]
    )
    wet_walls = house.details.get(key="d19")
    assert [one.place.key for one in wet_walls.detail_places.all()] == ["bath"]
    assert not house.details.filter(key="d22").exists(), "no place has a bulkhead, so the house has none"


def test_crews_are_asked_and_their_calendar_and_word_time_count(office_without_holidays):
    plasterer = office_without_holidays.crew("plasterer", "Even Walls", word_time=5)
    house = office_without_holidays.house(crews={"plasterer": plasterer})
    booking = house.bookings.get(visit__activities__key="linings")
    assert (booking.crew, booking.state) == (plasterer, "asked")
    # Two half-days of word more than the sequence's three.
    assert working_half_days(house, date_of(house, "linings").es) == 78


def test_a_house_starts_with_the_half_day_that_is_now_or_its_start_as_recorded(office, monday_morning):
    past = office.house()
    assert past.recorded_up_to == clock.as_half_day(past.starts_on)
    coming = office.house(starts_on=dt.date(2026, 6, 1))
    assert says(coming.recorded_up_to) == "2026-04-13 am"
    assert says(date_of(coming, "set-out").start) == "2026-06-01 am"


# ------------------------------------------------------------------ refusals, nothing half saved


def counts() -> list[int]:
    kinds = (House, Activity, Relationship, Visit, Detail, Place, Hold, HoldBefore, Plan, Change)
    return [kind.objects.count() for kind in kinds]


@pytest.mark.parametrize(
    ("extra", "where", "words"),
    [
        ({"features": {"pitch": 0}}, "pitch", "too little"),
        ({"features": {"pich": 25}}, "pich", "pitch"),
        ({"options": ["from-below"]}, "option 'from-below'", "choose from"),
        ({"options": ["from-above", "from-above"]}, None, None),
        ({"key": "lot 7"}, "key", "letters, digits"),
        ({"name": "  "}, "name", "called on site"),
        ({"required_by": dt.date(2026, 1, 1)}, "required_by", "before it starts"),
        ({"places": [{"key": "a", "name": "A", "zone": "attic"}]}, "place 'a'", "Choose from"),
        ({"places": [{"key": "a", "name": "A"}, {"key": "a", "name": "B"}]}, "place 'a'", "twice"),
        ({"places": [{"key": "a", "name": "A", "attributes": {"dry": True}}]}, "place 'a'", "dry"),
        ({"places": [{"key": "a", "name": "A", "attributes": {"wet": "yes"}}]}, "place 'a'", "wet area"),
        ({"places": [{"key": "a", "name": "A", "colour": "red"}]}, "place 'a'", "colour"),
        ({"hazards": "x" * 200}, "hazards", "at most 160"),
    ],
)
def test_nonsense_is_refused_by_name_and_nothing_is_saved(office, extra, where, words):
    before = counts()
    if where is None:
        assert office.house(**extra).options == ["from-above"]
        return
    with pytest.raises(BadInput) as refused:
        office.house(**extra)
    assert where in refused.value.where
    assert words in refused.value.words
    assert counts() == before


def test_a_combination_that_the_sequence_does_not_cover_is_refused(office):
    with pytest.raises(BadInput) as refused:
        office.house(features={"storeys": 2})
    assert "storeys" in refused.value.where


def test_a_second_house_of_the_same_key_is_refused(office):
    office.house(key="lot-9")
    with pytest.raises(BadInput, match="already"):
        office.house(key="lot-9")


def test_rows_of_another_builder_are_refused(office):
    other = open_office("Tea Tree Homes")
    for name in ("version", "region", "calendar", "supervisor"):
        with pytest.raises(BadInput, match=r"another builder|no supervisor"):
            office.house(**{name: getattr(other, name)})


def test_crews_of_the_wrong_trade_or_firm_are_refused(office):
    plumber = office.crew("plumber", "Blue Pipes")
    with pytest.raises(BadInput, match="is of the trade"):
        office.house(crews={"plasterer": plumber})
    with pytest.raises(BadInput, match="no such trade"):
        office.house(crews={"pool-builder": plumber})
    Engagement.objects.all().delete()
    with pytest.raises(BadInput, match="does not work for"):
        office.house(crews={"plumber": plumber})


def test_nothing_is_saved_when_the_judging_package_fails(office, recording_port):
    before = counts()
    recording_port.fails = True
    with pytest.raises(RuntimeError, match="has stopped"):
        office.house()
    assert counts() == before


def test_nothing_is_saved_when_the_plan_cannot_be_computed(office):
    """The region's state is unknown to the library of holidays: found at the very last step."""
    office.region.subdivision = "XYZ"
    office.region.save()
    before = counts()
    with pytest.raises(BadInput, match="AU-XYZ"):
        office.house()
    assert counts() == before


def test_a_house_remembers_the_version_that_it_was_set_out_from(office):
    order = office.order()
    house = set_out(order)
    assert resolved_of(house).entry.number == office.version.number
    RegionDay.objects.create(region=office.region, first_day=dt.date(2026, 2, 3), why="regatta")
    assert says(date_of(house, "drains").start) == "2026-02-04 am", (
        "a plan stands until the house is re-planned"
    )
