"""Rows of a draft as forms: what a person fills in, and the table that it becomes.

A field that a form has no box for is never lost: it stands as TOML in the box 'further fields'. Boxes left
empty are left out of the table, so that a row says only what it means to say.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, cast

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from coordination.sequence.library.writing import write_document

Tables = Mapping[str, Any]
Choices = list[tuple[str, str]]

POINTS: Choices = [
    ("", str(_("no point: work"))),
    ("hold", str(_("hold point: a walk, stops what follows"))),
    ("hold from photographs", str(_("hold point, released from photographs"))),
    ("witness", str(_("witness point: notice is given, work goes on"))),
    ("photo", str(_("photo point: the crew photographs before it is covered"))),
    ("review", str(_("review: a document"))),
    ("survey", str(_("survey: at the end"))),
]


class FoldedTicks(forms.CheckboxSelectMultiple):
    """Many boxes to tick: the page shows those that are ticked and folds the rest, which is sent as well."""

    folds = True


class TomlField(forms.CharField):
    """Fields of a row as TOML, for what has no box of its own."""

    def __init__(self, **kwargs: Any) -> None:
        rows = kwargs.pop("rows", 4)
        super().__init__(
            required=False,
            widget=forms.Textarea(attrs={"rows": rows, "spellcheck": "false", "class": "toml"}),
            **kwargs,
        )

    def prepare_value(self, value: Any) -> Any:
        return write_document(value) if isinstance(value, Mapping) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return tomllib.loads(text.replace("\r\n", "\n"))
        except tomllib.TOMLDecodeError as error:
            raise forms.ValidationError(
                _("This is no TOML: %(why)s. Mend that line."), params={"why": error}
            ) from error


class PlainNumberField(forms.FloatField):
    """A number as it was written: 3 stays whole, 14.9 does not."""

    def clean(self, value: Any) -> Any:
        number = super().clean(value)
        return int(number) if number is not None and number == int(number) else number


class LinesField(forms.CharField):
    """A list of texts, one on each line."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, widget=forms.Textarea(attrs={"rows": 3}), **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, list) else value

    def clean(self, value: Any) -> Any:
        return [line.strip() for line in super().clean(value).splitlines() if line.strip()]


@dataclass(frozen=True)
class Boxes:
    """Boxes of a form that belong together; without a legend they stand first and are never folded."""

    legend: str
    boxes: tuple[forms.BoundField, ...]

    @property
    def open(self) -> bool:
        """Whether one of them says something, or is wrong: what is empty is folded away."""
        return any(one.errors or one.value() not in ("", None, False, [], {}) for one in self.boxes)


class RowForm(forms.Form):
    """A row of a draft; `BOXED` are fields of its table that have boxes of another name.

    `WIDE` are boxes for whole sentences and conditions, as wide as the page; `GROUPS` are those that belong
    together, by their legend: the rest stands before them.
    """

    kind: ClassVar[str]
    folds_more: ClassVar[bool] = False
    BOXED: ClassVar[tuple[str, ...]] = ()
    WIDE: ClassVar[tuple[str, ...]] = ("places", "when", "source")
    GROUPS: ClassVar[tuple[tuple[Any, tuple[str, ...]], ...]] = ()
    more = TomlField(
        label=_("Further fields"), help_text=_("As TOML, one on each line. Most rows need none.")
    )

    def __init__(self, tables: Tables, row: Mapping[str, Any], data: Any = None) -> None:
        self.tables, self.row = tables, dict(row)
        super().__init__(data, initial=self.read(dict(row)))
        self.offer()
        for name in self.WIDE:
            if name in self.fields:
                self.fields[name].widget.attrs["class"] = "wide"
        self.order_fields([name for name in self.fields if name != "more"] + ["more"])

    def groups(self) -> list[Boxes]:
        """The boxes as the page shows them."""
        grouped = {name for _legend, names in self.GROUPS for name in names}
        first = tuple(self[name] for name in self.fields if name not in grouped and name != "more")
        found = [Boxes(str(legend), tuple(self[name] for name in names)) for legend, names in self.GROUPS]
        return [Boxes("", first), *found]

    def offer(self) -> None:
        """Fill the choices from the other rows of the draft."""

    def read(self, row: dict[str, Any]) -> dict[str, Any]:
        """A row as the form's first values."""
        known = {name: row.pop(name) for name in list(row) if name in self.base_fields and name != "more"}
        return known | {"more": row}

    def table(self) -> dict[str, Any]:
        """The table that the form says, its fields in the order that the row had."""
        given = self.given()
        more = given.pop("more", {})
        said = {name: value for name, value in given.items() if value not in ("", None, False, [])}
        return in_order({**said, **more}, self.row)

    def given(self) -> dict[str, Any]:
        """Values by their name in the table; a list keeps the order that it had."""
        values = dict(self.cleaned_data)
        for name, value in values.items():
            if isinstance(value, list):
                values[name] = keep_order(value, self.row.get(name, []))
        return values

    def choose_from(self, name: str, choices: Choices, empty: str | None = None) -> None:
        """Offer choices; what the row says stays on offer also where it leads nowhere."""
        field = cast(forms.ChoiceField, self.fields[name])
        said = self.initial.get(name) or []
        known = {key for key, _words in choices}
        stray = [(key, key) for key in ([said] if isinstance(said, str) else said) if key not in known]
        field.choices = ([("", empty)] if empty is not None else []) + choices + stray

    def clean(self) -> dict[str, Any]:
        """Further fields may not say again what has a box."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        doubled = sorted(set(data.get("more") or {}) & ({*self.fields, *self.BOXED} - {"more"}))
        if doubled:
            words = _now("'%(name)s' has a box of its own above. Fill that in, and take it out here.")
            self.add_error("more", words % {"name": doubled[0]})
        return data


def in_order(table: Mapping[str, Any], former: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a table, those that the former row had first and in its order."""
    return {name: table[name] for name in former if name in table} | dict(table)


