"""The parts of a point that are released singly, and what belongs to none of them."""

import pytest

from hold_points.facts import load_point
from hold_points.models import Check, Inspection


@pytest.mark.parametrize("named", [True, False])
def test_what_is_in_no_part_keeps_the_hold_until_the_whole_is_released(site, named):
    """Whether the sequence lists the parts or only its checks name them."""
    site.release_all("H3")
    point = site.point("H4")
    Check.objects.create(inspection=point, key="swept", text="Swept out", kind="seen", order=1)
    if not named:
        Inspection.objects.filter(pk=point.pk).update(sections=[])
    parts = [one for one in load_point(site.point("H4")).sections if one]
    assert len(parts) >= 2
    site.pass_checks("H4")
    for part in parts:
        site.sign("H4", section=part)
    assert not load_point(site.point("H4")).released
    assert site.hold("H4").is_open
    site.sign("H4")
    assert not site.hold("H4").is_open
