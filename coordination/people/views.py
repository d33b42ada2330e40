"""Signing in and out, and a person's own PIN."""

from __future__ import annotations

from typing import cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from coordination.people.access import builders_of
from coordination.people.landing import SignIn
from coordination.people.models import Builder, Person
from coordination.people.pins import MOST_DIGITS, drop_pin, least_digits, set_pin
from coordination.people.refusals import BadInput
from coordination.people.tries import forget_wrong, note_wrong, say_too_many, too_many

sign_in = SignIn.as_view()
sign_out = LogoutView.as_view()

AT_SETTING = "setting a PIN"
"""Stands for the address where wrong passwords at setting a PIN are counted: the person is known already."""


@sensitive_post_parameters("password", "pin", "again")
@require_http_methods(["GET", "POST"])
@login_required
def own_pin(request: HttpRequest) -> HttpResponse:
    """Set, change or take away one's own PIN; the password is asked, since a session may lie around."""
    person = cast(Person, request.user)
    refusal: BadInput | None = None
    if request.method == "POST":
        try:
            require_password(person, request.POST.get("password", ""))
            if request.POST.get("act") == "drop":
                drop_pin(person)
                messages.success(request, _("You have no PIN any more."))
            else:
                set_pin(person, request.POST.get("pin", ""), request.POST.get("again", ""))
                messages.success(request, _("Your PIN is set. It is asked when you sign."))
            return redirect(_way_back(request) or "people:own_pin")
        except BadInput as found:
            refusal = found
    page = {
        "refusal": refusal,
        "person": person,
        "least": least_digits(person),
        "most": MOST_DIGITS,
        "asks_password": person.has_usable_password(),
        "trial": settings.COORDINATION_ONE_CLICK_SIGN_IN,
        "password_only": _all_want_passwords(person),
        "next": _way_back(request),
    }
    return render(request, "people/own_pin.html", page, status=422 if refusal else 200)


def require_password(person: Person, password: str) -> None:
    """Ask whoever is signed in for the password; nothing where there is none (a trial).

    Raises:
        BadInput: a wrong one, or too many wrong ones lately.
    """
    if not person.has_usable_password():
        return
    if too_many(person.email, AT_SETTING):
        raise BadInput("password", say_too_many())
    if not person.check_password(password):
        note_wrong(person.email, AT_SETTING)
        raise BadInput("password", _("This is not your password. Nothing was changed."))
    forget_wrong(person.email, AT_SETTING)


def _all_want_passwords(person: Person) -> bool:
    rules = set(builders_of(person).values_list("signs_with", flat=True))
    return rules == {Builder.SignsWith.PASSWORD}


def _way_back(request: HttpRequest) -> str:
    """Where the person came from, if it is a page of this installation."""
    asked = request.POST.get("next", request.GET.get("next", ""))
    secure = request.is_secure()
    safe = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=secure)
    return asked if safe else ""
