"""The administration pages show houses and change nothing that is guarded or only added."""

import pytest
from django.apps import apps
from django.contrib import admin

from coordination.people.models import Person
from coordination.sequence import models
from coordination.sequence.admin import LookOnly

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(client):
    client.force_login(Person.objects.create_superuser("admin@example.test", "a long password", name="Ad"))
    return client


def test_every_registered_page_of_houses_opens_and_offers_no_change(manager, office):
    office.house()
    for model in apps.get_app_config("sequence").get_models():
        if not admin.site.is_registered(model):
            continue
        assert isinstance(admin.site.get_model_admin(model), LookOnly)
        place = f"/admin/sequence/{model._meta.model_name}/"
        assert manager.get(place).status_code == 200
        assert manager.get(f"{place}add/").status_code == 403
        row = model._default_manager.first()
        if row is not None:
            page = manager.get(f"{place}{row.pk}/change/")
            assert page.status_code == 200
            assert b'name="_save"' not in page.content
            assert manager.post(f"{place}{row.pk}/delete/").status_code == 403


def test_the_pages_of_people_open(manager, office):
    office.crew("plumber", "Blue Pipes")
    for name in ("person", "builder", "region", "workingcalendar", "trade", "company", "crew", "crewlink"):
        assert manager.get(f"/admin/people/{name}/").status_code == 200
    for name, row in (
        ("person", office.planner),
        ("builder", office.builder),
        ("region", office.region),
        ("workingcalendar", office.calendar),
    ):
        assert manager.get(f"/admin/people/{name}/{row.pk}/change/").status_code == 200


def test_what_is_guarded_is_on_the_list_of_what_is_only_looked_at():
    for model in (models.Booking, models.Hold, models.Plan, models.ToldDate, models.Change):
        assert admin.site.is_registered(model)
