"""Secret addresses of crews. Only a hash is stored, so a stolen database opens no page."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from coordination import clock
from coordination.people.models import Crew, CrewLink

TOUCHED_AT_MOST_EVERY = dt.timedelta(hours=1)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def make_link(crew: Crew, kind: str) -> str:
    """Make a link of 192 random bits and return its token; it is shown once and cannot be read back."""
    token = secrets.token_urlsafe(24)
    CrewLink.objects.create(crew=crew, kind=kind, token_hash=_hash(token), created_at=clock.now())
    return token


def revoke_links(crew: Crew, kind: str) -> int:
    """Make all the crew's links of this kind useless; returns how many were in use."""
    return CrewLink.objects.filter(crew=crew, kind=kind, revoked_at__isnull=True).update(
        revoked_at=clock.now()
    )


def crew_for_token(token: str, kind: str) -> Crew | None:
    """The crew behind a token, or None when it is unknown or revoked."""
    link = (
        CrewLink.objects.filter(token_hash=_hash(token), kind=kind, revoked_at__isnull=True)
        .select_related("crew__company", "crew__trade", "crew__calendar")
        .first()
    )
    if link is None:
        return None
    now = clock.now()
    if link.last_used_at is None or now - link.last_used_at > TOUCHED_AT_MOST_EVERY:
        CrewLink.objects.filter(pk=link.pk).update(last_used_at=now)
    return link.crew
