"""The state of each check and what is missing: pure, without a database."""

import dataclasses
import datetime as dt
import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hold_points.point_facts import (
    CheckFacts,
    NonconformityFacts,
    OutcomeFacts,
    PhotographFacts,
    PointFacts,
    ReopeningFacts,
)
from hold_points.readiness import State, judge

NOON = dt.datetime(2026, 3, 17, 1, 0, tzinfo=dt.UTC)
SUPERVISOR, DEPUTY, PLANNER = 1, 2, 3
CHECK = CheckFacts(10, "pipes", "No pipe rests on a chord", "seen", place=7, place_name="Bath")


def after(minutes: int) -> dt.datetime:
    return NOON + dt.timedelta(minutes=minutes)


def found(kind: str, minutes: int = 0, by: int = SUPERVISOR, **more) -> OutcomeFacts:
    return OutcomeFacts(kind, by, after(minutes), **more)


def state_of(check: CheckFacts = CHECK, outcomes=(), photos=(), trouble=None, reopenings=()) -> State:
    troubles = {check.id: trouble} if trouble else {}
    pictures = [PhotographFacts(at) if isinstance(at, dt.datetime) else at for at in photos]
    facts = PointFacts([check], {check.id: list(outcomes)}, {check.id: pictures}, troubles, reopenings)
    return judge(facts).states[0].state


@pytest.mark.parametrize(
    ("outcomes", "state"),
    [
        ([], State.OPEN),
        ([found("met")], State.MET),
        ([found("not seen")], State.NOT_SEEN),
        ([found("not met")], State.NOT_MET),
        ([found("put right")], State.PUT_RIGHT),
        ([found("met"), found("not seen", 5)], State.NOT_SEEN),
        ([found("not met"), found("met", 5)], State.MET),
        ([found("not on this house")], State.NOT_HERE_ASKED),
        (
            [found("not on this house"), found("not on this house", 5, PLANNER, role="planner")],
            State.NOT_HERE,
        ),
        ([found("not on this house", 0, PLANNER, role="planner")], State.NOT_HERE_ASKED),
        ([found("not on this house"), found("not on this house", 5, DEPUTY)], State.NOT_HERE_ASKED),
        # What a planner confirmed once does not confirm what the walk says after it has found the thing.
        (
            [
                found("not on this house"),
                found("not on this house", 5, PLANNER, role="planner"),
                found("not met", 9),
                found("not on this house", 12),
            ],
            State.NOT_HERE_ASKED,
        ),
    ],
)
def test_the_latest_outcome_gives_the_state(outcomes, state):
    assert state_of(outcomes=outcomes) == state


def test_not_on_this_house_that_agrees_with_the_set_out_needs_no_planner():
    elsewhere = dataclasses.replace(CHECK, placed=False)
    assert state_of(elsewhere, [found("not on this house")]) is State.NOT_HERE


@pytest.mark.parametrize("kind", ["met", "put right"])
@pytest.mark.parametrize("needs", ["photo", "photo with tape", "document"])
def test_without_its_evidence_a_check_does_not_pass(kind, needs):
    check = dataclasses.replace(CHECK, needs=needs)
    assert state_of(check, [found(kind)]) is State.NO_EVIDENCE
    assert state_of(check, [found(kind)], [after(1)]) in (State.MET, State.PUT_RIGHT)


def test_the_number_of_a_document_stands_for_its_photograph():
    check = dataclasses.replace(CHECK, needs="document")
    assert state_of(check, [found("met", note="P-2291")]) is State.MET
    assert (
        state_of(dataclasses.replace(CHECK, needs="photo"), [found("met", note="P-2291")])
        is State.NO_EVIDENCE
    )


def test_own_hand_is_closed_by_another_person_only_and_only_with_a_photograph():
    mine = found("put right", own_hand=True)
    photo = [after(1)]
    assert state_of(outcomes=[mine], photos=photo) is State.SECOND_PERSON
    assert state_of(outcomes=[mine, found("met", 5)], photos=photo) is State.SECOND_PERSON
    closed = [mine, found("met", 5, DEPUTY)]
    assert state_of(outcomes=closed, photos=photo) is State.PUT_RIGHT
    assert state_of(outcomes=closed) is State.NO_EVIDENCE
    # Two people who both lent a hand need a third.
    both = [mine, found("put right", 3, DEPUTY, own_hand=True), found("met", 5, DEPUTY)]
    assert state_of(outcomes=both, photos=photo) is State.SECOND_PERSON
    # A verdict 'not met' in between does not hand the check back to whoever repaired it.
    again = [mine, found("not met", 3), found("met", 5)]
    assert state_of(outcomes=again, photos=photo) is State.SECOND_PERSON


