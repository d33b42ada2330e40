"""Networks of textbooks and courses with their published dates and floats.

O1  Hendrickson, Project Management for Construction, table 10-1 (inputs; dates computed).
O2, O3  US Defense Acquisition University, critical-path module: precedence of activities, then with SS links.
O4, O5  Mubarak, Construction Project Scheduling and Control, example 5.1; three activities, SS and FF.
O6  a civil engineering course, nine activities.
O7, O8  Taylor, Introduction to Management Science, chapter 8, solved arrow networks.

Work here is contiguous: where a book stretches an activity (O4, activity E) the contiguous dates are given.
"""

import re

import pytest

from coordination.engine import Activity, Network, Relationship, compute_dates, verify_plan


def build(durations, links):
    """'A4 B3' and 'A>C A>D+2:SS': a network."""
    activities = [Activity(name, int(n)) for name, n in re.findall(r"([A-Z])(\d+)", durations)]
    relationships = [
        Relationship(a, b, kind or "FS", int(lag or 0))
        for a, b, lag, kind in re.findall(r"(\w)>(\w)(?:\+(\d+))?(?::(\w\w))?", links)
    ]
    return Network(tuple(activities), tuple(relationships))


def dates(plan):
    return {a.id: (a.es, a.ef, a.ls, a.lf) for a in plan.activities.values()}


def floats(plan):
    return {a.id: a.total_float for a in plan.activities.values()}


def critical(plan):
    return "".join(a.id for a in plan.activities.values() if a.critical)


def read(text):
    """'A 0-4/0-4' rows as early and late dates."""
    return {
        name: tuple(int(n) for n in numbers)
        for name, *numbers in re.findall(r"(\w) (\d+)-(\d+)/(\d+)-(\d+)", text)
    }


HENDRICKSON = build("A4 B3 C8 D7 E9 F12 G2 H5 I6", "A>C A>D B>E C>E B>F C>F D>G E>G D>H E>H F>I G>I")


def test_o1_hendrickson_table_10_1():
    plan = compute_dates(HENDRICKSON)
    assert plan.finish == 30
    assert critical(plan) == "ACFI"
    assert plan.driving_chain() == tuple("ACFI")
    assert dates(plan) == read(
        "A 0-4/0-4 B 0-3/9-12 C 4-12/4-12 D 4-11/15-22 E 12-21/13-22 F 12-24/12-24 G 21-23/22-24 "
        "H 21-26/25-30 I 24-30/24-30"
    )
    assert floats(plan) == dict(zip("ABCDEFGHI", (0, 9, 0, 11, 1, 0, 1, 4, 0), strict=True))
    free = {a.id: a.free_float for a in plan.activities.values()}
    assert free == dict(zip("ABCDEFGHI", (0, 9, 0, 10, 0, 0, 1, 4, 0), strict=True))


COURSE = "A2 B10 C13 D12 E12 F7 G10 H16 I6 J12 K5 L8 M5 N3"


def test_o2_course_network_of_fourteen_activities():
    plan = compute_dates(build(COURSE, "A>B A>C A>D B>E B>F D>G D>H F>I C>J G>J I>K E>L K>L H>M J>N L>N M>N"))
    assert plan.finish == 41
    assert critical(plan) == "ABFIKLN"
    left = {"C": 11, "D": 2, "E": 6, "G": 2, "H": 3, "J": 2, "M": 3}
    assert floats(plan) == {name: left.get(name, 0) for name in "ABCDEFGHIJKLMN"}


def test_o3_the_same_course_with_start_to_start_links():
    plan = compute_dates(
        build(
            COURSE,
            "A>B:SS A>C A>D B>E B>F D>G D>H F>I C>J G>J:SS I>K:SS E>L I>L K>L H>M G>N J>N L>N M>N",
        )
    )
    assert plan.finish == 38
    assert critical(plan) == "ADHMN"
    assert dates(plan) == read(
        "A 0-2/0-2 B 0-10/4-14 C 2-15/10-23 D 2-14/2-14 E 10-22/15-27 F 10-17/14-21 G 14-24/23-33 "
        "H 14-30/14-30 I 17-23/21-27 J 15-27/23-35 K 17-22/22-27 L 23-31/27-35 M 30-35/30-35 N 35-38/35-38"
    )
    assert [plan[name].total_float for name in "BCEFGIJKL"] == [4, 8, 5, 4, 9, 4, 8, 5, 4]
    assert [plan[name].free_float for name in "EGJKL"] == [1, 1, 8, 1, 4]


def test_o4_mubarak_example_5_1_with_contiguous_work():
    plan = compute_dates(
        build(
            "A2 B6 C11 D7 E4 F8 G3",
            "A>B A>C+1:SS B>D+2:SS B>D:FF B>E C>E+5:FF D>G E>G F>G+4:FF",
        )
    )
    assert plan.finish == 20
    # The book stretches E over 8-17; unbroken it must start at 13.
    assert dates(plan) == read(
        "A 0-2/0-2 B 2-8/7-13 C 1-12/1-12 D 4-11/10-17 E 13-17/13-17 F 0-8/8-16 G 17-20/17-20"
    )
    assert floats(plan) == dict(zip("ABCDEFG", (0, 5, 0, 6, 0, 8, 0), strict=True))


def test_o5_mubarak_finish_links_drive_and_no_start_is_before_the_data_date():
    plan = compute_dates(build("A5 B7 C3", "A>B:SS A>B:FF B>C:SS B>C:FF"))
    assert plan.finish == 7
    assert dates(plan) == read("A 0-5/0-5 B 0-7/0-7 C 4-7/4-7")
    assert plan["C"].reason.relationship == Relationship("B", "C", "FF")


def test_o6_course_network_of_nine_activities():
    plan = compute_dates(
        build("A2 B5 C9 D3 E6 F4 G2 H4 I2", "A>B A>C A>D B>E B>F C>F C>G D>G E>H F>H G>I H>I")
    )
    assert plan.finish == 21
    assert critical(plan) == "ACFHI"
    assert floats(plan) == {**dict.fromkeys("ACFHI", 0), "B": 2, "D": 12, "E": 2, "G": 6}


def build_arrows(text):
    """Activities on arrows, '1-2:7': each waits for all that end where it begins."""
    arrows = re.findall(r"((\d+)-(\d+)):(\d+)", text)
    return Network(
        tuple(Activity(name, int(n)) for name, _, _, n in arrows),
        tuple(
            Relationship(before[0], after[0])
            for before in arrows
            for after in arrows
            if before[2] == after[1]
        ),
    )


@pytest.mark.parametrize(
    ("arrows", "end", "slack"),
    [
        ("1-2:7 1-3:10 2-4:6 3-4:5 3-5:4 4-5:3 5-6:2", 20, [2, 0, 2, 0, 4, 0, 0]),
        (
            "1-2:8 1-3:10 1-4:9 2-5:6 2-6:4 3-5:5 4-5:0 4-7:7 5-7:12 5-8:15 6-9:18 7-8:4 8-9:7",
            38,
            [1, 0, 6, 1, 8, 0, 6, 11, 0, 1, 8, 0, 0],
        ),
    ],
)
def test_o7_and_o8_taylor_chapter_8(arrows, end, slack):
    plan = compute_dates(build_arrows(arrows))
    assert plan.finish == end
    assert [a.total_float for a in plan.activities.values()] == slack


def test_the_judge_finds_no_fault_in_any_of_them():
    assert verify_plan(compute_dates(HENDRICKSON)) == []
