"""Rooms re-opened one after another: each time the crew at work is stopped and the office hears of it."""

import datetime as dt

from coordination import clock
from coordination.outbox.models import Message
from coordination.sequence import bookings
from coordination.sequence.inspection import port
from hold_points.releasing import reopen


def test_further_rooms_of_a_point_that_is_open_already_stop_the_crew_at_work_and_are_told(
    site, client, monday_morning, nothing_missing
):
    site.release_all("H3", "H4", "H5")
    site.pencil("linings")
    bookings.make_firm(site.booking("linings"), site.planner)
    bookings.report_under_way(site.booking("linings"), crew=site.crews["plasterer"])
    said = [("bed", "Bed 1", site.crews["installer"]), ("bath", "Bath", None)]
    for key, _name, crew in said:
        Message.objects.update(sent_at=clock.now())
        monday_morning.shift(dt.timedelta(minutes=5))
        by = None if crew else site.supervisor
        reopen(site.point("H5"), [site.place(key).pk], f"pulled in {key}", by=by, crew=crew)
        monday_morning.shift(dt.timedelta(minutes=5))
        told = Message.objects.filter(sent_at__isnull=True)
        assert {one.person for one in told if one.person} == {site.planner, site.supervisor}
        assert all(f"pulled in {key}" in one.body for one in told)
    stops = Message.objects.filter(crew=site.crews["plasterer"], kind="stop").order_by("pk")
    assert [one.facts["rooms"] for one in stops] == [["Bed 1"], ["Bath"]]
    hold = site.hold("H5")
    assert port().missing([hold.pk])[hold.pk].reopened_places == ("Bed 1", "Bath")

    site.pass_checks("H5")
    monday_morning.shift(dt.timedelta(minutes=5))
    site.sign("H5")
    monday_morning.shift(dt.timedelta(minutes=5))
    reopen(site.point("H5"), [site.place("garage").pk], "again", by=site.supervisor)
    assert port().missing([hold.pk])[hold.pk].reopened_places == ("Garage",), "the others were released"


def test_a_point_that_nobody_went_by_is_re_opened_without_a_word_to_the_office(site):
    site.release_all("H3")
    site.find(site.check("pipe-off"))
    Message.objects.all().delete()
    reopen(site.point("H4"), [site.place("bath").pk], "looked too early", by=site.supervisor)
    assert not Message.objects.exists()
