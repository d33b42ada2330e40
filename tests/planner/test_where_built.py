"""State, climate zone and edition of the code are the builder's; houses set out later take them over."""

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from coordination.fabric.ventilation import EDITIONS
from coordination.people.models import Builder
from coordination.sequence.publishing import read_version
from tests.planner.conftest import text_of
from tests.sequence.brick_veneer import Office

pytestmark = pytest.mark.django_db
GIVEN = {"state": "VIC", "climate_zone": "6", "code_edition": "2019"}


def test_what_a_planner_keeps_is_taken_over_by_the_next_house_only(planner: Client, office: Office) -> None:
    before = office.house(key="lot-before", name="Before")
    assert "builds in TAS, climate zone 7, by the code of 2022" in text_of(planner.get("/sequences/"))
    answer = planner.post(f"/sequences/where/{office.builder.slug}/", GIVEN, follow=True)
    assert "builds in VIC, climate zone 6, by the code of 2019" in text_of(answer)
    office.builder.refresh_from_db()
    after = office.house(key="lot-after", name="After")
    before.refresh_from_db()
    assert [before.features[key] for key in ("state", "climate_zone", "ncc_edition")] == ["TAS", 7, "2022"]
    assert [after.features[key] for key in ("state", "climate_zone", "ncc_edition")] == ["VIC", 6, "2019"]


@pytest.mark.parametrize(
    ("field", "value"), [("state", "Tasmania"), ("climate_zone", "9"), ("code_edition", "2021")]
)
def test_a_place_or_code_that_no_sequence_knows_is_refused_at_its_field(
    planner: Client, office: Office, field: str, value: str
) -> None:
    answer = planner.post(f"/sequences/where/{office.builder.slug}/", GIVEN | {field: value})
    assert answer.status_code == 200
    assert "Nothing was saved" in text_of(answer)
    assert answer.context["form"].errors.keys() == {field}
    kept = Builder.objects.get(pk=office.builder.pk)
    assert (kept.state, kept.climate_zone, kept.code_edition) == ("TAS", 7, "2022")
    setattr(kept, field, int(value) if value.isdecimal() and field == "climate_zone" else value)
    with pytest.raises(ValidationError) as refused:
        kept.full_clean()
    assert refused.value.message_dict.keys() == {field}, "in the administration, too"


def test_the_builders_choices_are_those_of_its_sequences(office: Office) -> None:
    features = {one.key: one for one in read_version(office.version).features}
    assert tuple(features["state"].choices) == Builder.STATES
    assert tuple(features["ncc_edition"].choices) == Builder.EDITIONS == EDITIONS
    assert (features["climate_zone"].least, features["climate_zone"].most) == (1, 8)
    assert list(Builder.ZONES) == list(range(1, 9))


def test_only_the_builders_own_planner_may(stranger: Client, supervisor: Client, office: Office) -> None:
    address = f"/sequences/where/{office.builder.slug}/"
    assert stranger.get(address).status_code == 404
    assert supervisor.post(address, GIVEN).status_code == 403
    assert "Change where you build" not in text_of(supervisor.get("/sequences/"))
