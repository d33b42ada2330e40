"""What the set-out did not foresee, found on the walk: a place, a detail, or something else."""

import json

import pytest
from django.urls import reverse

from coordination.outbox.models import Message
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.changing import change_house
from coordination.sequence.models import DetailPlace, Place
from hold_points.facts import load_point
from hold_points.found_on_site import add_found
from hold_points.models import Check, RecordEntry
from tests.hold_points.houses import make_site

pytestmark = pytest.mark.usefixtures("nothing_missing")


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


def add(site, point="H5", by=None, **more):
    return add_found(site.point(point), by or site.supervisor, **more)


def test_one_more_place_of_a_detail_is_added_from_the_walk_and_keeps_the_point_closed(site, client):
    site.release_all("H3", "H4")
    site.pass_checks("H5")
    assert load_point(site.point("H5")).readiness.ready
    client.force_login(site.supervisor)
    walk = page("walk", site.point("H5").pk) + f"?room={site.place('bed').pk}"
    address = page("found_on_site", site.point("H5").pk)
    assert address in client.get(walk).content.decode()
    detail = site.check("full", "bed").detail_id
    answer = client.post(address, {"detail": detail, "new_place": "Linen cupboard"})
    found = Check.objects.get(found_on_site=True, key="full")
    assert answer.headers["Location"] == page("check", found.pk)
    assert (found.key, str(found.place), found.text) == ("full", "Linen cupboard", "Batts fill the frame.")
    assert not load_point(site.point("H5")).readiness.ready
    assert "Linen cupboard" in client.get(page("walk", site.point("H5").pk), follow=True).content.decode()
    facts = json.loads(RecordEntry.objects.get(kind="found on site").text)["facts"]
    assert (facts["place"], facts["what"], facts["by"]["name"]) == (
        "Linen cupboard",
        "Batts",
        site.supervisor.name,
    )
    assert Message.objects.filter(person=site.planner, subject__startswith="Found on site").count() == 1
    site.pass_checks("H5")
    site.sign("H5")
    assert not site.hold("H5").is_open


def test_something_else_is_judged_by_its_own_words_and_a_photograph(site):
    [found] = add(site, "H4", words="A flue that is not on the plan", place_id=site.place("bed").pk)
    assert (found.evidence, found.section, found.detail) == ("photo", "air seal", None)
    site.find(found, "not met", note="touches the batt")
    assert load_point(site.point("H4")).readiness.to_put_right == 1


def test_a_press_that_arrives_twice_adds_it_once(site, client):
    client.force_login(site.supervisor)
    address = page("found_on_site", site.point("H4").pk)
    other = {"words": "An old flue in the wall", "new_place": "Linen cupboard"}
    one_more = {"detail": site.check("pipe-off").detail_id, "place": site.place("garage").pk}
    for sent in (other, one_more):
        before = Check.objects.count()
        first = client.post(address, sent)
        added = Check.objects.count() - before
        assert added > 0
        again = client.post(address, {**sent, "words": sent.get("words", "").upper()})
        assert (again.status_code, again.headers["Location"]) == (302, first.headers["Location"])
        assert Check.objects.count() - before == added
    assert RecordEntry.objects.filter(kind="found on site").count() == 2
    assert Message.objects.filter(subject__startswith="Found on site", person=site.planner).count() == 2
    # Once it is judged, the same words are another one.
    flue = Check.objects.get(text="An old flue in the wall")
    site.find(Check.objects.select_related("inspection__house__builder").get(pk=flue.pk), "not met")
    client.post(address, other)
    assert Check.objects.filter(text="An old flue in the wall").count() == 2


def test_it_is_not_simply_not_on_this_house(site):
    """The set-out does not have it, but somebody saw it: that it is not there needs two people again."""
    found, _airway = add(site, detail_id=site.check("full", "bed").detail_id, new_place="Linen cupboard")
    with pytest.raises(BadInput, match="why it is not on this house"):
        site.find(found, "not on this house")
    site.find(found, "not on this house", note="it is a shelf")
    state = next(one for one in load_point(site.point("H5")).readiness.states if one.check.id == found.pk)
    assert not state.passes


def test_a_later_change_of_the_house_leaves_it_there_with_the_limit_of_its_like(site):
    add(site, detail_id=site.check("full", "bed").detail_id, new_place="Linen cupboard")
    place = Place.objects.get(name="Linen cupboard")
    found = {one.key: one for one in Check.objects.filter(place=place, withdrawn_at=None)}
    assert set(found) == {"full", "airway"}
    site.find(found["full"])
    change_house(site.house, by=site.planner, features={"airway": 30})
    after = {one.key: one for one in Check.objects.filter(place=place, withdrawn_at=None)}
    assert after["full"] == found["full"], "its question has not changed"
    assert (after["airway"].limit, after["airway"].found_on_site) == (30, True)
    states = {one.check.id: one for one in load_point(site.point("H5")).readiness.states}
    assert states[after["full"].pk].passes
    assert states[after["airway"].pk].check.placed


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"words": "abc"},
        {"words": "A flue that is not on the plan"},
        {"words": "A flue that is not on the plan", "new_place": "x"},
        {"words": "A flue that is not on the plan", "place_id": 999_999},
        {"detail_id": 999_999, "new_place": "Linen cupboard"},
    ],
)
def test_what_says_neither_what_nor_where_is_refused_and_nothing_is_kept(site, values):
    before = (Check.objects.count(), Place.objects.count(), DetailPlace.objects.count())
    with pytest.raises(BadInput):
        add(site, **values)
    assert (Check.objects.count(), Place.objects.count(), DetailPlace.objects.count()) == before


def test_it_is_added_by_whoever_walks_and_not_to_what_is_released(site, client):
    words = {"words": "A flue that is not on the plan", "place_id": site.place("bed").pk}
    with pytest.raises(NotAllowed):
        add(site, by=site.planner, **words)
    with pytest.raises(NotAllowed):
        add(site, by=make_site("lot-8", "wattle").supervisor, **words)
    site.release_all("H3")
    with pytest.raises(WrongState, match="released"):
        add(site, "H3", **words)
    client.force_login(site.planner)
    assert client.post(page("found_on_site", site.point("H5").pk), words).status_code == 403


def test_the_planner_hears_of_it_in_at_most_300_characters(site):
    site.supervisor.name = "Wilhelmina " * 10
    add(site, by=site.supervisor, words="A flue " * 28, new_place="Cupboard " * 8)
    assert 200 < len(Message.objects.get(subject__startswith="Found on site").body) <= 300


def test_a_name_that_the_house_has_already_is_that_place(site):
    before = Place.objects.count()
    with pytest.raises(WrongState, match="judged there already"):
        add(site, detail_id=site.check("full", "bed").detail_id, new_place="bed 1")
    assert Place.objects.count() == before