def test_a_photograph_from_before_a_failure_or_of_the_failure_itself_proves_nothing():
    check = dataclasses.replace(CHECK, needs="photo")
    wrong = found("not met", 10, id=uuid.UUID(int=1))
    again = found("met", 20)
    assert state_of(check, [wrong, again], [after(5)]) is State.NO_EVIDENCE
    assert state_of(check, [wrong, again], [PhotographFacts(after(11), wrong.id)]) is State.NO_EVIDENCE
    assert state_of(check, [wrong, again], [after(5), after(15)]) is State.MET


def test_an_own_hand_is_shown_by_its_own_photograph_or_a_later_one():
    mine = found("put right", 10, own_hand=True, id=uuid.UUID(int=1))
    closed = [mine, found("met", 20, DEPUTY)]
    assert state_of(outcomes=closed, photos=[after(5)]) is State.NO_EVIDENCE
    assert state_of(outcomes=closed, photos=[PhotographFacts(after(9), mine.id)]) is State.PUT_RIGHT
    assert state_of(outcomes=closed, photos=[after(11)]) is State.PUT_RIGHT


def test_what_an_own_hand_did_and_was_found_wrong_since_needs_no_photograph_of_it():
    mine = found("put right", own_hand=True, id=uuid.UUID(int=1))
    photo = [PhotographFacts(after(0), mine.id)]
    history = [mine, found("not met", 5, DEPUTY), found("met", 9, DEPUTY)]
    assert state_of(outcomes=history, photos=photo) is State.PUT_RIGHT


def test_an_open_nonconformity_blocks_whatever_was_found_since():
    trouble = NonconformityFacts(1, "Ridge Plumbing", "Wed 11 Mar, afternoon")
    assert state_of(outcomes=[found("not met"), found("not seen", 5)], trouble=trouble) is State.NOT_MET


def test_a_concession_passes_except_for_safety_and_not_for_a_later_failure():
    trouble = NonconformityFacts(1, conceded_at=after(10))
    assert state_of(outcomes=[found("not met")], trouble=trouble) is State.CONCESSION
    assert state_of(outcomes=[found("not met"), found("not met", 20)], trouble=trouble) is State.NOT_MET
    safety = dataclasses.replace(CHECK, safety=True)
    assert state_of(safety, [found("not met")], trouble=trouble) is State.NOT_MET


def test_reopening_a_room_opens_its_checks_only_and_voids_their_evidence():
    bed = dataclasses.replace(CHECK, id=11, place=8, place_name="Bed 1", needs="photo")
    bath = dataclasses.replace(CHECK, needs="photo")
    facts = PointFacts(
        [bath, bed],
        {10: [found("met")], 11: [found("met")]},
        {10: [PhotographFacts(after(0))], 11: [PhotographFacts(after(0))]},
        {},
        [ReopeningFacts(after(30), frozenset({7}))],
    )
    assert [one.state for one in judge(facts).states] == [State.OPEN, State.MET]
    again = dataclasses.replace(facts, outcomes={10: [found("met"), found("met", 40)], 11: [found("met")]})
    assert [one.state for one in judge(again).states] == [State.NO_EVIDENCE, State.MET]


@pytest.mark.parametrize(("minutes", "state"), [(29, State.OPEN), (30, State.OPEN), (31, State.MET)])
def test_only_what_was_judged_after_the_reopening_counts(minutes, state):
    reopened = [ReopeningFacts(after(30), frozenset({7}))]
    assert state_of(outcomes=[found("met", minutes)], reopenings=reopened) is state


def test_reopening_without_places_opens_what_is_asked_once_for_the_house():
    whole = dataclasses.replace(CHECK, place=None, place_name="")
    reopened = [ReopeningFacts(after(30))]
    assert state_of(whole, [found("met")], reopenings=reopened) is State.OPEN
    assert state_of(CHECK, [found("met")], reopenings=reopened) is State.MET


def test_what_is_not_drawn_is_asked_as_soon_as_one_of_the_sample_fails():
    drawn = dataclasses.replace(CHECK, place=1)
    spared = dataclasses.replace(CHECK, id=11, place=2, drawn=False)
    good = judge(PointFacts([drawn, spared], {10: [found("met")]}))
    assert [one.state for one in good.states] == [State.MET, State.NOT_DRAWN]
    assert good.ready
    bad = judge(PointFacts([drawn, spared], {10: [found("not met"), found("met", 5)]}))
    assert [one.state for one in bad.states] == [State.MET, State.OPEN]


