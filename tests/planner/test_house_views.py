"""One house's pages: programme, what gets buried, what moved; and who may open them."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from coordination.people.refusals import BadInput
from coordination.planner.limits_told import read_limits
from coordination.sequence import progress
from coordination.sequence.models import House
from tests.planner.conftest import first_activity, linings_visit, release_before_linings, text_of
from tests.sequence.brick_veneer import Office

pytestmark = pytest.mark.django_db

PAGES = ("", "visits/", "details/", "moves/", "ordered/", "record/")
ACTS = ("progress/", "slip/")


def test_programme_shows_drawing_table_reasons_and_why_the_linings_are_not_firm(
    planner: Client, house: House
) -> None:
    page = planner.get(f"/houses/{house.pk}/")
    assert page.status_code == 200
    drawn = page.content.decode()
    assert 'class="programme__plot"' in drawn
    for activity in house.activities.all():
        assert f'id="activity-{activity.key}"' in drawn
    words = text_of(page)
    assert "cannot be made firm. These hold points before it are closed:" in words
    assert "What drives the end of the house" in words
    assert "and 1½ days of word for the crew" in words  # 3 half-days before the linings
    assert "likely" in words


def test_released_house_says_that_its_linings_can_be_firm(
    planner: Client, house: House, office: Office
) -> None:
    release_before_linings(house, office.supervisor)
    words = text_of(planner.get(f"/houses/{house.pk}/"))
    assert "can be made firm. Every hold point before it is released." in words


@pytest.mark.parametrize("zoom", ["week", "fortnight", "whole", "nonsense"])
def test_programme_is_drawn_at_every_zoom(planner: Client, house: House, zoom: str) -> None:
    assert planner.get(f"/houses/{house.pk}/?zoom={zoom}").status_code == 200


@pytest.mark.parametrize("page", PAGES + ACTS)
def test_another_builders_house_does_not_exist(stranger: Client, house: House, page: str) -> None:
    assert stranger.get(f"/houses/{house.pk}/{page}").status_code == 404


@pytest.mark.parametrize("page", ACTS)
def test_supervisor_may_look_but_not_act(supervisor: Client, house: House, page: str) -> None:
    assert supervisor.get(f"/houses/{house.pk}/").status_code == 200
    assert supervisor.get(f"/houses/{house.pk}/{page}").status_code == 403
    assert "Report progress" not in text_of(supervisor.get(f"/houses/{house.pk}/"))


def test_detail_shows_window_places_sketch_and_the_number_of_this_house(
    planner: Client, house: House
) -> None:
    detail = next(one for one in house.details.all() if "519" in limits_of(house, one.key))
    page = planner.get(f"/houses/{house.pk}/details/{detail.pk}/")
    words = text_of(page)
    assert "can be done from" in words
    assert "put right until" in words
    # 290 mm batt, heel 100, pitch 22.5: see the fabric's tests.
    assert "between 519 and 569 mm" in words
    assert "<svg" in page.content.decode()
    assert "Limits are defaults" in words


def limits_of(house: House, detail: str) -> str:
    return " ".join(one.limit for one in read_limits(house) if one.detail == detail)


def test_detail_of_another_house_does_not_exist_here(planner: Client, house: House, office: Office) -> None:
    other = office.house()
    detail = other.details.all()[0]
    assert planner.get(f"/houses/{house.pk}/details/{detail.pk}/").status_code == 404


def test_moves_tell_the_revision_and_its_cause(planner: Client, house: House, office: Office) -> None:
    progress.add_delay(first_activity(house), 3, "rain on two mornings", office.planner)
    page = planner.get(f"/houses/{house.pk}/moves/")
    words = text_of(page)
    assert "Revision 2" in words
    assert "rain on two mornings" in words
    assert "1½ days later" in words
    first = text_of(planner.get(f"/houses/{house.pk}/moves/?revision=1"))
    assert "No activity moves." in first
    for unknown in ("99", "x", "9" * 5_000):
        assert planner.get(f"/houses/{house.pk}/moves/?revision={unknown}").status_code == 404


def test_record_leads_to_the_page_of_the_record(planner: Client, house: House) -> None:
    answer = planner.get(f"/houses/{house.pk}/record/")
    assert (answer.status_code, answer["Location"]) == (302, f"/walks/houses/{house.pk}/record/")


def test_pages_of_a_house_cost_a_bounded_number_of_queries(
    planner: Client, house: House, office: Office
) -> None:
    visit = linings_visit(house).pk

    def count(page: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert planner.get(f"/houses/{house.pk}/{page}").status_code == 200
        return len(queries)

    before = {page: count(page) for page in ("", "visits/", f"visits/{visit}/", "details/", "moves/")}
    office.house()
    progress.add_delay(first_activity(house), 1, "late start", office.planner)
    for page, one in before.items():
        assert one <= 70, page
        assert count(page) <= one + 1, page  # a second revision has its person


def test_sequence_that_can_no_longer_be_read_is_an_error_by_name(house: House) -> None:
    house.sequence_version.text = "no = toml ["
    with pytest.raises(BadInput, match="brick-veneer-90 1"):
        read_limits(house)
