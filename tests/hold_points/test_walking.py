"""Every outcome, what it asks for, what it brings about, and who may record it."""

import datetime as dt

import pytest

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Person, Role
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.models import DetailPlace, PlannedWindow
from hold_points import evidence
from hold_points.facts import load_point
from hold_points.identifiers import new_id
from hold_points.models import Evidence, Nonconformity, Outcome, RecordEntry
from hold_points.readiness import State
from hold_points.rooms import note_nothing
from hold_points.walking import confirm_not_here
from tests.hold_points.houses import make_site


def state_of(check):
    states = load_point(check.inspection).readiness.states
    return next(one.state for one in states if one.check.id == check.pk)


def test_met_is_on_the_record_with_who_and_what(site):
    outcome = site.find(site.check("pipe-off"), note="  all lie on webs ", device="tablet 3")
    assert state_of(site.check("pipe-off")) is State.MET
    entry = RecordEntry.objects.get(house=site.house)
    assert (entry.n, entry.kind) == (1, "outcome")
    for words in (
        str(outcome.pk),
        "No pipe rests on a chord.",
        site.supervisor.name,
        "all lie on webs",
        "tablet 3",
    ):
        assert words in entry.text


@pytest.mark.parametrize(("value", "passes"), [(24.9, False), (25, True), (25.1, True)])
def test_a_measured_value_is_judged_against_the_limit_of_this_house(site, value, passes):
    check = site.check("airway", "bath")
    if passes:
        site.find(check, value=value, photo=True)
        assert state_of(check) is State.MET
    else:
        with pytest.raises(BadInput, match="outside the limit of ≥ 25 mm"):
            site.find(check, value=value, photo=True)
        assert not Outcome.objects.exists()
        assert not Evidence.objects.exists()


@pytest.mark.parametrize("kind", [Outcome.Kind.MET, Outcome.Kind.NOT_MET])
@pytest.mark.parametrize(("key", "place"), [("dry", None), ("airway", "bath")])
def test_a_measured_length_or_share_is_never_less_than_nothing(site, key, place, kind):
    check = site.check(key, place) if place else site.check(key)
    with pytest.raises(BadInput, match=r"-5 is less than 0.*leave the number out, choose 'not met'"):
        site.find(check, kind, value=-5, note="proud")
    assert not Outcome.objects.exists()


@pytest.mark.parametrize(("value", "passes"), [(14.9, True), (15, True), (15.1, False)])
def test_at_most_is_judged_at_its_edge(site, value, passes):
    if passes:
        site.find(site.check("dry"), value=value)
    else:
        with pytest.raises(BadInput, match="≤ 15 %"):
            site.find(site.check("dry"), value=value)


@pytest.mark.parametrize("value", [2, 4, 2.5, -1, float("nan"), float("inf"), None])
def test_a_count_that_is_no_count_or_not_the_plans_is_refused(site, value):
    with pytest.raises(BadInput) as refusal:
        site.find(site.check("cap-count"), value=value)
    assert refusal.value.where == "value"


def test_a_number_where_none_is_asked_is_refused(site):
    with pytest.raises(BadInput, match="no number"):
        site.find(site.check("pipe-off"), value=3)


def test_not_met_within_the_limit_needs_a_note(site):
    check = site.check("airway", "bath")
    with pytest.raises(BadInput, match="within the limit"):
        site.find(check, "not met", value=31)
    site.find(check, "not met", value=31, note="torn batt in the airway")


def test_not_seen_never_counts_as_met(site):
    site.find(site.check("pipe-off"), "not seen")
    assert state_of(site.check("pipe-off")) is State.NOT_SEEN
    assert not load_point(site.point("H4")).readiness.of_section("pipes").ready


def test_not_met_goes_to_the_crew_that_installed_it_at_once(site):
    check = site.check("pipe-off")
    site.find(check, "not met", note="one pipe at the north wall")
    trouble = Nonconformity.objects.get()
    assert trouble.crew == site.crews["plumber"]
    window = PlannedWindow.objects.filter(detail=check.detail, plan__house=site.house).latest("plan__number")
    assert trouble.put_right_until == window.put_right_until
    message = Message.objects.get(kind="rework")
    assert (message.crew, message.about) == (site.crews["plumber"], f"nonconformity:{trouble.pk}")
    assert not message.urgent, "it is no news to wake a crew with: at once, but within the builder's hours"
    assert "one pipe at the north wall" in message.body
    assert clock.say_half_day(window.put_right_until) in message.body
    assert [one.kind for one in RecordEntry.objects.order_by("n")] == ["outcome", "nonconformity"]


