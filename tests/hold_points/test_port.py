"""What coordination asks: states of holds, a crew's work, its photographs, calls and re-openings."""

import io

import pytest
from django.db import connection

from coordination.outbox.models import Message
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, guard
from coordination.sequence.inspection import port
from hold_points.models import Call, Evidence, Nonconformity, RecordEntry
from hold_points.port import HoldPointsPort
from tests.hold_points.houses import make_site


def send(site, crew="carpenter", **more):
    return port().accept_photo(
        house=site.house, crew=site.crews[crew], file=io.BytesIO(site.picture()), **more
    )


def test_the_settings_name_this_port():
    assert isinstance(port(), HoldPointsPort)


def test_an_open_hold_says_what_is_missing_in_words(site):
    site.find(site.check("pipe-off"), "not met")
    state = port().missing([site.hold("H4").pk])[site.hold("H4").pk]
    crew = site.crews["plumber"].name
    assert any(one.words.startswith("Pipes off the chords: 1 of 2 checked") for one in state.missing)
    said = next(one for one in state.missing if "No pipe rests on a chord" in one.words)
    assert said.words.startswith(f"Bath: No pipe rests on a chord: not met; with {crew}")
    assert (said.section, said.waits_for) == ("pipes", crew)
    # Safety stands first.
    assert state.missing[0].words.startswith("Void caps")
    assert (state.checks_open, state.checks_total, state.put_right_open) == (4, 4, 1)
    assert state.page.endswith("/held/")


def test_a_released_hold_misses_nothing_and_names_its_signer(site, monday_morning):
    site.release_all("H3", "H4")
    hold = site.hold("H4")
    state = port().missing([hold.pk])[hold.pk]
    assert (state.missing, state.released_by, state.reopened_at) == ((), "KM", None)
    monday_morning.shift(60)
    port().reopen_by_person(
        point_id=hold.point_id, person=site.supervisor, place_ids=[site.place("bath").pk], reason="moved"
    )
    state = port().missing([hold.pk])[hold.pk]
    assert state.released_by == "KM", "the former release stays legible"
    assert state.reopened_places == ("Bath",)
    assert [one.words for one in state.missing] == ["Pipes off the chords: 0 of 2 checked"]


def test_many_holds_are_answered_in_a_fixed_number_of_queries(site, django_assert_max_num_queries):
    other = make_site("lot-8", "wattle")
    ids = [hold.pk for house in (site.house, other.house) for hold in house.holds.all()]
    with django_assert_max_num_queries(16):
        assert set(port().missing(ids)) == set(ids)


def test_work_of_a_visit_is_checks_photographs_and_rework(site, django_assert_max_num_queries):
    site.find(site.check("pipe-off"), "not met", note="north wall", photo=True)
    site.prepare()
    visits = [site.visit("plumb").pk, site.visit("batts").pk]
    with django_assert_max_num_queries(24):
        work = port().work(visits)
    plumber = work[visits[0]]
    assert [one.kind for one in plumber] == ["rework", "photo", "check", "check", "check", "check"]
    rework = plumber[0]
    assert "north wall" in rework.words
    assert (rework.place, len(rework.photo_ids), rework.put_right_until is not None) == ("Bath", 1, True)
    photo = plumber[1]
    assert (photo.words, photo.place_id, photo.done) == (
        "Lagged at the clips too.",
        site.place("bath").pk,
        False,
    )
    full = next(one for one in work[visits[1]] if one.words == "Batts fill the frame.")
    assert full.place == "Bath, Bed 1, Garage"
    airway = next(one for one in work[visits[1]] if one.words.startswith("Clear airway"))
    assert (airway.limit, airway.drawing, airway.drawing_numbers["airway"]) == ("≥ 25 mm", "eave", 25)


def test_a_photo_point_is_passed_by_the_crews_photograph(site):
    point = site.point("P2").point
    send(site, "plumber", point_id=point.pk, detail=site.check("lagged").detail)
    assert Evidence.objects.get().place == site.place("bath")
    point.refresh_from_db()
    assert point.actual_finish is not None


def test_a_photograph_of_one_of_several_rooms_has_to_say_which(site):
    with pytest.raises(BadInput, match="which room"):
        send(site, "installer", detail=site.check("full", "bed").detail)


def test_a_photograph_from_a_crew_that_is_not_booked_here_is_refused(site):
    other = make_site("lot-8", "wattle")
    with pytest.raises(NotAllowed):
        port().accept_photo(
            house=site.house,
            crew=other.crews["plumber"],
            file=io.BytesIO(site.picture()),
            detail=site.check("lagged").detail,
        )
    with pytest.raises(BadInput, match="not of this house"):
        send(site, point_id=other.point("P2").point_id)
    assert not Evidence.objects.exists()


def test_a_bad_file_from_a_crew_is_refused_and_nothing_kept(site):
    with pytest.raises(BadInput):
        port().accept_photo(
            house=site.house,
            crew=site.crews["plumber"],
            file=io.BytesIO(b"<svg/>"),
            detail=site.check("lagged").detail,
        )
    assert not Evidence.objects.exists()


