"""Where a builder builds: what houses take over when they are set out."""

from __future__ import annotations

from typing import ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.people.models import Builder


class WhereBuiltForm(forms.ModelForm):  # type: ignore[type-arg]
    """State, climate zone and edition of the code, each one that the sequences know."""

    state = forms.ChoiceField(label=_("State or territory"), choices=[(one, one) for one in Builder.STATES])
    climate_zone = forms.TypedChoiceField(
        label=_("Climate zone"),
        choices=[(one, str(one)) for one in Builder.ZONES],
        coerce=int,
        help_text=_("Zone of the National Construction Code, 1 hot and humid to 8 alpine."),
    )
    code_edition = forms.ChoiceField(
        label=_("Edition of the code"),
        choices=[(one, one) for one in Builder.EDITIONS],
        help_text=_("The edition that most of your permits name. A house may have another."),
    )

    class Meta:
        model = Builder
        fields: ClassVar[list[str]] = ["state", "climate_zone", "code_edition"]