def test_where_the_work_was_disturbed_nothing_is_left_to_the_sample():
    spared = dataclasses.replace(CHECK, drawn=False)
    elsewhere = [ReopeningFacts(after(30), frozenset({8}))]
    here = [ReopeningFacts(after(30), frozenset({7}))]
    assert state_of(spared, reopenings=elsewhere) is State.NOT_DRAWN
    assert state_of(spared, reopenings=here) is State.OPEN
    assert state_of(spared, [found("met", 40)], reopenings=here) is State.MET
    asked = judge(PointFacts([spared], reopenings=here))
    assert (asked.ready, asked.left, asked.asked) == (False, 1, 1)


def test_a_photo_point_is_met_by_the_crews_photograph():
    check = dataclasses.replace(CHECK, by_photograph=True, needs="photo")
    assert state_of(check) is State.OPEN
    assert state_of(check, photos=[NOON]) is State.MET


def test_a_point_without_checks_is_never_ready():
    nothing = judge(PointFacts([]))
    assert not nothing.ready
    assert nothing.missing[0].waits_for == "planner"


def test_what_is_missing_is_said_in_words_by_section():
    caps = [
        dataclasses.replace(CHECK, id=20 + n, key="caps", section="air seal", subject="Void caps", place=n)
        for n in range(3)
    ]
    pipe = dataclasses.replace(CHECK, section="pipes")
    trouble = NonconformityFacts(1, "Ridge Plumbing", "Wed 11 Mar, afternoon")
    ready = judge(PointFacts([pipe, *caps], {10: [found("not met")], 20: [found("met")]}, {}, {10: trouble}))
    assert [(gap.section, gap.words, gap.waits_for) for gap in ready.missing] == [
        (
            "pipes",
            "Bath: No pipe rests on a chord: not met; with Ridge Plumbing, "
            "put right until Wed 11 Mar, afternoon",
            "Ridge Plumbing",
        ),
        ("air seal", "Void caps: 1 of 3 checked", "supervisor"),
    ]
    assert ready.of_section("air seal").left == 2
    assert ready.to_put_right == 1


kinds = st.sampled_from(["met", "not met", "put right", "not on this house", "not seen"])
histories = st.lists(
    st.builds(
        lambda kind, by, own, role: (kind, by, own and kind == "put right", role),
        kinds,
        st.integers(1, 3),
        st.booleans(),
        st.sampled_from(["supervisor", "planner"]),
    ),
    max_size=6,
)


# How fast a busy machine makes up histories says nothing about what is judged of them.
@given(histories, st.booleans(), st.integers(0, 6))
def test_nothing_passes_that_was_not_judged_fit_by_someone_with_clean_hands(history, photo, reopened):
    outcomes = [
        found(kind, minute, by, own_hand=own, role=role)
        for minute, (kind, by, own, role) in enumerate(history, start=1)
    ]
    reopenings = [ReopeningFacts(after(reopened), frozenset({7}))] if reopened else []
    one = judge(
        PointFacts(
            [CHECK], {10: outcomes}, {10: [PhotographFacts(after(99))] if photo else []}, {}, reopenings
        )
    ).states[0]
    counting = [outcome for outcome in outcomes if outcome.at > after(reopened)] if reopened else outcomes
    if one.passes:
        last = counting[-1]
        assert last.kind in ("met", "put right", "not on this house")
        assert not last.own_hand
        assert (
            last.kind == "not on this house"
            or last.by not in {outcome.by for outcome in counting if outcome.own_hand}
            or any(
                outcome.kind in ("met", "put right") and outcome.by != last.by and not outcome.own_hand
                for outcome in counting
            )
        )
    if not counting:
        assert one.state is State.OPEN


def test_what_is_missing_stands_in_the_order_of_what_it_costs():
    """Safety first, then the dearest miss, whether it is still open or was found not met."""
    checks = [
        CheckFacts(1, "a", "Bags kept", "seen", subject="batts", cost=0.2),
        CheckFacts(2, "b", "No pipe on a chord", "seen", subject="pipes", cost=3.0),
        CheckFacts(3, "c", "Voids capped", "seen", subject="caps", cost=1014.0),
        CheckFacts(4, "d", "Lamp clear", "seen", subject="hot fittings", safety=True),
    ]
    outcomes = {2: [found("not met")], 3: [found("met")]}
    lines = [gap.words for gap in judge(PointFacts(checks, outcomes)).missing]
    assert [
        next(word for word in ("Lamp", "lamp", "hot", "pipe", "batts") if word in line) for line in lines
    ] == [
        "hot",
        "pipe",
        "batts",
    ]
    lines = [gap.words for gap in judge(PointFacts(checks)).missing]
    assert [line.split(":")[0] for line in lines] == ["hot fittings", "caps", "pipes", "batts"]
