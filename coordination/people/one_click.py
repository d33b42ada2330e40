"""Signing in by one click, for an embedded run on one's own machine.

The way in exists only while COORDINATION_ONE_CLICK_SIGN_IN is on (the local settings), only for a browser on
this machine, and only with a link that this installation signed and printed. Opening the link shows a
button; only pressing it signs in, so nothing that merely follows links can.
"""

import ipaddress

from django.conf import settings
from django.contrib.auth import login
from django.core.signing import BadSignature, Signer
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from coordination.people.access import roles_of
from coordination.people.landing import landing_of
from coordination.people.models import Person

_signer = Signer(salt="coordination.people.one_click")


def sign_person(person: Person) -> str:
    """Return the signed text of a person's link."""
    return _signer.sign(str(person.pk))


def comes_from_this_machine(request: HttpRequest) -> bool:
    """Whether the browser runs on this machine. A request that a proxy passed on counts as foreign."""
    if "HTTP_X_FORWARDED_FOR" in request.META or "HTTP_FORWARDED" in request.META:
        return False
    try:
        return ipaddress.ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return False


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def one_click(request: HttpRequest, signed: str) -> HttpResponse:
    """Show the button, or sign in. Where the way is closed the address does not exist (404)."""
    if not settings.COORDINATION_ONE_CLICK_SIGN_IN or not comes_from_this_machine(request):
        raise Http404
    try:
        key = _signer.unsign(signed)
    except BadSignature as forged:
        raise Http404 from forged
    person = get_object_or_404(Person, pk=key, is_active=True)
    if request.method == "POST":
        login(request, person, backend="django.contrib.auth.backends.ModelBackend")
        return redirect(landing_of(person))
    roles = [role.get_kind_display() for role in roles_of(person).order_by("pk")]
    return render(request, "people/one_click.html", {"person": person, "roles": roles})