def test_nobody_is_told_to_put_something_right_by_a_day_that_has_passed(site, monday_morning):
    check = site.check("pipe-off")
    site.find(check, "not met")
    monday_morning.shift(dt.timedelta(days=60))
    for _again in range(2):
        site.find(check, "not met", note="still")
        now = clock.current_half_day(site.builder.time_zone)
        assert Nonconformity.objects.get().put_right_until == now
        latest = Message.objects.filter(kind="rework").latest("pk")
        assert f"Put right until {clock.say_half_day(now)}." in latest.body
        monday_morning.shift(dt.timedelta(days=1))


def test_a_fresh_met_closes_it_and_its_message(site):
    check = site.check("pipe-off")
    site.find(check, "not met")
    fresh = site.find(check)
    trouble = Nonconformity.objects.get()
    assert (trouble.state, trouble.closed_by) == ("closed", fresh)
    assert Message.objects.get(kind="rework").superseded_at is not None
    first = next(one for one in load_point(check.inspection).readiness.states if one.check.id == check.pk)
    assert first.first_time is False


def test_not_met_twice_stays_one_nonconformity_and_tells_again(site):
    check = site.check("pipe-off")
    site.find(check, "not met")
    site.find(check, "not met", note="still there")
    assert Nonconformity.objects.count() == 1
    assert Message.objects.filter(kind="rework").count() == 2


def test_without_a_crew_the_planner_is_told(site):
    site.find(site.check("dry"), "not met", value=19)
    message = Message.objects.get(kind="notice")
    assert message.person == site.planner


def test_put_right_in_my_presence_keeps_the_first_failure_and_sends_nothing(site):
    check = site.check("pipe-off")
    site.find(check, "put right")
    assert state_of(check) is State.PUT_RIGHT
    assert not Message.objects.filter(kind="rework").exists()
    state = next(one for one in load_point(check.inspection).readiness.states if one.check.id == check.pk)
    assert state.first_time is False


def test_own_hand_needs_a_photograph_and_a_second_person(site):
    check = site.check("pipe-off")
    with pytest.raises(BadInput, match="photograph"):
        site.find(check, "put right", own_hand=True)
    assert not Outcome.objects.exists()
    site.find(check, "put right", own_hand=True, photo=True)
    assert state_of(check) is State.SECOND_PERSON
    with pytest.raises(WrongState, match="second person"):
        site.find(check)
    site.find(check, by=site.planner, from_photograph=True)
    assert state_of(check) is State.PUT_RIGHT
    assert Outcome.objects.get(by=site.planner).role == "planner"


def test_own_hand_does_not_close_what_was_not_met_until_the_second_person_has(site):
    check = site.check("pipe-off")
    site.find(check, "not met")
    site.find(check, "put right", own_hand=True, photo=True)
    assert Nonconformity.objects.get().state == "raised"
    site.find(check, by=site.deputy, from_photograph=True)
    assert Nonconformity.objects.get().state == "closed"


def test_own_hand_belongs_to_put_right_only(site):
    with pytest.raises(BadInput, match="Put right in my presence"):
        site.find(site.check("pipe-off"), own_hand=True)


def test_not_on_this_house_against_the_set_out_goes_to_the_planner(site):
    check = site.check("pipe-off")
    with pytest.raises(BadInput, match="Say in the note"):
        site.find(check, "not on this house")
    site.find(check, "not on this house", note="the bath drains through the slab")
    assert state_of(check) is State.NOT_HERE_ASKED
    notice = Message.objects.get(kind="notice")
    assert (notice.person, notice.about) == (site.planner, f"check:{check.pk}")
    with pytest.raises(NotAllowed):
        confirm_not_here(check, site.deputy)
    confirm_not_here(check, site.planner)
    assert state_of(check) is State.NOT_HERE
    with pytest.raises(WrongState):
        confirm_not_here(check, site.planner)


def test_one_person_who_plans_and_walks_does_not_confirm_herself(site):
    Role.objects.create(person=site.supervisor, builder=site.builder, kind="planner")
    site.find(site.check("pipe-off"), "not on this house", note="not there")
    with pytest.raises(WrongState, match="Another planner"):
        confirm_not_here(site.check("pipe-off"), site.supervisor)


def test_a_planner_alone_takes_nothing_off_the_walk(site):
    with pytest.raises(NotAllowed):
        site.find(site.check("pipe-off"), "not on this house", by=site.planner, note="not there")
    with pytest.raises(WrongState, match="Nothing is to be confirmed"):
        confirm_not_here(site.check("pipe-off"), site.planner)


def test_not_on_this_house_that_the_set_out_agrees_with_stands(site):
    check = site.check("pipe-off")
    DetailPlace.objects.filter(detail=check.detail).delete()
    site.find(check, "not on this house")
    assert state_of(check) is State.NOT_HERE