def keep_order(values: Iterable[Any], former: Iterable[Any]) -> list[Any]:
    """Values in the order that they had, new ones behind."""
    values, known = list(values), list(former)
    return [one for one in known if one in values] + [one for one in values if one not in known]


def named(tables: Tables, kind: str, key: str = "key") -> Choices:
    """Rows of a kind as choices: 'Frame stood (frame)'."""
    rows = tables.get(kind, [])
    return [(one[key], f"{one['name']} ({one[key]})" if one.get("name") else one[key]) for one in rows]


def activities(tables: Tables, points: bool | None = None) -> Choices:
    """Activities as choices: all, only points, or only work."""
    rows = [one for one in tables.get("activity", []) if points is None or points == bool(one.get("point"))]
    return named({"activity": rows}, "activity", "id")


def id_field(label: Any) -> forms.CharField:
    """The id of a row, by which others name it."""
    return forms.SlugField(
        label=label,
        max_length=60,
        help_text=_("Letters, digits and -. Other rows name it by this."),
        error_messages={"invalid": _("Use letters, digits and - only, no space and no accent: corner-foil.")},
    )


class ActivityForm(RowForm):
    """A piece of work or a point; what it follows stands in rows below."""

    kind = "activity"
    BOXED = ("after",)
    GROUPS = (
        (_("A point: what is judged there"), ("point", "walker", "notice", "sections", "zones")),
        (_("More about it"), ("joined_by", "stake", "outdoor", "content", "when")),
    )
    id = id_field(_("Short name"))
    name = forms.CharField(label=_("Name"), max_length=120)
    half_days = forms.IntegerField(
        label=_("Half-days"), min_value=0, max_value=500, help_text=_("Of the crew's own working time.")
    )
    stage = forms.ChoiceField(label=_("Stage"))
    trade = forms.ChoiceField(label=_("Trade"), required=False)
    visit = forms.ChoiceField(label=_("Visit"), required=False)
    point = forms.ChoiceField(label=_("Kind of point"), choices=POINTS, required=False)
    walker = forms.CharField(
        label=_("Judged by"), max_length=80, required=False, help_text=_("Points: a role, or a trade's key.")
    )
    joined_by = forms.CharField(label=_("Joined by"), max_length=80, required=False)
    notice = forms.IntegerField(label=_("Notice in half-days"), min_value=0, required=False)
    sections = LinesField(label=_("Parts that are released singly"))
    zones = forms.MultipleChoiceField(
        label=_("Released zone by zone"), required=False, widget=forms.CheckboxSelectMultiple
    )
    stake = forms.BooleanField(label=_("These are the linings"), required=False)
    outdoor = forms.BooleanField(label=_("Outdoors: rain stops it"), required=False)
    content = forms.CharField(label=_("What it is about"), widget=forms.Textarea, required=False)
    when = forms.CharField(
        label=_("Only when"), required=False, help_text=_("A condition on features, as in: storeys >= 2")
    )

    def offer(self) -> None:
        self.choose_from("stage", named(self.tables, "stage"))
        self.choose_from("trade", named(self.tables, "trade"), empty=_now("none: a point"))
        visits = [(key, f"{words} ({key})") for key, words in self.tables.get("visits", {}).items()]
        self.choose_from("visit", visits, empty=_now("by itself"))
        self.choose_from("zones", named(self.tables, "zone"))
        self.fields["content"].widget.attrs["rows"] = 2

    def read(self, row: dict[str, Any]) -> dict[str, Any]:
        row.pop("after", None)
        return super().read(row)

    def given(self) -> dict[str, Any]:
        """Half-days of 0 are said, for points need them; so is a notice of 0."""
        values = super().given()
        more = dict(values.pop("more"))
        more["half_days"] = values.pop("half_days")
        if values["notice"] is not None:
            more["notice"] = values.pop("notice")
        return {**values, "more": more}


