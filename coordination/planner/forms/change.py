"""A house as it shall be: features and options of the version that it keeps or moves to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.planner.forms.feature_fields import make_field
from coordination.sequence.library.rows import refuse_value
from coordination.sequence.models import House
from coordination.sequence.set_out import builder_features
from coordination.sequence.standard import StandardSequence


class ChangeForm(forms.Form):
    """Fields of features are named feature_KEY; each begins with what the house has now."""

    options = forms.MultipleChoiceField(
        label=_("Options"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, house: House, entry: StandardSequence, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.house, self.entry = house, entry
        usual = builder_features(house.builder, entry)
        for feature in entry.features:
            field = make_field(feature, entry.features)
            now = house.features.get(feature.key, usual.get(feature.key, feature.default))
            field.initial = feature.default if refuse_value(feature, now) else now
            self.fields[f"feature_{feature.key}"] = field
        options = cast(forms.MultipleChoiceField, self.fields["options"])
        options.choices = [(one.key, one.name) for one in entry.options]
        options.initial = [one.key for one in entry.options if one.key in house.options]

    def feature_groups(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """The features in the groups of the sequence."""
        groups: dict[str, list[forms.BoundField]] = {}
        for feature in self.entry.features:
            groups.setdefault(feature.group, []).append(self[f"feature_{feature.key}"])
        yield from groups.items()

    def options_told(self) -> list[tuple[Any, str]]:
        """The box of each option and what it changes."""
        return list(zip(self["options"].subwidgets, (one.what for one in self.entry.options), strict=True))

    def features(self) -> dict[str, Any]:
        """What was given, without what a chosen option fixes, or one that is given up has fixed until now."""
        chosen = self.cleaned_data.get("options", [])
        fixed = {key for one in self.entry.options if one.key in chosen for key in one.sets}
        given_up = [one for one in self.entry.options if one.key in self.house.options]
        freed = {key for one in given_up if one.key not in chosen for key in one.sets} - fixed
        found = {}
        for feature in self.entry.features:
            value = self.cleaned_data.get(f"feature_{feature.key}")
            if feature.key in fixed and value in (self._now(feature.key), feature.default):
                continue  # not touched here: the option decides
            if feature.key in freed and value == self._now(feature.key):
                continue  # the option said so, not the person
            if value is not None and value != "":
                found[feature.key] = value
        return found

    def _now(self, key: str) -> Any:
        return self.house.features.get(key)