def test_the_same_again_is_harmless_and_another_under_its_id_is_refused(site):
    check, name = site.check("pipe-off"), new_id()
    first = site.find(check, "not met", id=name, note="north wall")
    again = site.find(check, "not met", id=str(name), note="north wall ")
    assert first == again
    assert (Outcome.objects.count(), Nonconformity.objects.count()) == (1, 1)
    assert Message.objects.filter(kind="rework").count() == 1
    for other in ({"kind": "met"}, {"kind": "not met", "note": "south"}):
        with pytest.raises(BadInput, match="Another outcome"):
            site.find(check, id=name, **other)
    with pytest.raises(BadInput, match="Another outcome"):
        site.find(check, "not met", by=site.deputy, id=name, note="north wall")


@pytest.mark.parametrize("name", ["", "7", "7d444840-9dc0-11d1-b245-5ffdce74fad2", "x" * 36])
def test_an_id_that_is_no_uuid_7_is_refused(site, name):
    with pytest.raises(BadInput) as refusal:
        site.find(site.check("pipe-off"), id=name)
    assert refusal.value.where == "id"


def test_a_tablet_whose_clock_runs_ahead_judges_no_later_than_it_arrives(site):
    outcome = site.find(site.check("pipe-off"), at=clock.now() + dt.timedelta(days=3))
    assert outcome.at == outcome.received_at == clock.now()


@pytest.mark.parametrize("who", ["planner", "stranger", "former", "future"])
def test_only_who_walks_for_this_builder_today_records(site, who):
    person = site.planner
    if who != "planner":
        person = Person.objects.create_user(f"{who}@example.org", "x" * 12, name=who)
        day = clock.today() + dt.timedelta(days=-1 if who == "former" else 1)
        if who == "stranger":
            other = make_site("lot-8", "wattle").builder
            Role.objects.create(person=person, builder=other, kind="supervisor")
        elif who == "former":
            Role.objects.create(person=person, builder=site.builder, kind="supervisor", last_day=day)
        else:
            Role.objects.create(person=person, builder=site.builder, kind="supervisor", first_day=day)
    with pytest.raises(NotAllowed):
        site.find(site.check("pipe-off"), by=person)
    assert not Outcome.objects.exists()


def test_a_deputy_records_on_the_days_of_the_role(site):
    deputy = Person.objects.create_user("holiday@example.org", "x" * 12, name="Holiday Cover")
    Role.objects.create(
        person=deputy,
        builder=site.builder,
        kind="supervisor",
        first_day=clock.today(),
        last_day=clock.today(),
        deputy_for=Role.objects.get(person=site.supervisor),
    )
    assert site.find(site.check("pipe-off"), by=deputy).by == deputy


def test_a_check_is_judged_from_a_photograph_only_where_that_is_allowed(site):
    with pytest.raises(WrongState, match="cannot be judged from a photograph"):
        site.find(site.check("pipe-off"), from_photograph=True, photo=True)
    with pytest.raises(WrongState, match="safety"):
        site.find(site.check("hot"), from_photograph=True, photo=True)
    with pytest.raises(BadInput, match="no photograph"):
        site.find(site.check("full", "bed"), from_photograph=True)
    site.find(site.check("full", "bed"), from_photograph=True, photo=True)
    site.find(site.check("pocket-filled"), from_photograph=True, photo=True)


def test_the_same_picture_shows_one_thing_only(site):
    import io

    photograph = evidence.read_photograph(io.BytesIO(site.picture()))
    site.find(site.check("full", "bed"), photos=[photograph])
    with pytest.raises(BadInput, match="already shows something else"):
        site.find(site.check("full", "bath"), photos=[photograph])
    assert Outcome.objects.count() == 1


def test_nothing_to_note_needs_the_rooms_photograph_and_spares_numbers_evidence_and_safety(site):
    import io

    inspection, bath = site.point("H5"), site.place("bath")
    with pytest.raises(WrongState, match="photograph of the room"):
        note_nothing(inspection, bath, site.supervisor)
    shows = evidence.Shows(inspection=inspection, place=bath, by=site.supervisor)
    evidence.accept(io.BytesIO(site.picture()), site.house, shows)
    outcomes = note_nothing(inspection, bath, site.supervisor)
    assert [one.check_judged.key for one in outcomes] == ["full"]
    assert state_of(site.check("airway", "bath")) is State.OPEN
    with pytest.raises(WrongState, match="Nothing is left"):
        note_nothing(inspection, bath, site.supervisor)
    with pytest.raises(NotAllowed):
        note_nothing(inspection, bath, site.planner)


def test_nothing_to_note_never_passes_a_safety_check(site):
    import io

    inspection, bed = site.point("H4"), site.place("bed")
    shows = evidence.Shows(inspection=inspection, place=bed, by=site.supervisor)
    evidence.accept(io.BytesIO(site.picture()), site.house, shows)
    with pytest.raises(WrongState, match="Nothing is left"):
        note_nothing(inspection, bed, site.supervisor)
