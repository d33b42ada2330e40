"""Schedule quality: each published defect planted in a sound network is found, alone, where it was planted.

Checks and thresholds are those of DCMA-EA PAM 200.1 (2012), section 4, and GAO-16-89G (2015), read in
secondary sources; a long lag is common practice.
"""

import dataclasses
import json
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from coordination.engine import (
    Activity,
    Network,
    QualityLimits,
    Refused,
    Relationship,
    WorkingCalendar,
    assess_quality,
    compute_dates,
)
from tests.engine.networks import MONDAY, single_storey, two_storeys

ROOT = Path(__file__).parents[2]
NAMES = [f"work {i}" for i in range(30)]
CHAIN = Network(
    tuple(Activity(name, 4, "site", house="14") for name in NAMES),
    tuple(Relationship(a, b) for a, b in pairwise(NAMES)),
    {"site": WorkingCalendar()},
)


def with_links(*links, network=CHAIN):
    """The network with these relationships in place of those into the same successors."""
    targets = {link.to_id for link in links}
    kept = tuple(x for x in network.relationships if x.to_id not in targets)
    return dataclasses.replace(network, relationships=kept + links)


def with_activity(name, network=CHAIN, **facts):
    return dataclasses.replace(
        network,
        activities=tuple(dataclasses.replace(a, **facts) if a.id == name else a for a in network.activities),
    )


def more(*activities, links=()):
    return dataclasses.replace(
        CHAIN, activities=CHAIN.activities + activities, relationships=CHAIN.relationships + tuple(links)
    )


def assess(network, data_date=MONDAY, limits=None):
    return assess_quality(compute_dates(network, data_date=data_date), limits)


def found(report):
    return [(one.kind, one.activity_id) for one in report.findings]


def check_of(report, kind):
    return next(check for check in report.checks if check.kind == kind)


def test_a_sound_network_has_no_finding_and_passes_every_check():
    report = assess(CHAIN)
    assert report.findings == ()
    assert report.passed
    assert len(report.checks) == 14
    assert all(check.found == 0 and check.share == 0 for check in report.checks)


EXTRA = Activity("extra", 4, "site", house="14")
PLANTED = {
    "missing predecessor": more(EXTRA, links=[Relationship("extra", "work 9")]),
    "missing successor": more(EXTRA, links=[Relationship("work 20", "extra")]),
    "dangling start": with_links(Relationship("work 8", "work 9", "FF")),
    "dangling finish": with_links(Relationship("work 8", "work 9", "SS")),
    "lead": with_links(Relationship("work 8", "work 9", lag=-2)),
    "lag": with_links(Relationship("work 8", "work 9", lag=3)),
    "long lag": with_links(Relationship("work 8", "work 9", lag=11)),
    "hard constraint": with_activity("work 9", not_after=MONDAY + 400),
    "long duration": with_activity("work 9", duration=89),
}
AT = {"missing predecessor": "extra", "missing successor": "extra", "dangling finish": "work 8"}


@pytest.mark.parametrize("kind", PLANTED)
def test_a_planted_defect_is_found_where_it_is_and_nowhere_else(kind):
    report = assess(PLANTED[kind])
    side_effect = {"dangling start", "dangling finish"}  # these use a type other than finish to start
    assert [one for one in found(report) if one[0] != "not finish to start"] == [
        (kind, AT.get(kind, "work 9"))
    ]
    assert ("not finish to start" in dict(found(report))) == (kind in side_effect)
    (finding,) = [one for one in report.findings if one.kind == kind]
    assert AT.get(kind, "work 9") in finding.words
    assert finding.remedy
    assert finding.house == "14"
    assert report.of_activity(finding.activity_id)[0] == finding
    assert check_of(report, kind).found == 1


@pytest.mark.parametrize("kind", ["dangling start", "dangling finish", "lead", "long lag"])
def test_what_is_not_allowed_at_all_fails_with_the_first(kind):
    assert not assess(PLANTED[kind]).passed


@pytest.mark.parametrize(
    "kind", ["missing predecessor", "missing successor", "lag", "hard constraint", "long duration"]
)
def test_what_is_allowed_up_to_a_share_passes_with_one_in_thirty(kind):
    report = assess(PLANTED[kind])
    assert report.passed
    assert check_of(report, kind).share == pytest.approx(1 / 30, abs=0.003)
    strict = QualityLimits(
        missing_logic=0, lags=0, hard_constraints=0, long_duration_share=0, finish_to_start=1
    )
    assert not assess(PLANTED[kind], limits=strict).passed


def test_a_lag_counts_as_a_lag_also_when_it_is_long():
    report = assess(PLANTED["long lag"])
    assert (check_of(report, "lag").found, check_of(report, "long lag").found) == (1, 1)
    assert [one.half_days for one in report.findings] == [11]


