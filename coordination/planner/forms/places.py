"""The places of a house as rows: name, kind, zone and what is special about each."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from coordination.sequence.standard import Feature, StandardSequence

SPARE_ROWS = 4


class PlaceForm(forms.Form):
    """One place; a row without a name is left out."""

    key = forms.CharField(widget=forms.HiddenInput, required=False)
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    kind = forms.ChoiceField(label=_("Kind"))
    zone = forms.ChoiceField(label=_("Zone"))
    marks = forms.MultipleChoiceField(
        label=_("What is special"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, entry: StandardSequence, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entry = entry
        self._offer("kind", [(one.key, one.name) for one in entry.place_kinds], "room")
        self._offer("zone", [(one.key, one.name) for one in entry.zones], "ground")
        flags = [one for one in entry.place_attributes if one.kind == "flag"]
        self._offer("marks", [(one.key, one.label) for one in flags], None)
        self.fields["marks"].initial = [one.key for one in flags if one.default]
        self.others = [one for one in entry.place_attributes if one.kind != "flag"]
        for one in self.others:
            self.fields[f"more_{one.key}"] = self._more(one)
        for name in ("name", "kind", "zone"):
            self.fields[name].widget.attrs["aria-label"] = str(self.fields[name].label)

    def _offer(self, name: str, choices: list[tuple[str, str]], usual: str | None) -> None:
        field = cast(forms.ChoiceField, self.fields[name])
        field.choices = choices
        if usual in dict(choices):
            field.initial = usual

    def _more(self, one: Feature) -> forms.Field:
        facts: dict[str, Any] = {"label": one.label, "required": False, "initial": one.default}
        if one.kind == "number":
            least = None if one.least is None else int(one.least)
            return forms.IntegerField(
                min_value=least, max_value=None if one.most is None else int(one.most), **facts
            )
        return forms.CharField(max_length=80, **facts)

    def more_fields(self) -> list[forms.BoundField]:
        """Fields of attributes that are no plain yes or no."""
        return [self[f"more_{one.key}"] for one in self.others]

    def special(self) -> str:
        """What is special about the place, in short; what most places have is not said."""
        flags = {one.key: one for one in self.entry.place_attributes if one.kind == "flag"}
        marked = set(self["marks"].value() or [])
        said = [one.label for one in flags.values() if one.key in marked and not one.default]
        said += [
            str(_("not: %(what)s") % {"what": one.label})
            for one in flags.values()
            if one.default and one.key not in marked
        ]
        for one in self.others:
            value = self[f"more_{one.key}"].value()
            if value not in (None, "", one.default, str(one.default)):
                said.append(f"{one.label}: {value}")
        return ", ".join(said)

    def as_row(self) -> dict[str, Any] | None:
        """The row as `set_out` takes it; None for a row without a name."""
        data = self.cleaned_data
        name = (data.get("name") or "").strip()
        if not name:
            return None
        attributes: dict[str, Any] = {}
        for one in self.entry.place_attributes:
            if one.kind == "flag":
                value: Any = one.key in data["marks"]
            else:
                value = data.get(f"more_{one.key}")
            if value is not None and value != "" and value != one.default:
                attributes[one.key] = value
        return {
            "key": data.get("key") or slugify(name)[:60],
            "name": name,
            "kind": data["kind"],
            "zone": data["zone"],
            "attributes": attributes,
        }


PlaceFormSet = forms.formset_factory(PlaceForm, extra=SPARE_ROWS, max_num=200)


def starting_places(entry: StandardSequence) -> list[dict[str, Any]]:
    """The places that the sequence starts a house with, as initial rows."""
    flags = [one for one in entry.place_attributes if one.kind == "flag"]
    others = [one for one in entry.place_attributes if one.kind != "flag"]
    return [
        {
            "key": place.key,
            "name": place.name,
            "kind": place.kind,
            "zone": place.zone,
            "marks": [one.key for one in flags if place.attributes.get(one.key, one.default)],
            **{f"more_{one.key}": place.attributes.get(one.key, one.default) for one in others},
        }
        for place in entry.places
    ]
