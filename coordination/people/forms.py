"""What is asked of a person: by the office that takes her on or mends her details, and by herself."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.people.joining import OFFICE_KINDS
from coordination.people.refusals import BadInput


class PersonForm(forms.Form):
    """Name, address and telephone."""

    name = forms.CharField(label=_("Name"), max_length=120)
    mail = forms.EmailField(
        label=_("E-mail"), max_length=254, help_text=_("For signing in, and for messages.")
    )
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)

    def refuse(self, refusal: BadInput) -> None:
        """Put a refusal at the field that it names, else above all."""
        self.add_error(refusal.where if refusal.where in self.fields else None, refusal.words)


class JoinForm(PersonForm):
    """Somebody who comes to the builder, and her role."""

    kind = forms.ChoiceField(
        label=_("Role"), choices=[("", _("choose"))] + [(kind.value, kind.label) for kind in OFFICE_KINDS]
    )
