"""What is entered stands and is answered although the queue cannot be reached."""

import pytest
from celery import current_app
from kombu.exceptions import OperationalError

from hold_points.models import Evidence, Outcome, RecordEntry
from tests.hold_points.houses import make_site


@pytest.mark.django_db(transaction=True)
def test_an_outcome_with_its_photograph_is_kept_and_answered_while_the_queue_is_away(
    monday_morning, settings, tmp_path, monkeypatch
):
    settings.MEDIA_ROOT = tmp_path
    site = make_site()
    asked = []

    def refuse(*arguments, **more):
        asked.append(arguments)
        raise OperationalError("no queue")

    monkeypatch.setattr(current_app, "send_task", refuse)
    site.find(site.check("pocket-filled"), photo=True)
    assert asked
    assert Outcome.objects.count() == Evidence.objects.count() == 1
    assert RecordEntry.objects.filter(kind="outcome").count() == 1
