"""The terms on which a builder's forecasts are made."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext as _

from coordination.sequence.models import ForecastTerms


class TermsForm(forms.ModelForm):  # type: ignore[type-arg]
    """How sure a promise is to be, and what is assumed of crews and walks that nothing is known of."""

    class Meta:
        model = ForecastTerms
        fields: ClassVar[list[str]] = [
            "confidence",
            "late_chance",
            "late_least",
            "late_most",
            "fails_chance",
            "fails_half_days",
        ]

    def clean(self) -> dict[str, Any]:
        """The least lateness is not more than the most."""
        data = super().clean() or {}
        least, most = data.get("late_least"), data.get("late_most")
        if least is not None and most is not None and least > most:
            self.add_error(
                "late_most", _("It is less than the least. Give at least %(least)s.") % {"least": least}
            )
        if most is not None and most > 60:
            self.add_error(
                "late_most", _("A crew that is more than 60 half-days late does not come. Give less.")
            )
        return data
