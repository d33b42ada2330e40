"""Setting out on one screen and from a file: errors stand at their fields, and nothing is half saved."""

from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from coordination.sequence.models import Booking, House, Place
from tests.planner.conftest import text_of
from tests.sequence.brick_veneer import Office

pytestmark = pytest.mark.django_db

ORDER = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "saltbush_lot_7.toml"


def filled_form(planner: Client, **changes: Any) -> dict[str, Any]:
    """What a browser sends when the planner changes these fields of the page and nothing else."""
    page = planner.get("/houses/new/")
    form, places = page.context["form"], page.context["places"]
    entries: dict[str, Any] = {"sequence": page.context["version"].pk}
    fields = [*form, *places.management_form, *(field for row in places.forms for field in row)]
    for field in fields:
        value = field.value()
        if field.widget_type == "checkbox":
            if value:
                entries[field.html_name] = "on"
        elif field.widget_type == "select" and value is None:
            first = next(iter(field.field.choices))[0]
            entries[field.html_name] = getattr(first, "value", first)
        elif value is not None:
            entries[field.html_name] = value
    return {**entries, "name": "Lot 9, Saltbush Rise", "starts_on": "2026-04-20", **changes}


def test_page_asks_for_every_feature_of_the_sequence_with_its_default(
    planner: Client, office: Office
) -> None:
    page = planner.get("/houses/new/")
    assert page.status_code == 200
    words = text_of(page)
    for label in ("Roof pitch, °", "Heel height, mm", "Bushfire attack level", "Ceiling batt, thickness"):
        assert label in words
    shown = page.content.decode()
    assert 'name="feature_pitch" value="22.5"' in shown
    assert "South wall" in shown
    assert "3 to 60." in words  # the limits of the pitch


def test_house_is_set_out_as_the_form_says(planner: Client, office: Office) -> None:
    plasterer = office.crew("plasterer", "Banksia Linings")
    entries = filled_form(
        planner,
        feature_heel_height="150",
        feature_wall_batt_r="5",
        address="9 Saltbush Rise, Example Vale",
        supervisor=office.supervisor.pk,
        crew_plasterer=plasterer.pk,
        parking="On the street only",
    )
    answer = planner.post("/houses/new/", entries, follow=True)
    house = House.objects.get(key="lot-9-saltbush-rise")
    assert (house.supervisor, house.parking) == (office.supervisor, "On the street only")
    assert house.features["heel_height"] == 150
    assert house.features["wall_batt_r"] == 5
    assert house.places.count() == 17  # as the sequence starts a house
    assert house.places.get(key="bathroom").attributes["void_caps"] == 2
    assert set(Booking.objects.filter(house=house).values_list("crew", flat=True)) == {plasterer.pk}
    words = text_of(answer)
    assert "Lot 9, Saltbush Rise is set out." in words
    assert "150 mm" in words
    # 0.09 m / 5 m²K/W = 0.018 W/(mK): no batt is that good (handbook ranges, from memory).
    assert "Wall batts: R5 in 90 mm means 0.018 W/(mK)" in words
    assert answer.redirect_chain[-1][0] == f"/houses/{house.pk}/ordered/"


def test_result_shows_limits_computed_for_this_house_with_their_source(
    planner: Client, office: Office
) -> None:
    planner.post("/houses/new/", filled_form(planner))
    house = House.objects.get(key="lot-9-saltbush-rise")
    words = text_of(planner.get(f"/houses/{house.pk}/ordered/"))
    # (290 - 100 + 25) mm of missing height over tan 22.5° = 0.41421: 519.06 mm, computed here by hand.
    assert "between 519 and 569 mm" in words
    assert "geometry of a straight roof" in words


