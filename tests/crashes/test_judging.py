"""What looks at the database after a crash sees what a crash could have done."""

import json

import pytest
from django.urls import reverse

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.sequence.models import HoldBefore
from hold_points import record
from hold_points.identifiers import new_id
from tests.crashes import judging


@pytest.fixture
def book(site):
    """One outcome that was acknowledged, one that was refused, one release, one re-opening that was done."""
    site.release_all("H3")
    check = site.check("pipe-off")
    found = site.find(check)
    release = new_id()
    site.pass_checks("H4")
    site.sign("H4", id=release)
    address = reverse("hold_points:check", args=[check.pk])
    return {
        "outcomes": {
            str(found.pk): {"check": address, "kind": "met", "answer": "acknowledged"},
            str(new_id()): {"check": address, "kind": "met", "answer": "refused"},
            str(new_id()): {"check": address, "kind": "met", "answer": "unanswered"},
        },
        "releases": {str(release): {"house": site.house.pk, "answer": "acknowledged"}},
        "acts": {f"re-open {site.house.pk}": [0, 0], f"make firm {site.house.pk}": [0, 1]},
    }


def test_nothing_is_wrong_with_what_went_well(book):
    assert judging.judge_entries(book) == judging.judge_acts(book) == judging.judge_houses() == []


def spoil(book, site, what):
    """Make one thing wrong; returns the words that have to be said of it."""
    acknowledged = next(iter(book["outcomes"]))
    if what == "lost":
        book["outcomes"][str(new_id())] = dict(book["outcomes"][acknowledged])
        return "acknowledged and lost"
    if what == "refused":
        book["outcomes"][acknowledged]["answer"] = "refused"
        return "refused and there"
    if what == "doubled":
        record.append(site.house, "outcome", {"outcome": acknowledged})
        return "2 times on the record"
    if what == "another kind":
        book["outcomes"][acknowledged]["kind"] = "not met"
        return "not as it was sent"
    if what == "another house":
        next(iter(book["releases"].values()))["house"] += 1
        return "a release of another house"
    if what == "act":
        book["acts"][f"re-open {site.house.pk}"] = [1, 2]
        return "0 done, 1 acknowledged"
    HoldBefore.objects.filter(hold=site.hold("H4")).delete()
    return "H4"


SPOILS = ("lost", "refused", "doubled", "another kind", "another house", "act", "closure")


@pytest.mark.parametrize("what", SPOILS)
def test_it_is_said_when(what, book, site):
    words = spoil(book, site, what)
    troubles = judging.judge_entries(book) + judging.judge_acts(book) + judging.judge_houses()
    assert troubles
    assert all(words in one or "Services and air seal" in one for one in troubles), troubles


def test_what_the_outbox_has_not_sent_is_named(book, site, monkeypatch):
    monkeypatch.setattr(judging, "OUTBOX_SECONDS", 0)
    site.pencil("plumb")
    assert any(one.startswith("not sent: notice") for one in judging.wait_for_outbox())
    Message.objects.update(superseded_at=None, sent_at=clock.now())
    assert judging.wait_for_outbox() == []
    message = Message.objects.filter(crew__isnull=False)[0]
    gathered = Digest.objects.create(
        builder=site.builder,
        crew=site.crews["plumber"],
        day="2026-04-13",
        created_at=clock.now(),
        sent_at=clock.now(),
    )
    Message.objects.filter(pk=message.pk).update(digest=gathered, sent_at=None)
    [said] = judging.wait_for_outbox()
    assert said.startswith("its digest was sent and it looks unsent")
    assert f"digest-{gathered.pk}" not in judging.list_mails()["sent"]
    assert json.dumps(judging.list_mails())
