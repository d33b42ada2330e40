"""The feed behind its secret address. It shows the least: no phone numbers, no notes of a hold point."""

from __future__ import annotations

import datetime as dt
import hashlib

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.http import parse_etags, quote_etag
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from coordination import clock
from coordination.calendar_feeds.feed import KEEP_CANCELLED, FeedVisit, write_feed
from coordination.people.links import crew_for_token
from coordination.people.models import Crew, CrewLink
from coordination.sequence.models import Booking
from coordination.sequence.queries import CrewVisit, visits_for


@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """All told visits of a crew as iCalendar; 304 when the reader has them already."""
    crew = crew_for_token(token, CrewLink.Kind.FEED)
    if crew is None:
        raise Http404(_("This calendar is not in use any more."))
    data = write_feed(
        name=str(crew), uid=f"crew-{crew.pk}@{settings.COORDINATION_MAIL_DOMAIN}", visits=_told(crew)
    )
    etag = quote_etag(hashlib.sha256(data).hexdigest()[:32])
    if etag in parse_etags(request.headers.get("If-None-Match", "")):
        response = HttpResponse(status=304)
    else:
        response = HttpResponse(data, content_type="text/calendar; charset=utf-8")
        response["Content-Disposition"] = 'inline; filename="visits.ics"'
    response["ETag"] = etag
    response["Cache-Control"] = "private, max-age=900"
    response["X-Robots-Tag"] = "noindex"
    return response


def _told(crew: Crew) -> list[FeedVisit]:
    """Live bookings, and cancelled ones for a while, so that a phone takes them off its list."""
    gone = (Booking.State.DECLINED, Booking.State.STOOD_DOWN)
    bookings = Booking.objects.filter(crew=crew, told_start__isnull=False).exclude(
        state__in=gone, changed_at__lt=clock.now() - KEEP_CANCELLED
    )
    changed = dict(bookings.values_list("pk", "changed_at"))
    return [_as_event(visit, changed[visit.booking.id]) for visit in visits_for(bookings)]


def _as_event(visit: CrewVisit, changed_at: dt.datetime) -> FeedVisit:
    booking = visit.booking
    lines = []
    for detail in visit.details:
        walk = clock.say_half_day(detail.due if detail.due_by_end_of is None else detail.due_by_end_of)
        lines.append(
            _("%(words)s Walk: %(walk)s. Buried: %(buried)s.")
            % {
                "words": detail.words or f"{detail.name}.",
                "walk": walk,
                "buried": clock.say_day(detail.buried),
            }
        )
    return FeedVisit(
        uid=f"{visit.uid}@{settings.COORDINATION_MAIL_DOMAIN}",
        sequence=visit.calendar_sequence,
        state=booking.state,
        changed_at=changed_at,
        told_start=booking.told_start or 0,
        told_finish=booking.told_finish or 0,
        zone=visit.builder.time_zone,
        title=f"{visit.house.name}: {visit.name}",
        where=visit.house.address,
        lines=[visit.builder.name, *lines],
    )