def test_places_are_added_renamed_and_left_out(planner: Client, office: Office) -> None:
    entries = filled_form(planner)
    names = {value: key for key, value in entries.items() if key.endswith("-name")}
    entries[names["Bedroom 3"]] = ""
    entries[names["Laundry"]] = "Laundry and mud room"
    spare = next(f"place-{n}-name" for n in range(17, 30) if not entries.get(f"place-{n}-name"))
    entries[spare] = "Study"
    planner.post("/houses/new/", entries)
    house = House.objects.get(key="lot-9-saltbush-rise")
    found = dict(Place.objects.filter(house=house).values_list("key", "name"))
    assert "bedroom-3" not in found
    assert found["laundry"] == "Laundry and mud room"
    assert found["study"] == "Study"


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("feature_pitch", "1", "greater than or equal to 3"),
        ("feature_storeys", "2", "storey"),  # this entry sets one storey out
        ("name", "", "This field is required."),
        ("starts_on", "soon", "This is no day."),
        ("starts_on", "9999-12-31", "Look at the year"),
        ("required_by", "0206-04-13", "Look at the year"),
        ("required_by", "2026-01-01", "wanted before it starts"),
    ],
)
def test_error_stands_at_its_field_and_nothing_is_saved(
    planner: Client, office: Office, field: str, value: str, words: str
) -> None:
    answer = planner.post("/houses/new/", filled_form(planner, **{field: value}))
    assert words in " ".join(str(error) for error in answer.context["form"].errors[field])
    assert "Nothing was saved." in text_of(answer)
    assert not House.objects.exists()


def test_two_places_of_one_name_are_refused_by_name(planner: Client, office: Office) -> None:
    entries = filled_form(planner)
    spare = [f"place-{n}-name" for n in range(17, 21)]
    answer = planner.post("/houses/new/", {**entries, spare[0]: "Study", spare[1]: "Study"})
    assert answer.status_code == 422
    assert "place 'study': It is there twice." in text_of(answer)
    assert not House.objects.exists()


def test_options_that_disagree_are_refused_at_the_options(planner: Client, office: Office) -> None:
    entries = filled_form(planner, options=["direct-ceiling", "no-such"])
    answer = planner.post("/houses/new/", entries)
    assert "options" in answer.context["form"].errors
    chosen = planner.post("/houses/new/", filled_form(planner, options=["direct-ceiling"]))
    assert chosen.status_code == 302
    assert House.objects.get().options == ["direct-ceiling"]


def test_short_name_is_given_once(planner: Client, office: Office) -> None:
    planner.post("/houses/new/", filled_form(planner))
    answer = planner.post("/houses/new/", filled_form(planner))
    assert "There is a house with this short name already." in text_of(answer)
    assert House.objects.count() == 1


def send(planner: Client, office: Office, text: bytes, name: str = "order.toml") -> Any:
    order = SimpleUploadedFile(name, text)
    return planner.post("/houses/new/file/", {"builder": office.builder.slug, "file": order}, follow=True)


def test_house_is_set_out_from_a_file(planner: Client, office: Office) -> None:
    answer = send(planner, office, ORDER.read_bytes())
    assert "Lot 7, Saltbush Rise is set out." in text_of(answer)
    assert House.objects.get().key == "lot-7"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"name = [", "order.toml: It is no TOML"),
        (b"\xff\xfe\x00", "order.toml: It is no UTF-8 text."),
        (b'sequence = "nowhere"\nkey = "a"\nname = "A"\n', "There is no 'nowhere'."),
        (b"#" * 2_000_001, "order.toml: It is larger than 2 MB."),
    ],
)
def test_file_that_is_no_order_is_refused_by_name(
    planner: Client, office: Office, text: bytes, words: str
) -> None:
    answer = send(planner, office, text)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert not House.objects.exists()


def test_sending_no_file_is_said(planner: Client, office: Office) -> None:
    answer = planner.post("/houses/new/file/", {"builder": office.builder.slug})
    assert answer.status_code == 422
    assert "No file came along." in text_of(answer)


def test_supervisor_may_not_set_out_and_another_builders_sequence_does_not_exist(
    planner: Client, supervisor: Client, stranger: Client, office: Office
) -> None:
    assert supervisor.get("/houses/new/").status_code == 403
    assert stranger.get(f"/houses/new/?sequence={office.version.pk}").status_code == 404
    assert stranger.post("/houses/new/file/", {"builder": office.builder.slug}).status_code == 404


def test_without_a_sequence_the_page_leads_to_publishing(planner: Client, office: Office) -> None:
    office.version.delete()
    page = planner.get("/houses/new/")
    assert "No sequence is published yet" in text_of(page)
    assert 'href="/sequences/"' in page.content.decode()
