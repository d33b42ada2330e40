"""Who may. Every view gets its objects here: the object, or a refusal.

A row of a builder for whom the person has no role does not exist for them (404), so that no id of another
builder can be told from one that was never used. A row that exists for them, but asks for another role, is
`NotAllowed`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar
from urllib.parse import urlsplit

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder, Person, Role
from coordination.people.refusals import NotAllowed

M = TypeVar("M", bound=Model)
P = ParamSpec("P")

LONGEST_KEY = 18
"""Digits of a row's key: more do not fit into a column."""


def not_over(day: dt.date) -> Q:
    """Roles that hold on that day or from a later one: neither ended nor past their last day."""
    return Q(ended_at__isnull=True) & (Q(last_day__isnull=True) | Q(last_day__gte=day))


def _valid(day: dt.date | None = None) -> Q:
    day = day or clock.today()
    return not_over(day) & (Q(first_day__isnull=True) | Q(first_day__lte=day))


def roles_of(person: Person, *kinds: str) -> QuerySet[Role]:
    """The person's roles that are valid today, of the given kinds or of any."""
    roles = Role.objects.filter(_valid(), person=person)
    return roles.filter(kind__in=kinds) if kinds else roles


def builders_of(person: Person, *kinds: str) -> QuerySet[Builder]:
    """Builders for whom the person has one of the roles today."""
    return Builder.objects.filter(pk__in=roles_of(person, *kinds).values("builder"))


def has_role(person: Person, builder: Builder, *kinds: str) -> bool:
    """Whether the person has one of the roles for the builder today."""
    return roles_of(person, *kinds).filter(builder=builder).exists()


def require_role(person: Person, builder: Builder, *kinds: str) -> Role:
    """The person's role for the builder.

    Raises:
        NotAllowed: naming the roles that may.
    """
    role = roles_of(person, *kinds).filter(builder=builder).order_by("pk").first()
    if role is None:
        names = ", ".join(str(Role.Kind(kind).label) for kind in kinds) or _("anyone of the builder")
        raise NotAllowed(_("This needs the role: %(roles)s.") % {"roles": names})
    return role


def own(queryset: QuerySet[M], person: Person, *kinds: str, path: str = "builder") -> QuerySet[M]:
    """Rows of the builders for whom the person has one of the roles; `path` leads there from the row."""
    return queryset.filter(**{f"{path}__in": builders_of(person, *kinds)})


def get_own(queryset: QuerySet[M], person: Person, *kinds: str, path: str = "builder", **lookup: Any) -> M:
    """One row of a builder for whom the person has one of the roles.

    Raises:
        Http404: no such row, or one of a builder for whom the person has no role.
        NotAllowed: the person has a role for that builder, but none of the kinds.
    """
    row = get_object_or_404(own(queryset, person, path=path), **lookup)
    builder: Any = row
    for step in path.split("__"):
        builder = getattr(builder, step)
    if kinds:
        require_role(person, builder, *kinds)
    return row


def read_key(text: str) -> int | None:
    """The key of a row that an address or a form names; None for anything that cannot be one."""
    return int(text) if text.isdecimal() and len(text) <= LONGEST_KEY else None


def for_roles(
    *kinds: str,
) -> Callable[
    [Callable[Concatenate[HttpRequest, P], HttpResponse]],
    Callable[Concatenate[HttpRequest, P], HttpResponseBase],
]:
    """A view for people with one of the roles: others are sent to sign in, or told which role may."""

    def wrap(
        view: Callable[Concatenate[HttpRequest, P], HttpResponse],
    ) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            person = request.user
            if not isinstance(person, Person):
                return _send_to_sign_in(request)
            try:
                if not roles_of(person, *kinds).exists():
                    names = ", ".join(str(Role.Kind(kind).label) for kind in kinds)
                    raise NotAllowed(_("This page is for: %(roles)s.") % {"roles": names})
                return view(request, *args, **kwargs)
            except NotAllowed as refusal:
                return render(request, "403.html", {"words": str(refusal)}, status=403)

        return guarded

    return wrap


def _send_to_sign_in(request: HttpRequest) -> HttpResponseBase:
    """To the sign-in page and back: after a form to the page that it stood on, its own address shows none."""
    if request.method in ("GET", "HEAD"):
        return redirect_to_login(request.get_full_path())
    words = _("You were no longer signed in: nothing was saved. Sign in and send it again.")
    messages.warning(request, words)
    came_from = request.META.get("HTTP_REFERER", "")
    if not url_has_allowed_host_and_scheme(
        came_from, {request.get_host()}, require_https=request.is_secure()
    ):
        return redirect_to_login("/")
    page = urlsplit(came_from)
    return redirect_to_login(f"{page.path or '/'}{'?' if page.query else ''}{page.query}")


def holders_of(builder: Builder, *kinds: str) -> QuerySet[Person]:
    """People who have one of the roles for the builder today, deputies included; nobody who is shut out."""
    roles = Role.objects.filter(_valid(clock.today(builder.time_zone)), builder=builder, kind__in=kinds)
    return Person.objects.filter(is_active=True, pk__in=roles.values("person"))


def planners_of(builder: Builder) -> list[Person]:
    """People who plan for the builder today, the one known longest first."""
    return list(holders_of(builder, Role.Kind.PLANNER).order_by("pk"))
