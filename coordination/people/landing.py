"""Where a person begins after signing in: at the houses, or at her walks where these are all her work."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest
from django.shortcuts import resolve_url

from coordination.people.access import roles_of
from coordination.people.models import Person, Role
from coordination.people.tries import LimitedSignIn


def landing_of(person: Person) -> str:
    """The address of a person's first page."""
    kinds = set(roles_of(person).values_list("kind", flat=True))
    return resolve_url(
        "hold_points:walks" if kinds == {Role.Kind.SUPERVISOR} else settings.LOGIN_REDIRECT_URL
    )


class SignIn(LoginView):
    """The sign-in page; it leads back to the page that was asked for, else to the person's first."""

    template_name = "people/login.html"
    redirect_authenticated_user = True
    authentication_form: type[AuthenticationForm] = LimitedSignIn

    def get_redirect_url(self, request: HttpRequest | None = None) -> str:
        """The page that was asked for; the bare address asks for none."""
        asked = super().get_redirect_url()
        return "" if asked == resolve_url(settings.LOGIN_REDIRECT_URL) else asked

    def get_default_redirect_url(self) -> str:
        """The person's first page."""
        person = self.request.user
        return landing_of(person) if isinstance(person, Person) else super().get_default_redirect_url()
