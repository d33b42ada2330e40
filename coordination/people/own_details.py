"""A person's own name, address and telephone; with an address she signs in, so the password is asked."""

from __future__ import annotations

from typing import cast

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from coordination.people.access import builders_of
from coordination.people.forms import PersonForm
from coordination.people.joining import change_person
from coordination.people.models import Person
from coordination.people.refusals import BadInput
from coordination.people.views import require_password


class OwnForm(PersonForm):
    """One's own details, and the password."""

    password = forms.CharField(
        label=gettext_lazy("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
    )


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
@login_required
def own_details(request: HttpRequest) -> HttpResponse:
    """Change one's own name, address and telephone."""
    person = cast(Person, request.user)
    kept = {"name": person.name, "mail": person.email, "phone": person.phone}
    form = OwnForm(request.POST or None, initial=kept)
    if not person.has_usable_password():
        del form.fields["password"]
    builder = builders_of(person).order_by("pk").first()
    if request.method == "POST" and form.is_valid() and builder is not None:
        entered = form.cleaned_data
        try:
            require_password(person, entered.get("password", ""))
            change_person(builder, person, person, entered["name"], entered["mail"], entered["phone"])
        except BadInput as refusal:
            form.refuse(refusal)
        else:
            words = _("Kept: %(name)s, %(mail)s.") % {"name": person.name, "mail": person.email}
            messages.success(request, words)
            return redirect("people:own_details")
    page = {"form": form, "works": builder is not None}
    return render(request, "people/own_details.html", page, status=422 if form.errors else 200)