class LinkForm(forms.Form):
    """One relationship of an activity: what it follows; a row without a predecessor is left out."""

    id = forms.ChoiceField(label=_("Follows"), required=False)
    type = forms.ChoiceField(
        label=_("How"),
        choices=[
            ("FS", _("finish to start")),
            ("SS", _("start to start")),
            ("FF", _("finish to finish")),
            ("SF", _("start to finish")),
        ],
        initial="FS",
    )
    lag = forms.IntegerField(label=_("Half-days between"), min_value=-500, max_value=500, required=False)
    lag_calendar = forms.ChoiceField(
        label=_("Counted in"),
        choices=[
            ("", _("working time")),
            ("elapsed", _("every half-day that passes")),
            ("every", _("every half-day of the calendar")),
        ],
        required=False,
    )

    def __init__(self, *args: Any, tables: Tables, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", _now("nothing")), *activities(tables)]
        said = (self.initial or {}).get("id")
        if said and said not in dict(choices):
            choices.append((said, said))
        cast(forms.ChoiceField, self.fields["id"]).choices = choices
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = str(field.label)

    def table(self) -> dict[str, Any] | None:
        """The relationship; None for an empty row."""
        data = self.cleaned_data
        if not data.get("id"):
            return None
        said = {"id": data["id"], "type": data["type"], "lag": data["lag"]}
        said["lag_calendar"] = data["lag_calendar"]
        usual = {"type": "FS", "lag": 0, "lag_calendar": ""}
        return {name: one for name, one in said.items() if one is not None and one != usual.get(name)}


LinkFormSet = forms.formset_factory(LinkForm, extra=2, max_num=60)


class OptionForm(RowForm):
    """A named switch: what it fixes, and the rows that it adds, changes and removes."""

    kind = "option"
    folds_more = True  # each of these rows has a page of its own
    key = id_field(_("Short name"))
    name = forms.CharField(label=_("Name"), max_length=200)
    what = forms.CharField(label=_("What it changes, for people"), widget=forms.Textarea(attrs={"rows": 2}))
    excludes = forms.MultipleChoiceField(label=_("Cannot stand beside"), required=False, widget=FoldedTicks)
    sets = TomlField(label=_("Features that it fixes"), help_text=_("As in: storeys = 2"))
    more = TomlField(
        label=_("Rows that it adds, changes and removes, as text"),
        rows=16,
        help_text=_("Tables 'added', 'changed' and 'removed', each with lists of rows by kind."),
    )

    def offer(self) -> None:
        others = [one for one in named(self.tables, "option") if one[0] != self.row.get("key")]
        self.choose_from("excludes", others)

    def given(self) -> dict[str, Any]:
        values = super().given()
        return {name: value for name, value in values.items() if value != {} or name == "more"}


class TextRowForm(forms.Form):
    """Any row as TOML: for kinds without boxes of their own."""

    row = TomlField(label=_("The row"), rows=14, help_text=_("As TOML, one field on each line."))

    def __init__(self, tables: Tables, row: Mapping[str, Any], data: Any = None) -> None:
        super().__init__(data, initial={"row": dict(row)})

    def table(self) -> dict[str, Any]:
        """The row."""
        return dict(self.cleaned_data["row"])