@pytest.mark.parametrize(("others", "passes"), [(2, True), (3, False)])
def test_more_than_a_tenth_that_is_not_finish_to_start_fails(others, passes):
    added = tuple(Relationship(a, b, "SS") for a, b in pairwise(NAMES[: others + 1]))
    short = dataclasses.replace(
        CHAIN, activities=CHAIN.activities[:20], relationships=CHAIN.relationships[:19] + added
    )
    check = check_of(assess(short), "not finish to start")
    assert (check.found, check.of, check.passed) == (others, 19 + others, passes)


def test_float_of_more_than_44_days_is_high():
    # Beside 120 half-days of chain: 120 - 8 - 23 = 89 half-days of float, then 88.
    for length, kinds in ((23, ["high float"]), (24, [])):
        side = Activity("side", length, "site", house="14")
        links = [Relationship("work 0", "side"), Relationship("side", "work 29")]
        assert [k for k, _ in found(assess(more(side, links=links)))] == kinds


def test_a_date_that_cannot_be_kept_is_negative_float_on_the_whole_way_to_it():
    late = with_activity("work 29", not_after=MONDAY + 140)
    report = assess(late)
    negative = [one for one in report.findings if one.kind == "negative float"]
    assert [one.activity_id for one in negative] == NAMES
    assert {one.half_days for one in negative} == {-20}  # 140 of the axis are 100 of 120 working half-days
    assert not report.passed
    assert check_of(report, "hard constraint").found == 0  # the end of a house may have its date


def test_work_that_began_before_what_it_waits_for_is_out_of_sequence():
    odd = with_activity("work 1", actual_start=MONDAY)
    report = assess(odd, MONDAY + 2)
    assert found(report) == [("out of sequence", "work 1")]
    assert report.findings[0].relationship == CHAIN.relationships[0]


def test_dates_that_contradict_the_data_date_are_invalid():
    plan = compute_dates(CHAIN, data_date=MONDAY)
    stale = dataclasses.replace(plan, data_date=MONDAY + 8)
    kinds = [one for one in found(assess_quality(stale)) if one[0] == "invalid date"]
    assert kinds == [("invalid date", name) for name in NAMES[:2]] + [("invalid date", "work 2")] * (
        plan["work 2"].es < MONDAY + 8
    )
    begun = with_activity("work 0", actual_start=MONDAY + 4)
    ahead = dataclasses.replace(compute_dates(begun, data_date=MONDAY + 4), data_date=MONDAY + 2)
    assert ("invalid date", "work 0") in found(assess_quality(ahead))


def test_finished_work_is_not_judged():
    done = with_activity("work 9", PLANTED["lead"], actual_start=MONDAY, actual_finish=MONDAY + 2)
    assert "lead" not in dict(found(assess(done, MONDAY + 4)))


def test_a_notice_that_nothing_waits_for_is_not_an_open_end():
    notice = Activity("notice", 0, "site", house="14")
    assert found(assess(more(notice, links=[Relationship("work 3", "notice")]))) == []


def test_every_house_may_begin_and_end_once():
    second = tuple(dataclasses.replace(a, id=f"other {a.id}", house="16") for a in CHAIN.activities)
    links = tuple(Relationship(f"other {x.from_id}", f"other {x.to_id}") for x in CHAIN.relationships)
    assert assess(more(*second, links=links)).passed


@pytest.mark.parametrize("network", [single_storey(), two_storeys()], ids=["one storey", "two storeys"])
def test_the_default_sequences_have_no_open_ends_leads_or_dangling_work(network):
    report = assess(network)
    for check in report.checks:
        if check.kind not in ("lag", "long lag"):
            assert check.passed, check
    # Cures, deliveries and word times are lags by their nature; each is named.
    assert not check_of(report, "lag").passed
    lags = {(one.relationship.from_id, one.activity_id) for one in report.findings if "lag" in one.kind}
    assert lags == {(x.from_id, x.to_id) for x in network.relationships if x.lag > 0}


@pytest.mark.parametrize(
    "limits", [{"lags": 5}, {"missing_logic": -0.1}, {"high_float": 1.5}, {"long_lag": -1}, {"lags": True}]
)
def test_limits_that_cannot_be_are_refused_by_name(limits):
    with pytest.raises(Refused, match=f"limit '{next(iter(limits))}' must be"):
        QualityLimits(**limits)


def test_the_command_reports_on_a_document():
    document = {
        "activities": [{"id": "a", "duration": 2}, {"id": "b", "duration": 3}, {"id": "c", "duration": 1}],
        "relationships": [{"from": "a", "to": "b", "lag": -1}, {"from": "b", "to": "c"}],
    }
    run = subprocess.run(
        [sys.executable, "-m", "coordination.engine", "quality", "-"],
        input=json.dumps(document),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert (run.returncode, run.stderr) == (0, "")
    answer = json.loads(run.stdout)
    assert answer["passed"] is False
    (finding,) = answer["findings"]
    assert (finding["kind"], finding["activity"], finding["from"]) == ("lead", "b", "a")
    assert [check["kind"] for check in answer["checks"] if not check["passed"]] == ["lead"]
