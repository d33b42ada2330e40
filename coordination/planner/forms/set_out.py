"""The order to set out a house: name and dates, and the features, options and crews its sequence asks for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, cast

from django import forms
from django.db.models import Q
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from coordination.people.access import holders_of
from coordination.people.models import Crew, Person, Region, Role, WorkingCalendar
from coordination.planner.forms.feature_fields import make_field
from coordination.planner.forms.half_days import day_field
from coordination.sequence.models import SequenceVersion
from coordination.sequence.set_out import ACCESS_FIELDS, SetOut, builder_features
from coordination.sequence.standard import (
    FeatureErrors,
    SequenceError,
    StandardSequence,
    check_features,
    options_of_trade,
    refuse_misread,
    resolve,
)

HOUSE_FIELDS = ("name", "address", "key", "region", "calendar", "supervisor", "starts_on", "required_by")
ACCESS_LABELS = {
    "keys_at": _("Keys"),
    "access": _("Access"),
    "start_times": _("Start times"),
    "parking": _("Parking"),
    "hazards": _("Hazards on site"),
    "power_and_toilet": _("Power and toilet"),
}


class SetOutForm(forms.Form):
    """Everything but the places; fields of features are named feature_KEY, those of crews crew_TRADE."""

    name = forms.CharField(
        label=_("Name"), max_length=120, help_text=_("As it is called on site: 'Lot 7, Saltbush Rise'.")
    )
    address = forms.CharField(label=_("Address"), max_length=200, required=False)
    key = forms.SlugField(
        label=_("Short name"), max_length=60, required=False, help_text=_("Empty: made from the name.")
    )
    region = forms.ModelChoiceField(
        label=_("Region"),
        queryset=Region.objects.none(),
        empty_label=None,
        help_text=_("Whose holidays and rain days count."),
    )
    calendar = forms.ModelChoiceField(
        label=_("Working calendar"),
        queryset=WorkingCalendar.objects.none(),
        empty_label=None,
        help_text=_("For work that has no crew yet."),
    )
    supervisor = forms.ModelChoiceField(
        label=_("Supervisor"), queryset=Person.objects.none(), required=False, empty_label=_("nobody yet")
    )
    starts_on = day_field(label=_("Starts not before"))
    required_by = day_field(label=_("Wanted by"), required=False)

    def __init__(self, version: SequenceVersion, entry: StandardSequence, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.version, self.entry, self.builder = version, entry, version.builder
        self._choose_from("region", self.builder.regions.all())
        own_or_public = Q(builder=self.builder) | Q(builder=None)
        self._choose_from("calendar", WorkingCalendar.objects.filter(own_or_public))
        self._choose_from("supervisor", holders_of(self.builder, Role.Kind.SUPERVISOR))
        for name in ACCESS_FIELDS:
            self.fields[name] = forms.CharField(label=ACCESS_LABELS[name], max_length=160, required=False)
        usual = builder_features(self.builder, entry)
        for feature in entry.features:
            self.fields[f"feature_{feature.key}"] = field = make_field(feature, entry.features)
            field.initial = usual.get(feature.key, feature.default)
        self.fields["options"] = forms.MultipleChoiceField(
            label=_("Options"),
            choices=[(one.key, one.name) for one in entry.options],
            required=False,
            widget=forms.CheckboxSelectMultiple,
        )
        self.trades = self._add_crews()

    def _choose_from(self, name: str, queryset: Any) -> None:
        cast("forms.ModelChoiceField[Any]", self.fields[name]).queryset = queryset

    def _add_crews(self) -> list[str]:
        """One field per trade that has crews here; returns the names of the trades that have none."""
        engaged = Crew.objects.filter(Crew.AT_WORK, company__engagements__builder=self.builder)
        crews = engaged.select_related("trade")
        have = set(crews.values_list("trade__key", flat=True))
        for trade in self.entry.trades:
            if trade.key in have:
                self.fields[f"crew_{trade.key}"] = forms.ModelChoiceField(
                    label=trade.name,
                    help_text=_say_when(self.entry, trade.key),
                    queryset=crews.filter(trade__key=trade.key).distinct().order_by("name"),
                    required=False,
                    empty_label=_("nobody yet"),
                )
        return [trade.name for trade in self.entry.trades if trade.key not in have]

    # ------------------------------------------------------------ parts, for the template

    def house_fields(self) -> list[forms.BoundField]:
        """Name, dates and people."""
        return [self[name] for name in HOUSE_FIELDS]

    def access_fields(self) -> list[forms.BoundField]:
        """What crews must know to get in."""
        return [self[name] for name in ACCESS_FIELDS]

    def feature_groups(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """The features in the groups of the sequence."""
        groups: dict[str, list[forms.BoundField]] = {}
        for feature in self.entry.features:
            groups.setdefault(feature.group, []).append(self[f"feature_{feature.key}"])
        yield from groups.items()

    def crew_fields(self) -> list[forms.BoundField]:
        """One per trade that has crews."""
        return [self[name] for name in self.fields if name.startswith("crew_")]

    def options_told(self) -> list[tuple[Any, str]]:
        """The box of each option and what it changes."""
        boxes = self["options"].subwidgets
        return list(zip(boxes, (one.what for one in self.entry.options), strict=True))

    # ------------------------------------------------------------ cleaning

    def features(self) -> dict[str, Any]:
        """Features that were given, by key."""
        found = {}
        for feature in self.entry.features:
            value = self.cleaned_data.get(f"feature_{feature.key}")
            if value is not None and value != "":
                found[feature.key] = value
        return found

    def clean(self) -> dict[str, Any]:
        """Let the sequence judge the features and options; each refusal goes to its own field."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if "name" in data and not data.get("key"):
            data["key"] = slugify(data["name"])[:60]
        if data.get("key") and self.builder.houses.filter(key=data["key"]).exists():
            self.add_error("key", _("There is a house with this short name already. Choose another."))
        if data.get("required_by") and data.get("starts_on") and data["required_by"] < data["starts_on"]:
            self.add_error("required_by", _("The house is wanted before it starts. Correct one of the two."))
        if not any(name.startswith("feature_") for name in self.errors):
            self._judge(data)
        return data

    def _judge(self, data: dict[str, Any]) -> None:
        features = self.features()
        try:
            check_features(self.entry, features)
            house = resolve(self.entry, features, data.get("options", []))
            refuse_misread(house.entry, features)
        except FeatureErrors as refused:
            for key, words in refused.errors.items():
                name = f"feature_{key}"
                self.add_error(name if name in self.fields else None, words)
        except SequenceError as refused:
            self.add_error("options", f"{refused.message}; {refused.remedy}")

    def order(self, places: list[Any]) -> SetOut:
        """The order as `set_out` takes it."""
        data = self.cleaned_data
        crews = {
            name.removeprefix("crew_"): crew
            for name, crew in data.items()
            if name.startswith("crew_") and crew is not None
        }
        return SetOut(
            builder=self.builder,
            version=self.version,
            features=self.features(),
            places=places,
            crews=crews,
            **{name: data[name] for name in (*HOUSE_FIELDS, "options", *ACCESS_FIELDS)},
        )


def _say_when(entry: StandardSequence, trade: str) -> str:
    """That a trade has work with some options only, or without them."""
    brings, takes = options_of_trade(entry, trade)
    if brings:
        return _("Only with the option: %(names)s.") % {"names": ", ".join(brings)}
    if takes:
        return _("Not with the option: %(names)s.") % {"names": ", ".join(takes)}
    return ""
