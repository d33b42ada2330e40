"""Names that lead nowhere: unknown features, trades, stages, ids, calculations, limits.

Every unknown name of an entry is found in one pass, so that its author mends them together.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from coordination.fabric import CATALOGUE, LIMITS, FabricError
from coordination.fabric.drawings import DRAWINGS
from coordination.fabric.misses import MISSES
from coordination.sequence.conditions import Condition, ConditionError, Kind, unknown_name_remedy
from coordination.sequence.library.entry import ROLES, Check, Detail, MissRule, Source, StandardSequence
from coordination.sequence.library.limits import PLACEHOLDER, quoted_word
from coordination.sequence.library.refusals import Finding
from coordination.sequence.library.rows import refuse_value

UNKNOWN_FEATURE = "unknown feature"
UNKNOWN_NUMBER = "unknown number"
UNKNOWN_TRADE = "unknown trade"
UNKNOWN_ID = "unknown id"
# Without these a house cannot be resolved at all.
BREAKING = (UNKNOWN_FEATURE, UNKNOWN_NUMBER)


def find_unknown_names(entry: StandardSequence) -> list[Finding]:
    """A refusal for every name of the entry that leads nowhere."""
    return _References(entry).find()


class _References:
    """One pass over one entry."""

    def __init__(self, entry: StandardSequence) -> None:
        self.entry = entry
        self.findings: list[Finding] = []
        self.features = entry.feature_kinds
        self.place_kinds = entry.place_condition_kinds
        self.activities = {activity.id: activity for activity in entry.activities}
        self.trades = [trade.key for trade in entry.trades]

    def find(self) -> list[Finding]:
        self._read_features()
        self._read_activities()
        for detail in self.entry.details:
            self._read_detail(detail)
        for check in self.entry.checks:
            self._read_check(check)
        self._read_places()
        for rule in self.entry.not_covered:
            row = f"not_covered '{rule.feature}'"
            self._known(UNKNOWN_FEATURE, row, "feature", [rule.feature], self.features)
            self._condition(row, rule.when, self.features)
        for gap in self.entry.gaps:
            row = f"gap '{gap.first}'"
            self._known(UNKNOWN_ID, row, "activity", (gap.first, gap.then), self.activities)
            self._condition(row, gap.when, self.features)
        return self.findings

    def _refuse(self, lint: str, row: str, message: str, remedy: str) -> None:
        self.findings.append(Finding("refused", lint, row, message, remedy, self.entry.file))

    def _known(self, lint: str, row: str, what: str, names: Iterable[str], known: Collection[str]) -> None:
        for name in names:
            if name not in known:
                self._refuse(lint, row, f"{what} '{name}' is unknown", unknown_name_remedy(name, known))

    def _condition(self, row: str, condition: Condition | None, kinds: Mapping[str, Kind]) -> None:
        if condition is None:
            return
        try:
            condition.check_against(kinds)
        except ConditionError as error:
            self._refuse(UNKNOWN_FEATURE, row, f"condition '{condition}': {error.message}", error.remedy)

    def _with_own(self, numbers: Mapping[str, Source]) -> dict[str, Kind]:
        """What the condition of a detail or a check may ask for: features, and the row's own numbers."""
        return {**self.features, **dict.fromkeys(numbers, Kind("number"))}

    def _read_features(self) -> None:
        """A feature's condition asks for features that every house is asked for: so none goes in a circle."""
        conditional = {one.key for one in self.entry.features if one.when is not None}
        for feature in self.entry.features:
            row = f"feature '{feature.key}'"
            asked = sorted(feature.when.names & conditional) if feature.when is not None else []
            if asked:
                message = f"condition '{feature.when}' asks for '{asked[0]}', which has a condition itself"
                remedy = "ask for features that every house has"
                self._refuse(UNKNOWN_FEATURE, row, message, remedy)
            else:
                self._condition(row, feature.when, self.features)

    def _read_activities(self) -> None:
        stages = [stage.key for stage in self.entry.stages]
        for activity in self.entry.activities:
            row = f"activity '{activity.id}'"
            self._condition(row, activity.when, self.features)
            self._known(UNKNOWN_ID, row, "stage", [activity.stage], stages)
            if activity.trade:
                self._known(UNKNOWN_TRADE, row, "trade", [activity.trade], self.trades)
            if activity.walker:
                self._known(UNKNOWN_TRADE, row, "walker", [activity.walker], [*ROLES, *self.trades])
            if activity.visit:
                self._known(UNKNOWN_ID, row, "visit", [activity.visit], self.entry.visit_names)
            before = [link.predecessor for link in activity.after]
            self._known(UNKNOWN_ID, row, "predecessor", before, self.activities)

    def _read_detail(self, detail: Detail) -> None:
        row = f"detail '{detail.id}'"
        self._condition(row, detail.when, self._with_own(detail.numbers))
        self._condition(row, detail.places, self.place_kinds)
        self._known(UNKNOWN_ID, row, "installer", detail.installed_by, self.activities)
        self._known(UNKNOWN_ID, row, "coverer", detail.covered_by, self.activities)
        self._known(UNKNOWN_ID, row, "'with' coverer", detail.along, detail.covered_by)
        self._known(UNKNOWN_TRADE, row, "trade", detail.tells, self.trades)
        self._point(row, detail.point, detail.section)
        self._numbers(row, detail.numbers)
        if detail.drawing:
            self._drawing(row, detail)
        if detail.miss is not None:
            self._miss(row, detail.miss, detail.numbers)
        for words in (detail.instruction, *detail.tells.values()):
            self._placeholders(row, words, detail.numbers)

    def _miss(self, row: str, miss: MissRule, numbers: Mapping[str, Source]) -> None:
        self._known(UNKNOWN_NUMBER, row, "miss", [miss.kind], MISSES)
        self._inputs(row, miss.inputs, numbers)
        if miss.kind in MISSES:
            taken = {name: one.required for name, one in MISSES[miss.kind].takes.items()}
            self._known(UNKNOWN_NUMBER, row, f"input of {miss.kind}", miss.inputs, taken)
            for name, required in taken.items():
                if required and name not in miss.inputs:
                    self._refuse(
                        UNKNOWN_NUMBER, row, f"'{miss.kind}' needs '{name}'", "give it in its inputs"
                    )

    def _drawing(self, row: str, detail: Detail) -> None:
        self._known(UNKNOWN_NUMBER, row, "drawing", [detail.drawing], DRAWINGS)
        self._inputs(row, detail.drawing_inputs, detail.numbers)
        if detail.drawing in DRAWINGS:
            taken = [one.name for one in DRAWINGS[detail.drawing].inputs]
            self._known(UNKNOWN_NUMBER, row, "number of its drawing", detail.drawing_inputs, taken)
            for name in DRAWINGS[detail.drawing].numbers:
                if name not in detail.drawing_inputs:
                    self._refuse(
                        UNKNOWN_NUMBER, row, f"its drawing needs '{name}'", "give it in drawing_inputs"
                    )
            self._drawing_words(row, detail)

    def _drawing_words(self, row: str, detail: Detail) -> None:
        """Words in quotes are the same on every house: what the drawing does not know is refused here."""
        for one in DRAWINGS[detail.drawing].inputs:
            word = quoted_word(detail.drawing_inputs.get(one.name, 0))
            try:
                if word:
                    one.read(one.name, word)
            except FabricError as error:
                self._refuse(UNKNOWN_NUMBER, row, f"word of its drawing: {error}", "mend drawing_inputs")

    def _read_check(self, check: Check) -> None:
        row = f"check '{check.id}'"
        self._condition(row, check.when, self._with_own(check.numbers))
        self._condition(row, check.places, self.place_kinds)
        if check.detail:
            self._known(UNKNOWN_ID, row, "detail", [check.detail], [one.id for one in self.entry.details])
        self._point(row, check.point, check.section)
        self._numbers(row, check.numbers)
        self._placeholders(row, check.text, check.numbers)
        if check.sampling.along:
            self._number_feature(row, check.sampling.along)
        if check.limit is not None:
            self._source(row, check.limit.of)
            if check.limit.high is not None:
                self._source(row, check.limit.high)

    def _point(self, row: str, point: str, section: str) -> None:
        if not point:
            return
        activity = self.activities.get(point)
        if activity is None or not activity.is_point:
            points = [one.id for one in self.entry.activities if one.is_point]
            self._refuse(UNKNOWN_ID, row, f"'{point}' is no point", unknown_name_remedy(point, points))
        elif section:
            self._known(UNKNOWN_ID, row, f"section of {point}", [section], activity.sections)

    def _numbers(self, row: str, numbers: Mapping[str, Source]) -> None:
        for source in numbers.values():
            self._source(row, source)

    def _source(self, row: str, source: Source) -> None:
        if source.feature:
            self._number_feature(row, source.feature)
        if source.published and source.published not in LIMITS:
            remedy = unknown_name_remedy(source.published, LIMITS)
            self._refuse(UNKNOWN_NUMBER, row, f"published limit '{source.published}' is unknown", remedy)
        if not source.calculation:
            return
        definition = CATALOGUE.get(source.calculation)
        if definition is None:
            remedy = unknown_name_remedy(source.calculation, CATALOGUE)
            self._refuse(UNKNOWN_NUMBER, row, f"calculation '{source.calculation}' is unknown", remedy)
            return
        results = [result.name for result in definition.results]
        self._known(UNKNOWN_NUMBER, row, f"result of {source.calculation}", [source.result], results)
        taken = {one.name: one.required for one in definition.inputs}
        self._known(UNKNOWN_NUMBER, row, f"input of {source.calculation}", source.inputs, taken)
        for name, required in taken.items():
            if required and name not in source.inputs:
                self._refuse(
                    UNKNOWN_NUMBER, row, f"'{source.calculation}' needs '{name}'", "give it in inputs"
                )
        self._inputs(row, source.inputs)

    def _number_feature(self, row: str, name: str) -> None:
        self._known(UNKNOWN_FEATURE, row, "feature", [name], self.features)
        if name in self.features and self.features[name].name != "number":
            self._refuse(UNKNOWN_FEATURE, row, f"feature '{name}' is no number", "name one that is")

    def _inputs(
        self, row: str, inputs: Mapping[str, str | float], own: Mapping[str, Source] | None = None
    ) -> None:
        names = [given for given in inputs.values() if isinstance(given, str) and not quoted_word(given)]
        self._known(UNKNOWN_FEATURE, row, "feature", names, {*self.features, *(own or {})})

    def _placeholders(self, row: str, words: str, numbers: Mapping[str, Source]) -> None:
        known = {*self.features, *numbers}
        for name in PLACEHOLDER.findall(words):
            if name not in known:
                remedy = f"say it in its numbers, as in '{name} = {{value = 45}}', or name a feature"
                close = unknown_name_remedy(name, known)
                remedy = f"{close} else {remedy}" if close.startswith("did you mean") else remedy
                self._refuse(UNKNOWN_FEATURE, row, f"number in its words, '{name}' is unknown", remedy)

    def _read_places(self) -> None:
        zones = [zone.key for zone in self.entry.zones]
        kinds = [kind.key for kind in self.entry.place_kinds]
        attributes = {one.key: one for one in self.entry.place_attributes}
        for place in self.entry.places:
            row = f"place '{place.key}'"
            self._known(UNKNOWN_ID, row, "zone", [place.zone], zones)
            self._known(UNKNOWN_ID, row, "kind", [place.kind], kinds)
            self._known(UNKNOWN_ID, row, "attribute", place.attributes, attributes)
            for name, value in place.attributes.items():
                message = refuse_value(attributes[name], value) if name in attributes else ""
                if message:
                    self._refuse(UNKNOWN_ID, row, f"attribute '{name}': {message}", "mend the place")
