"""Details with their coverings, and checks with their limits, as forms."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from coordination.fabric import CATALOGUE, LIMITS
from coordination.fabric.drawings import DRAWINGS
from coordination.fabric.misses import MISSES
from coordination.planner.forms.authoring import (
    FoldedTicks,
    PlainNumberField,
    RowForm,
    activities,
    id_field,
    in_order,
    named,
)
from coordination.planner.forms.authoring_lines import NumbersField, PairsField, SourceField, WordsField
from coordination.sequence.library.judging_rows import EVIDENCE, SURE

SOURCES = ("value", "feature", "published", "calculation", "result", "inputs")
SAMPLING_FIELDS = ("number", "share", "least", "every", "along", "of")
NUMBERS_HELP = _(
    "One on each line, as in: lap: published wrap.lap, or: near: feature airway, or: clear: calculation bay "
    "clear centres=stud_centres stud=stud_thickness"
)
WHEN_HELP = _("A condition on features, and on the numbers in its words.")
INPUTS_HELP = _(
    "One on each line: a feature of the house, a number, or a word in quotes, as in: batt: ceiling_batt_mm"
)
LIMIT_FIELDS = ("compare", *SOURCES, "high", "spread", "unit", "step", "source", "applies", "sure")
LIMIT_BOXES = (
    *("compare", "value", "feature", "published", "calculation", "result", "inputs", "spread", "high"),
    *("unit", "step", "source", "applies", "sure"),
)
"""The limit in the order in which it is filled in."""


def say_places(tables: Mapping[str, Any]) -> str:
    """What a condition on places may ask for in this sequence."""
    names = ", ".join(str(one["key"]) for one in tables.get("place_attribute", []))
    words = _now("A condition on places, as in: wet, or: external and not recessed.")
    return f"{words} {_now('It may ask for')}: kind, zone, {names}." if names else words


class DetailForm(RowForm):
    """Something that will be buried: who makes it, what covers it, where it is judged."""

    kind = "detail"
    BOXED = ("with", "miss")
    WIDE = (*RowForm.WIDE, "point", "caution", "miss_kind")
    GROUPS = (
        (_("What the trade is told"), ("instruction", "numbers", "tells", "caution")),
        (
            _("Its drawing, and what it costs to leave it"),
            ("drawing", "drawing_inputs", "miss_kind", "miss_inputs"),
        ),
        (_("In which places and houses"), ("places", "when")),
    )
    id = id_field(_("Short name"))
    name = forms.CharField(label=_("Name"), max_length=120)
    installed_by = forms.MultipleChoiceField(label=_("Made by"), required=False, widget=FoldedTicks)
    covered_by = forms.MultipleChoiceField(label=_("Buried by"), required=False, widget=FoldedTicks)
    along = forms.MultipleChoiceField(
        label=_("Of these, buried only by their end"), required=False, widget=FoldedTicks
    )
    point = forms.ChoiceField(label=_("Judged at"), required=False)
    section = forms.CharField(label=_("Part of that point"), max_length=40, required=False)
    instruction = forms.CharField(
        label=_("What exactly, for the trade"),
        widget=forms.Textarea(attrs={"rows": 3}),
        required=False,
        help_text=_("{words in braces} are replaced by numbers of the house."),
    )
    numbers = NumbersField(label=_("Numbers in its words"), help_text=NUMBERS_HELP)
    tells = WordsField(
        label=_("What each trade is told"),
        rows=5,
        help_text=_("One trade on each line, as in: plumber: Lag it at the clips too."),
    )
    caution = forms.CharField(label=_("Caution"), max_length=160, required=False)
    drawing = forms.ChoiceField(label=_("Drawing"), required=False)
    drawing_inputs = PairsField(label=_("Numbers of the drawing"), help_text=INPUTS_HELP)
    miss_kind = forms.ChoiceField(
        label=_("What it costs to leave it"),
        required=False,
        help_text=_("Orders lists and tells a trade why; nothing is judged by it."),
    )
    miss_inputs = PairsField(label=_("Numbers of that miss"), help_text=INPUTS_HELP)
    places = forms.CharField(label=_("In which places"), required=False)
    when = forms.CharField(label=_("Only when"), required=False, help_text=WHEN_HELP)

    def offer(self) -> None:
        work = activities(self.tables, points=False)
        self.choose_from("installed_by", work)
        self.choose_from("covered_by", work)
        covering = [one for one in work if one[0] in (self.initial.get("covered_by") or [])]
        self.choose_from("along", covering or work)
        self.choose_from("point", activities(self.tables, points=True), empty=_now("nowhere yet"))
        drawings = [(one, one.replace("_", " ")) for one in DRAWINGS]
        self.choose_from("drawing", drawings, empty=_now("none"))
        said = {key: key for key in self.row.get("tells", {})}
        trades = {one["key"]: str(one.get("name") or one["key"]) for one in self.tables.get("trade", [])}
        cast(WordsField, self.fields["tells"]).trades = said | trades
        self.fields["places"].help_text = say_places(self.tables)
        misses = [(one.name, one.what) for one in MISSES.values()]
        self.choose_from("miss_kind", misses, empty=_now("not reckoned"))

    def read(self, row: dict[str, Any]) -> dict[str, Any]:
        """`with` is no name that a program can give a field."""
        miss: Mapping[str, Any] = row.pop("miss", {})
        said = {"along": row.pop("with", []), "miss_kind": miss.get("kind", "")}
        return {**said, "miss_inputs": miss.get("inputs", {}), **super().read(row)}

    def given(self) -> dict[str, Any]:
        values = super().given()
        values["with"] = values.pop("along")
        kind, inputs = values.pop("miss_kind"), values.pop("miss_inputs")
        if kind:
            values["miss"] = {"kind": kind, **({"inputs": inputs} if inputs else {})}
        return {name: one for name, one in values.items() if one != {} or name == "more"}


class CheckForm(RowForm):
    """A criterion of a point, with its limit."""

    kind = "check"
    BOXED = ("kind", "limit", "sampling")
    GROUPS = (
        (_("Its limit"), tuple(f"limit_{name}" for name in LIMIT_BOXES)),
        (_("How many are looked at"), tuple(f"sampling_{name}" for name in SAMPLING_FIELDS)),
        (
            _("Its words, its source, and where it is asked"),
            ("section", "numbers", "safety", "remote", "once", "source", "sure", "places", "when"),
        ),
    )
    WIDE = (*RowForm.WIDE, "limit_published", "limit_source", "limit_applies", "sampling_of")
    id = id_field(_("Short name"))
    text = forms.CharField(
        label=_("What is looked for"), max_length=260, widget=forms.Textarea(attrs={"rows": 2})
    )
    kind_of = forms.ChoiceField(
        label=_("How it is judged"),
        choices=[
            ("seen", _("seen")),
            ("counted", _("counted, against a limit")),
            ("measured", _("measured, against a limit")),
            ("document", _("a document")),
        ],
    )
    detail = forms.ChoiceField(label=_("Detail"), required=False)
    point = forms.ChoiceField(
        label=_("At which point"), required=False, help_text=_("Empty: where its detail is judged.")
    )
    section = forms.CharField(label=_("Part of that point"), max_length=40, required=False)
    numbers = NumbersField(label=_("Numbers in its words"), help_text=NUMBERS_HELP)
    evidence = forms.MultipleChoiceField(
        label=_("Evidence"),
        choices=[(one, one) for one in EVIDENCE],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    safety = forms.BooleanField(label=_("Safety: never released under concession"), required=False)
    remote = forms.BooleanField(label=_("May be closed from a photograph"), required=False)
    once = forms.BooleanField(label=_("Asked once for the whole house"), required=False)
    sampling_number = forms.IntegerField(
        label=_("A random sample of so many"), min_value=0, required=False, help_text=_("Empty: every one.")
    )
    sampling_share = PlainNumberField(
        label=_("or of this share of the places"), min_value=0, max_value=1, required=False
    )
    sampling_least = forms.IntegerField(label=_("at least so many"), min_value=0, required=False)
    sampling_every = PlainNumberField(label=_("and one for each"), min_value=0, required=False)
    sampling_along = forms.ChoiceField(label=_("of this length of the house"), required=False)
    sampling_of = forms.CharField(
        label=_("of what"), max_length=120, required=False, help_text=_("As in: bays of each outside wall")
    )
    source = forms.CharField(label=_("Source of the check"), max_length=300, required=False)
    sure = forms.ChoiceField(label=_("How sure"), required=False)
    places = forms.CharField(
        label=_("In which places"), required=False, help_text=_("Empty: where its detail is.")
    )
    when = forms.CharField(label=_("Only when"), required=False, help_text=WHEN_HELP)

    limit_compare = forms.ChoiceField(
        label=_("Limit"),
        choices=[
            ("", _("none")),
            ("at least", _("at least")),
            ("at most", _("at most")),
            ("equals", _("exactly")),
            ("between", _("between")),
        ],
        required=False,
    )
    limit_value = PlainNumberField(label=_("a number"), required=False)
    limit_feature = forms.ChoiceField(label=_("or a feature of the house"), required=False)
    limit_published = forms.ChoiceField(label=_("or a published limit"), required=False)
    limit_calculation = forms.ChoiceField(label=_("or a calculation"), required=False)
    limit_result = forms.CharField(label=_("its result"), max_length=40, required=False)
    limit_inputs = PairsField(label=_("its inputs"), help_text=INPUTS_HELP)
    limit_spread = PlainNumberField(label=_("'Between' reaches up by"), required=False)
    limit_high = SourceField(label=_("or up to"), help_text=_("As in: value 20, or: feature most"))
    limit_unit = forms.CharField(label=_("Unit"), max_length=20, required=False)
    limit_step = PlainNumberField(
        label=_("Read to steps of"), required=False, help_text=_("What the tape or the meter shows.")
    )
    limit_source = forms.CharField(label=_("Source of the limit"), max_length=300, required=False)
    limit_applies = forms.CharField(
        label=_("Applies where"), max_length=200, required=False, help_text=_("The local figure prevails.")
    )
    limit_sure = forms.ChoiceField(label=_("How sure the limit is"), required=False)

    def offer(self) -> None:
        self.choose_from("detail", named(self.tables, "detail", "id"), empty=_now("none"))
        self.choose_from("point", activities(self.tables, points=True), empty=_now("that of its detail"))
        sure = [(one, one) for one in SURE if one]
        self.choose_from("sure", sure, empty=_now("not said"))
        self.choose_from("limit_sure", sure, empty=_now("as its source"))
        numbers = [one for one in self.tables.get("feature", []) if one.get("kind") == "number"]
        labelled = [(one["key"], f"{one.get('label', '')} ({one['key']})") for one in numbers]
        self.choose_from("limit_feature", labelled, empty=_now("none"))
        self.choose_from("sampling_along", labelled, empty=_now("none"))
        published = [
            (key, f"{key}: {limit.value:g} {limit.unit} ({limit.applies})") for key, limit in LIMITS.items()
        ]
        self.choose_from("limit_published", published, empty=_now("none"))
        self.choose_from("limit_calculation", [(one, one) for one in CATALOGUE], empty=_now("none"))

    def clean(self) -> dict[str, Any]:
        """What does not go together is said at its box, before the row as a whole is judged."""
        data = super().clean()
        if not data.get("detail") and not data.get("point"):
            self.add_error("detail", _now("Say which detail is judged, or at which point."))
        if data.get("safety") and data.get("remote"):
            self.add_error("remote", _now("A safety check is never closed from a photograph."))
        limited = any(data.get(f"limit_{name}") not in ("", None, {}) for name in LIMIT_FIELDS)
        judged = data.get("kind_of") in ("counted", "measured")
        if limited and not judged:
            words = _now(
                "What is seen, or a document, has no limit: choose another, or empty the limit below."
            )
            self.add_error("kind_of", words)
        elif judged and not data.get("limit_compare"):
            words = _now("What is counted or measured has a limit: say how it compares, and with what.")
            self.add_error("limit_compare", words)
        elif judged and data.get("limit_value") is not None and not data.get("limit_source"):
            former = self.row.get("limit", {})
            if former.get("source") or "value" not in former:
                words = _now("Say where the number comes from: a standard, a maker's sheet, common practice.")
                self.add_error("limit_source", words)
        return data

    def read(self, row: dict[str, Any]) -> dict[str, Any]:
        limit: Mapping[str, Any] = row.pop("limit", {})
        said = {f"limit_{name}": value for name, value in limit.items()}
        said |= {f"sampling_{name}": value for name, value in row.pop("sampling", {}).items()}
        return {"kind_of": row.pop("kind", "seen"), **said, **super().read(row)}

    def given(self) -> dict[str, Any]:
        values = super().given()
        limit = {name: values.pop(f"limit_{name}") for name in LIMIT_FIELDS}
        said = {name: one for name, one in limit.items() if one not in ("", None, {})}
        if said:
            values["limit"] = in_order(said, self.row.get("limit", {}))
        sampled = {name: values.pop(f"sampling_{name}") for name in SAMPLING_FIELDS}
        sample = {name: one for name, one in sampled.items() if one not in ("", None)}
        if sample:
            values["sampling"] = in_order(sample, self.row.get("sampling", {}))
        values["kind"] = values.pop("kind_of")
        return {name: one for name, one in values.items() if one != {} or name == "more"}
