"""A fault at every statement of applying a fit over two houses and of taking it back: all, or nothing."""

import pytest

from coordination.sequence import fitting
from coordination.sequence.models import Booking, Fit
from tests.crashes.faults import fail_everywhere
from tests.sequence.builders import START
from tests.sequence.fits import computed, shared_houses

pytestmark = [pytest.mark.slow, pytest.mark.django_db]


@pytest.fixture
def two(monday_morning):
    """Two houses whose frames were told the same day; one of them has to be told another."""
    houses = shared_houses()
    houses[0].builder.freeze_days = 0
    houses[0].builder.save()
    for one in houses:
        Booking.objects.filter(visit=one.visits["frame"]).update(
            state=Booking.State.PENCILLED, told_start=START, told_finish=START + 4
        )
    return houses


def test_a_fault_while_a_fit_is_applied_leaves_every_house_as_it_was(two):
    fit = computed(two)
    assert fit.result["told"] == 1
    failed, troubles = fail_everywhere(lambda: fitting.apply_fit(Fit.objects.get(pk=fit.pk), two[0].planner))
    assert troubles == []
    assert failed > 30


def test_a_fault_while_a_fit_is_taken_back_leaves_it_applied(two):
    fit = fitting.apply_fit(computed(two), two[0].planner)
    failed, troubles = fail_everywhere(lambda: fitting.undo_fit(Fit.objects.get(pk=fit.pk), two[0].planner))
    assert troubles == []
    assert failed > 20
