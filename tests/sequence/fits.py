"""Two small houses that share their crews, and a worker that takes a fit up in this thread."""

from collections.abc import Sequence

from coordination.people.models import Builder
from coordination.sequence import fit_runs, fitting
from coordination.sequence.models import Booking, Fit
from coordination.sequence.queries import programme
from coordination.sequence.replanning import replan
from tests.sequence.builders import START, SmallHouse, book, make_builder, small_house


def shared_houses(count: int = 2, builder: Builder | None = None, first: int = 1) -> list[SmallHouse]:
    """Houses that all start on Monday 20 April with the crews of the first, asked for every visit."""
    builder = builder or make_builder()
    houses = [small_house(builder, f"lot-{number}") for number in range(first, first + count)]
    for small in houses:
        small.crews = houses[0].crews
        for name in small.visits:
            book(small, name, Booking.State.ASKED, told_start=None, told_finish=None)
        replan(small.house, cause="set out")
    return houses


def booking_of(small: SmallHouse, name: str) -> Booking:
    return Booking.objects.get(visit=small.visits[name], state__in=Booking.LIVE)


def starts_of(small: SmallHouse, *names: str) -> list[int]:
    """First half-days worked by the latest plan."""
    plan = small.house.plans.order_by("-number")[0]
    dates = {date.activity.key: date.start for date in plan.dates.select_related("activity")}
    return [dates[name] for name in names]


def reason_of(small: SmallHouse, key: str) -> str:
    """Why an activity stands when it stands, in words."""
    known = programme(small.house)
    assert known is not None
    return next(one.reason_words for one in known.activities if one.key == key)


def computed(houses: Sequence[SmallHouse], seconds: int = 0) -> Fit:
    """A fit over these houses, taken up by a worker in this thread."""
    fit = fitting.start_fit(houses[0].builder, houses[0].planner, [one.house.pk for one in houses])
    Fit.objects.filter(pk=fit.pk).update(seconds=seconds)
    assert fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    return fit


def moved_house(two: Sequence[SmallHouse]) -> tuple[SmallHouse, SmallHouse]:
    """The house that waits, and the one that does not, in whichever order the search chose."""
    first, second = two
    return (
        (second, first) if starts_of(second, "frame")[0] > starts_of(first, "frame")[0] else (first, second)
    )


def book_firm(small: SmallHouse, name: str, start: int = START) -> Booking:
    """Make the booking firm and told from this half-day, without the acts that lead there."""
    Booking.objects.filter(visit=small.visits[name]).update(
        state=Booking.State.FIRM, told_start=start, told_finish=start + 4
    )
    return booking_of(small, name)
