"""Setting a password behind a link in a mail, and asking for such a link when it is forgotten.

The secret of a link is Django's own: derived from the person's row and a moment, kept nowhere, good for
PASSWORD_RESET_TIMEOUT and for one password.
"""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.contrib.auth.forms import SetPasswordForm
from django.contrib.auth.tokens import default_token_generator
from django.contrib.auth.views import PasswordResetConfirmView
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.response import TemplateResponse
from django.urls import reverse, reverse_lazy
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from coordination import clock
from coordination.people.access import not_over
from coordination.people.models import Builder, Person, Role
from coordination.people.office_port import office_port
from coordination.people.tries import forget_wrong, note_wrong, too_many

ASKED = "forgotten password: "
"""Before the address under which asking is counted, so that it closes nobody's sign-in."""


def way_to_set(person: Person) -> str:
    """The address, without its host, behind which the person sets a password."""
    uid = urlsafe_base64_encode(force_bytes(person.pk))
    return reverse("people:set_password", args=[uid, default_token_generator.make_token(person)])


class ForgottenForm(forms.Form):
    """Whose password was forgotten."""

    mail = forms.EmailField(
        label=gettext_lazy("E-mail"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )


@require_http_methods(["GET", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """Send a link to set a password. What is answered is the same whether or not anybody has the address."""
    form = ForgottenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        mail, address = form.cleaned_data["mail"].lower(), str(request.META.get("REMOTE_ADDR", ""))
        if too_many(ASKED + mail, address):
            form.add_error(None, _("This was asked for too often. Wait a quarter of an hour."))
        else:
            note_wrong(ASKED + mail, address)
            _send_link(mail)
            words = _(
                "If somebody signs in here as %(mail)s, a link to set a password is on its way there. It "
                "opens for an hour."
            )
            messages.success(request, words % {"mail": mail})
            return redirect("people:sign_in")
    return render(request, "people/forgotten.html", {"form": form}, status=422 if form.errors else 200)


def _send_link(mail: str) -> None:
    person = Person.objects.filter(email__iexact=mail, is_active=True).first()
    if person is None:
        return
    roles = Role.objects.filter(not_over(clock.today()), person=person)
    builder = Builder.objects.filter(roles__in=roles).order_by("pk").first()
    if builder is not None:
        with transaction.atomic():
            office_port().send_way_in(builder, person)


class SetPassword(PasswordResetConfirmView):
    """The page behind the link. Opening it uses nothing up; only the form does."""

    template_name = "people/set_password.html"
    success_url = reverse_lazy("people:sign_in")

    def form_valid(self, form: SetPasswordForm[Any]) -> HttpResponse:
        """Keep the password; wrong ones given before from this address count no more."""
        answer = super().form_valid(form)
        person = cast(Person, form.user)
        forget_wrong(person.email, str(self.request.META.get("REMOTE_ADDR", "")))
        messages.success(self.request, _("Your password is set. Sign in with it."))
        return answer

    def render_to_response(self, context: dict[str, Any], **more: Any) -> TemplateResponse:
        """The page; for a link that opens nothing any more with the status of a page that is not there."""
        refused = 422 if context["form"] is not None and context["form"].errors else 200
        more.setdefault("status", refused if context["validlink"] else 404)
        return cast(TemplateResponse, super().render_to_response(context, **more))


set_password = SetPassword.as_view()
