"""Pages for editing a sequence and changing a house, in a real browser: axe-core, nothing sideways."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.test import Client

from coordination.sequence import drafting
from coordination.sequence.models import House
from tests.planner.test_change_views import fields_of
from tests.planner.test_views_in_browser import LOOKS, judge_pages
from tests.sequence.brick_veneer import Office

pytestmark = [pytest.mark.browser, pytest.mark.django_db]


def read_pages(planner: Client, office: Office, house: House) -> dict[str, str]:
    """A draft with a fault and a change, each kind of form, and a house about to change."""
    draft = drafting.begin_draft(office.version, office.planner)
    rows = drafting.read_tables(draft)
    longer = {**rows["activity"][10], "half_days": 30}
    drafting.put_row(draft, "activity", 11, longer, office.planner, draft.revision)
    bare = {name: value for name, value in rows["detail"][0].items() if name != "covered_by"}
    drafting.put_row(draft, "detail", 1, bare, office.planner, draft.revision)
    here = f"/sequences/drafts/{draft.pk}/"
    measured = next(n for n, row in enumerate(rows["check"], 1) if "calculation" in row.get("limit", {}))
    got = ["", "text/", "head/", "difference/", "activity/11/", "activity/0/", "detail/2/"]
    got += [f"check/{measured}/", "option/1/", "feature/1/", "activity/11/?text"]
    got += ["option/1/changed/activity/1/", "option/1/changed/detail/0/", "option/1/removed/"]
    pages = {page: planner.get(here + page).content.decode() for page in got}
    wrong = planner.post(f"{here}activity/11/", {"revision": "1", "more": "x ="})
    change = f"/houses/{house.pk}/change/"
    seen = planner.post(change, fields_of(house, house.sequence_version, airway=40, ceiling_batt_mm=300))
    pages |= {"wrong row": wrong.content.decode(), "change seen": seen.content.decode()}
    pages["sequences"] = planner.get("/sequences/").content.decode()
    pages["change"] = planner.get(change).content.decode()
    return pages


@pytest.mark.parametrize(("theme", "size"), LOOKS, ids=[f"{theme}-{size[0]}" for theme, size in LOOKS])
def test_pages_for_editing_are_accessible_and_fit(
    planner: Client,
    office: Office,
    house: House,
    browser_type_launch_args: dict[str, Any],
    theme: str,
    size: tuple[int, int],
) -> None:
    planner.cookies["theme"] = theme
    pages = read_pages(planner, office, house)
    with ThreadPoolExecutor(max_workers=1) as pool:
        faults = pool.submit(judge_pages, pages, size, browser_type_launch_args).result()
    assert not faults, faults