def test_only_the_crew_that_has_it_says_that_it_is_put_right(site):
    site.find(site.check("pipe-off"), "not met")
    trouble = Nonconformity.objects.get()
    with pytest.raises(NotAllowed):
        port().say_put_right(nonconformity_id=trouble.pk, crew=site.crews["installer"])
    send(site, "plumber", nonconformity_id=trouble.pk)
    port().say_put_right(nonconformity_id=trouble.pk, crew=site.crews["plumber"])
    port().say_put_right(nonconformity_id=trouble.pk, crew=site.crews["plumber"])
    trouble.refresh_from_db()
    assert trouble.state == "put right"
    assert RecordEntry.objects.filter(kind="said put right").count() == 1
    assert port().missing([site.hold("H4").pk])[site.hold("H4").pk].put_right_open == 1, "still not met"
    site.find(site.check("pipe-off"))
    with pytest.raises(WrongState):
        port().say_put_right(nonconformity_id=trouble.pk, crew=site.crews["plumber"])


def test_what_may_be_closed_from_the_trades_photograph_is_closed_at_the_desk(site):
    check = site.check("full", "bed")
    site.find(check, "not met")
    trouble = Nonconformity.objects.get()
    send(site, "installer", nonconformity_id=trouble.pk)
    site.find(check, from_photograph=True)
    trouble.refresh_from_db()
    assert trouble.state == "closed"


def test_another_trades_photograph_is_kept_and_closes_no_photo_point(site):
    check = site.check("lagged")
    port().accept_photo(
        house=site.house,
        crew=site.crews["plasterer"],
        file=io.BytesIO(site.picture()),
        detail=check.detail,
        place=check.place,
    )
    assert Evidence.objects.get().detail is None
    assert site.point("P2").point.actual_finish is None
    send(site, "plumber", detail=check.detail, place=check.place)
    assert site.point("P2").point.actual_finish is not None


def test_a_check_that_allows_it_is_offered_from_the_photograph_with_a_new_one_only(site, client):
    check = site.check("full", "bed")
    site.find(check, "not met", photo=True)
    client.force_login(site.supervisor)
    pages = [f"/walks/checks/{check.pk}/", f"/walks/{check.inspection_id}/photographs/"]
    shown = [client.get(one).content.decode() for one in pages]
    assert "From the photograph: I judge it" not in shown[0]
    assert "Met, from the photograph" not in shown[1]
    send(site, "installer", nonconformity_id=Nonconformity.objects.get().pk)
    assert "From the photograph: I judge it" in client.get(pages[0]).content.decode()
    assert "Met, from the photograph" in client.get(pages[1]).content.decode()


def test_a_crew_calls_its_points_and_the_supervisor_hears_once(site):
    visit = site.visit("plumb")
    crew = site.crews["plumber"]
    assert port().call_ready(visit_id=visit.pk, crew=crew, note="gauge is on") == ["Services and air seal"]
    assert port().call_ready(visit_id=visit.pk, crew=crew) == ["Services and air seal"]
    assert Call.objects.count() == 1
    message = Message.objects.get(kind="call")
    assert (message.person, "gauge is on" in message.body) == (site.supervisor, True)
    assert port().missing([site.hold("H4").pk])[site.hold("H4").pk].walk_called_at is not None
    with pytest.raises(NotAllowed):
        port().call_ready(visit_id=visit.pk, crew=site.crews["installer"])


def test_a_call_before_a_reopening_counts_no_more(site, monday_morning):
    port().call_ready(visit_id=site.visit("plumb").pk, crew=site.crews["plumber"])
    site.release_all("H3", "H4")
    monday_morning.shift(60)
    port().reopen_by_crew(
        point_id=site.point("H4").point_id,
        crew=site.crews["installer"],
        place_ids=[site.place("bath").pk],
        reason="pushed a pipe down",
    )
    assert port().missing([site.hold("H4").pk])[site.hold("H4").pk].walk_called_at is None
    monday_morning.shift(60)
    port().call_ready(visit_id=site.visit("plumb").pk, crew=site.crews["plumber"])
    assert Call.objects.count() == 2


def test_a_firm_booking_is_refused_in_the_ports_words(site):
    site.pencil("batts")
    with pytest.raises(WrongState) as refusal:
        bookings.make_firm(site.booking("batts"), site.planner)
    assert "Services and air seal: Pipes off the chords: 0 of 2 checked" in refusal.value.missing


def test_a_hold_without_an_inspection_stays_shut_and_says_so(site):
    # As in a database that was made without its guard, which keeps an inspection at its point.
    guard.uninstall(connection)
    site.point("H5").delete()
    state = port().missing([site.hold("H5").pk])[site.hold("H5").pk]
    assert [one.words for one in state.missing] == ["no inspection is set out for this hold point"]
