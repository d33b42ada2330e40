"""Forecasts of small houses, and dates told to their crews."""

from coordination.sequence import bookings, forecasting
from coordination.sequence.models import Booking
from tests.sequence.builders import START


def forecast_of(small):
    row = forecasting.make_forecast(small.house.pk)
    assert row is not None
    assert row.words == ""
    return row


def visit_prospect(row, small, name):
    return row.result["visits"][str(small.visits[name].pk)]


def pencilled(small, name="wiring", later=0):
    return bookings.pencil(
        Booking.objects.get(visit=small.visits[name], state=Booking.State.ASKED), START + 4 + later
    )
