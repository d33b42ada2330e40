"""What asks nothing of a crew any more: conceded, or put right by own hand and waiting for the second."""

import pytest
from django.urls import reverse

from coordination.outbox.models import Message
from coordination.people.refusals import WrongState
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


def test_whoever_looks_again_hears_that_it_is_said_to_be_put_right(
    site, client, monday_morning, nothing_missing
):
    port, crew = HoldPointsPort(), site.crews["plumber"]
    site.find(site.check("pipe-off"), "not met")
    client.force_login(site.supervisor)
    assert "look again" not in client.get(reverse("hold_points:walks")).content.decode()
    for _press in range(2):
        monday_morning.shift(60)
        port.say_put_right(nonconformity_id=Nonconformity.objects.get().pk, crew=crew)
    told = Message.objects.get(kind="notice", person=site.supervisor, superseded_at=None)
    assert told.subject == "Said to be put right: Lot 7, Saltbush Rise, Bath"
    assert f"{crew} says that it is put right, look again: No pipe rests on a chord." in told.body
    assert not told.urgent
    assert "1 said to be put right: look again" in client.get(reverse("hold_points:walks")).content.decode()
    # Looked at again, it says so no more; said once more, it is told once more.
    site.find(site.check("pipe-off"), "not met", note="still")
    assert "look again" not in client.get(reverse("hold_points:walks")).content.decode()
    assert not Message.objects.filter(kind="notice", person=site.supervisor, superseded_at=None).exists()
    monday_morning.shift(60)
    port.say_put_right(nonconformity_id=Nonconformity.objects.get().pk, crew=crew)
    assert Message.objects.filter(kind="notice", person=site.supervisor, superseded_at=None).count() == 1
    site.find(site.check("pipe-off"))
    assert not Message.objects.filter(kind="notice", person=site.supervisor, superseded_at=None).exists()


def test_what_is_conceded_cannot_be_said_to_be_put_right(site):
    site.find(site.check("pipe-off"), "not met")
    give_concession(site)
    with pytest.raises(WrongState, match="by a concession"):
        HoldPointsPort().say_put_right(
            nonconformity_id=Nonconformity.objects.get().pk, crew=site.crews["plumber"]
        )
