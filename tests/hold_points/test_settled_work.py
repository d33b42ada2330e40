"""What asks nothing of a crew any more: conceded, or put right by own hand and waiting for the second."""

import pytest
from django.urls import reverse

from coordination.outbox.models import Message
from hold_points.models import Nonconformity
from hold_points.port import HoldPointsPort
from tests.hold_points.test_releasing import give_concession


@pytest.mark.parametrize("how", ["conceded", "own hand"])
def test_the_crew_is_asked_no_more_and_may_call_its_walk(site, client, monday_morning, how, nothing_missing):
    port, visit, crew = HoldPointsPort(), site.visit("plumb"), site.crews["plumber"]
    check = site.check("pipe-off")
    site.find(check, "not met", note="north wall")
    client.force_login(site.supervisor)
    walk = reverse("hold_points:walk", args=[site.point("H4").pk]) + f"?room={site.place('bath').pk}"
    assert next(one.kind for one in port.work([visit.pk])[visit.pk]) == "rework"
    assert "To be put right" in client.get(walk).content.decode()

    monday_morning.shift(60)
    if how == "conceded":
        give_concession(site)
    else:
        site.find(check, "put right", own_hand=True, photo=True)
    assert "rework" not in {one.kind for one in port.work([visit.pk])[visit.pk]}
    assert "To be put right" not in client.get(walk).content.decode()
    assert "Put right until" not in client.get(reverse("hold_points:check", args=[check.pk])).content.decode()
    assert Message.objects.get(kind="rework", crew=crew).superseded_at is not None
    said = list(Message.objects.filter(kind="notice", crew=crew).values_list("subject", flat=True))
    assert said == (
        ["Nothing to put right any more: Lot 7, Saltbush Rise, Bath"] if how == "conceded" else []
    )
    assert port.call_ready(visit_id=visit.pk, crew=crew) == ["Services and air seal"]
    assert Nonconformity.objects.get().state == "raised"

    # Found wrong again, it is the crew's work again.
    monday_morning.shift(60)
    site.find(check, "not met", by=site.deputy, note="still")
    assert next(one.kind for one in port.work([visit.pk])[visit.pk]) == "rework"
    assert "To be put right" in client.get(walk).content.decode()
    waiting = Message.objects.filter(kind="rework", crew=crew, superseded_at=None)
    assert "still" in waiting.get().body
