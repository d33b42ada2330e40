"""A feature of a house, or an attribute of its places, as a form: what is asked, within which limits."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from coordination.planner.forms.authoring import LinesField, PlainNumberField, RowForm

YES, NO = ("yes", "true"), ("no", "false")


class AttributeForm(RowForm):
    """What a place is asked: a number, one of some choices, yes or no, or a text."""

    kind = "place_attribute"
    BOXED = ("kind",)
    WIDE = (*RowForm.WIDE, "label", "group")
    key = forms.RegexField(
        r"^[a-z][a-z0-9_]*$",
        label=_("Short name"),
        max_length=60,
        help_text=_("Small letters, digits and _. Conditions, limits and words in braces name it by this."),
        error_messages={
            "invalid": _("Use small letters, digits and _, beginning with a letter: roof_pitch.")
        },
    )
    label = forms.CharField(label=_("What is asked"), max_length=120)
    kind_of = forms.ChoiceField(
        label=_("Kind of answer"),
        choices=[
            ("number", _("a number")),
            ("choice", _("one of the choices")),
            ("flag", _("yes or no")),
            ("text", _("a text")),
        ],
    )
    unit = forms.CharField(label=_("Unit"), max_length=20, required=False, help_text=_("Of a number: mm, °."))
    least = PlainNumberField(label=_("Least"), required=False, help_text=_("Of a number; empty: no limit."))
    most = PlainNumberField(label=_("Most"), required=False, help_text=_("Of a number; empty: no limit."))
    whole = forms.BooleanField(label=_("Only whole numbers"), required=False)
    choices = LinesField(label=_("Choices"), help_text=_("One on each line; only for 'one of the choices'."))
    default = forms.CharField(
        label=_("Default"),
        max_length=300,
        required=False,
        help_text=_("Taken until somebody says otherwise."),
    )
    source = forms.CharField(
        label=_("Where the default comes from"),
        max_length=300,
        required=False,
        help_text=_("A standard, a maker's sheet, common practice."),
    )
    help = forms.CharField(
        label=_("Help beside the question"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def read(self, row: dict[str, Any]) -> dict[str, Any]:
        default = row.pop("default", "")
        said = {"kind_of": row.pop("kind", "number"), "default": _write(default)}
        return {**said, **super().read(row)}

    def clean(self) -> dict[str, Any]:
        """The default is read as the kind of answer that it is."""
        data = super().clean()
        if "default" not in self.errors and data.get("kind_of"):
            try:
                data["default"] = _read(data["kind_of"], data.get("default", ""))
            except forms.ValidationError as error:
                self.add_error("default", error)
        return data

    def given(self) -> dict[str, Any]:
        """A default, a least or a most of 0 and a default of 'no' are said, not left out."""
        values = super().given()
        more = dict(values.pop("more"))
        more["default"] = values.pop("default")
        more |= {name: one for name in ("least", "most") if (one := values.pop(name)) is not None}
        values["kind"] = values.pop("kind_of")
        return {**values, "more": more}


class FeatureForm(AttributeForm):
    """What a house is asked when it is set out."""

    kind = "feature"
    group = forms.CharField(label=_("Group"), max_length=60, required=False)
    when = forms.CharField(
        label=_("Only when"),
        required=False,
        help_text=_(
            "A condition on features that every house has, as in: storeys >= 2. Where it does not hold, the "
            "default stands."
        ),
    )

    def offer(self) -> None:
        self.order_fields(["label", "key", "kind_of", "unit", "least", "most", "whole", "choices", "default"])
        groups = dict.fromkeys(one["group"] for one in self.tables.get("feature", []) if one.get("group"))
        if groups:
            words = _now("The heading under which it is asked: %(groups)s, or a new one.")
            self.fields["group"].help_text = words % {"groups": ", ".join(groups)}


def _write(default: Any) -> str:
    if isinstance(default, bool):
        return YES[0] if default else NO[0]
    return str(default)


def _read(kind: str, words: str) -> Any:
    """A default from its words; raises ValidationError naming what is asked for."""
    match kind:
        case "flag":
            if words.lower() not in (*YES, *NO):
                raise forms.ValidationError(_("Say yes or no: the default of a yes-or-no answer."))
            return words.lower() in YES
        case "number":
            if not words:
                raise forms.ValidationError(_("Give the number that is taken until somebody says otherwise."))
            return PlainNumberField().clean(words.replace(",", "."))
        case "choice" if not words:
            raise forms.ValidationError(_("Give one of the choices as the default."))
    return words
