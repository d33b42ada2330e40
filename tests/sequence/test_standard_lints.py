"""Lints: every refusal and every warning has a sequence in which it is planted."""

from __future__ import annotations

import pytest

from coordination.sequence.standard import FeatureErrors, Finding, lint, lint_entry, read_sequence, resolve
from tests.sequence.planted import SOUND, plant

AFTER_H = ('after = [{id = "H", lag = 2}]', 'after = [{id = "extra"}]')
WITNESS = (
    'point = "hold"\nwalker = "supervisor"\nstage = "frame"\nhalf_days = 1',
    'point = "witness"\nwalker = "supervisor"\nstage = "frame"\nhalf_days = 0',
)


def findings(*changes: tuple[str, str]) -> list[Finding]:
    return lint(resolve(read_sequence(plant(*changes), "mine.toml"), {}))


def only(found: list[Finding], lint_name: str) -> Finding:
    hits = [finding for finding in found if finding.lint == lint_name]
    assert len(hits) == 1, f"{lint_name}: {[str(finding) for finding in found]}"
    return hits[0]


def test_sound_sequence_has_no_finding():
    assert findings() == []
    assert lint_entry(read_sequence(SOUND)) == []


def test_cycle_is_named_in_order_and_stands_alone():
    found = findings(
        ('after = [{id = "frame"}]', 'after = [{id = "frame"}, {id = "lining"}]'),
    )
    assert [finding.lint for finding in found] == ["cycle"]
    assert "extra > H > lining > extra" in found[0].message
    assert found[0].level == "refused"
    assert found[0].remedy


@pytest.mark.parametrize(
    ("lint_name", "entry", "words", "changes"),
    [
        (
            "detail without point",
            "detail 'd1'",
            "judged at no point",
            [('point = "H"\n', ""), ('detail = "d1"', 'point = "H"')],
        ),
        ("detail without installer", "detail 'd1'", "no one installs it", [('["frame", "extra"]', "[]")]),
        (
            "detail without coverer",
            "detail 'd1'",
            "nothing covers it",
            [('covered_by = ["lining"]', "covered_by = []")],
        ),
        (
            "installer not before point",
            "detail 'd1'",
            "'H' can begin before 'extra' has finished",
            [('{id = "extra", lag = 1}', '{id = "frame", lag = 1}')],
        ),
        (
            "installer not before point",
            "detail 'd1'",
            "'H' can begin before 'extra' has finished",
            [('{id = "extra", lag = 1}', '{id = "extra", type = "SS", lag = 1}')],
        ),
        (
            "installer not before coverer",
            "detail 'd1'",
            "'lining' can bury it before 'extra' has finished",
            [AFTER_H, ('{id = "extra"}]', '{id = "extra", type = "SS"}]')],
        ),
        ("hold not before coverer", "detail 'd1'", "without waiting for hold 'H'", [AFTER_H]),
        (
            "witness or photo point with successor",
            "activity 'lining'",
            "which stops nothing",
            [WITNESS],
        ),
        (
            "negative lag out of a hold",
            "activity 'lining'",
            "may begin 2 half-days before hold 'H'",
            [('{id = "H", lag = 2}', '{id = "H", lag = -2}')],
        ),
        (
            "visit spans a hold",
            "visit 'frame'",
            "hold H lies between 'frame' and 'lining'",
            [('trade = "liner"\nvisit = "lining"', 'trade = "framer"\nvisit = "frame"')],
        ),
        (
            "visit of two trades",
            "visit 'frame'",
            "work of different trades",
            [('name = "Extra frame"\ntrade = "framer"', 'name = "Extra frame"\ntrade = "liner"')],
        ),
        ("one stake", "file", "0 activities are the stake", [("stake = true\n", "")]),
        ("one stake", "file", "2 activities", [("half_days = 4", "half_days = 4\nstake = true")]),
        (
            "unknown trade",
            "activity 'frame'",
            "did you mean 'framer'?",
            [('trade = "framer"', 'trade = "framr"')],
        ),
        ("unknown trade", "activity 'H'", "walker 'boss'", [('walker = "supervisor"', 'walker = "boss"')]),
        (
            "unknown trade",
            "detail 'd1'",
            "trade 'painter'",
            [('point = "H"\n', 'point = "H"\ntells = {painter = "x"}\n')],
        ),
        ("unknown id", "activity 'extra'", "predecessor 'fram'", [('{id = "frame"}', '{id = "fram"}')]),
        ("unknown id", "activity 'frame'", "visit 'framing'", [('visit = "frame"', 'visit = "framing"')]),
        ("unknown id", "activity 'frame'", "stage 'roof'", [('stage = "frame"', 'stage = "roof"')]),
        ("unknown id", "detail 'd1'", "installer 'extr'", [('"frame", "extra"]', '"frame", "extr"]')]),
        (
            "unknown id",
            "detail 'd1'",
            "coverer 'linin'",
            [('covered_by = ["lining"]', 'covered_by = ["linin"]')],
        ),
        ("unknown id", "check 'c1'", "detail 'd2'", [('detail = "d1"', 'point = "H"\ndetail = "d2"')]),
        (
            "unknown id",
            "check 'c1'",
            "'frame' is no point",
            [('detail = "d1"', 'detail = "d1"\npoint = "frame"')],
        ),
        ("unknown id", "check 'c1'", "section of H", [('detail = "d1"', 'detail = "d1"\nsection = "pipes"')]),
    ],
)
def test_fault_is_refused_by_name(lint_name: str, entry: str, words: str, changes: list[tuple[str, str]]):
    finding = only(findings(*changes), lint_name)
    assert finding.level == "refused"
    assert finding.file == "mine.toml"
    assert finding.entry == entry
    assert words in f"{finding.message}; {finding.remedy}"
    assert finding.remedy


@pytest.mark.parametrize(
    ("lint_name", "entry", "words", "changes"),
    [
        (
            "unknown feature",
            "not_covered 'storeys'",
            "did you mean 'storeys'?",
            [("storeys >= 3", "storey >= 3")],
        ),
        (
            "unknown feature",
            "check 'c1'",
            "feature 'bat' is unknown",
            [('feature = "batt"', 'feature = "bat"')],
        ),
        ("unknown feature", "check 'c1'", "'roof' is no number", [('feature = "batt"', 'feature = "roof"')]),
        ("unknown feature", "check 'c1'", "number in its words, 'bat'", [("{batt}", "{bat}")]),
        ("unknown feature", "check 'c1'", "say it in its numbers", [("{batt}", "{lap_of_foil}")]),
        ("empty option", "option 'thin'", "it changes nothing", [("sets = {batt = 90}", "")]),
        ("unknown feature", "detail 'd1'", "'dry' is unknown", [('places = "wet"', 'places = "dry"')]),
        (
            "unknown feature",
            "detail 'd1'",
            "choose from",
            [('places = "wet"', "places = 'kind == \"wall\"'")],
        ),
        (
            "unknown number",
            "check 'c1'",
            "calculation 'eaves' is unknown",
            [('feature = "batt"', 'calculation = "eaves", result = "x"')],
        ),
        (
            "unknown number",
            "check 'c1'",
            "'platform' needs 'joist'",
            [('feature = "batt"', 'calculation = "platform", result = "rise", inputs = {batt = "batt"}')],
        ),
        (
            "unknown number",
            "check 'c1'",
            "published limit 'airway'",
            [('feature = "batt"', 'published = "airway"')],
        ),
        (
            "unknown number",
            "detail 'd1'",
            "drawing 'eve' is unknown; did you mean 'eave'?",
            [('point = "H"\n', 'point = "H"\ndrawing = "eve"\n')],
        ),
    ],
)
def test_name_that_leads_nowhere_is_found_before_a_house_is_set_out(
    lint_name: str, entry: str, words: str, changes: list[tuple[str, str]]
):
    found = [finding for finding in lint_entry(read_sequence(plant(*changes))) if finding.lint == lint_name]
    assert any(one.entry == entry and words in f"{one.message}; {one.remedy}" for one in found), found
    assert {finding.level for finding in found} == {"refused"}


@pytest.mark.parametrize(
    ("lint_name", "entry", "words", "changes"),
    [
        (
            "no time to the walk",
            "activity 'H'",
            "0 half-days from 'extra' to its walk (d1)",
            [('{id = "extra", lag = 1}', '{id = "extra"}')],
        ),
        ("no word time", "activity 'H'", "lining may begin", [('{id = "H", lag = 2}', '{id = "H"}')]),
        (
            "one trade in two visits",
            "activity 'extra'",
            "with nothing between",
            [
                (
                    'name = "Extra frame"\ntrade = "framer"\nvisit = "frame"',
                    'name = "Extra frame"\ntrade = "framer"\nvisit = "lining"',
                ),
                ('trade = "liner"\nvisit = "lining"', 'trade = "liner"'),
            ],
        ),
        (
            "own visit covers it",
            "detail 'd1'",
            "'lining' buries it in the installing visit, and a witness point stops no one",
            [
                WITNESS,
                ('after = [{id = "H", lag = 2}]', 'after = [{id = "extra", lag = 2}]'),
                ('trade = "liner"\nvisit = "lining"', 'trade = "framer"\nvisit = "frame"'),
            ],
        ),
        ("nothing to judge", "detail 'd1'", "no check asks for it", [('detail = "d1"', 'point = "H"')]),
    ],
)
def test_doubt_is_a_warning(lint_name: str, entry: str, words: str, changes: list[tuple[str, str]]):
    finding = only(findings(*changes), lint_name)
    assert finding.level == "warned"
    assert finding.entry == entry
    assert words in finding.message
    assert finding.explained == ""


def test_photo_point_or_hold_in_its_own_visit_is_no_doubt():
    photo = ('point = "hold"\nwalker = "supervisor"', 'point = "photo"\nwalker = "framer"')
    found = findings(
        photo,
        ('stage = "frame"\nhalf_days = 1', 'stage = "frame"\nhalf_days = 0'),
        ('after = [{id = "H", lag = 2}]', 'after = [{id = "extra", lag = 2}]'),
        ('trade = "liner"\nvisit = "lining"', 'trade = "framer"\nvisit = "frame"'),
    )
    assert not [finding for finding in found if finding.lint == "own visit covers it"]


def test_explanation_of_the_author_goes_with_the_warning():
    explained = '\n[[explained]]\nlint = "no word time"\nentry = "H"\nwhy = "same crew"\n'
    text = plant(('{id = "H", lag = 2}', '{id = "H"}')) + explained
    assert only(lint(resolve(read_sequence(text), {})), "no word time").explained == "same crew"


def test_refusals_come_before_warnings():
    found = findings(('{id = "H", lag = 2}', '{id = "H"}'), ("stake = true\n", ""))
    assert [finding.level for finding in found] == ["refused", "warned"]


def test_fault_that_only_an_option_brings_is_found():
    option = '\n[[option]]\nkey = "early"\nname = "Early"\nwhat = "Lining early."\n'
    option += (
        '[[option.changed.activity]]\nid = "lining"\nno_longer_after = ["H"]\nalso_after = [{id = "extra"}]\n'
    )
    found = lint_entry(read_sequence(SOUND + option))
    assert only(found, "hold not before coverer").level == "refused"


def test_defaults_that_the_entry_itself_does_not_cover_are_found():
    found = lint_entry(read_sequence(plant(("storeys >= 3", "storeys >= 1"))))
    assert {finding.lint for finding in found} == {"features"}


MEASURED = 'feature = "batt", unit = "mm"'


@pytest.mark.parametrize(
    ("limit", "lint_name", "words"),
    [
        ('value = -5, unit = "mm", source = "guess"', "impossible limit", "nothing can be less than 0"),
        ('value = 0, unit = "mm", source = "guess"', "impossible limit", "is always met"),
        ('value = 25, unit = "mm"', "limit without source", "25 mm has no 'source'"),
        ('value = 25, unit = "mm", source = " "', "limit without source", "25 mm has no 'source'"),
    ],
)
def test_a_limit_that_nothing_can_meet_or_that_has_no_source_is_refused(limit, lint_name, words):
    found = lint_entry(read_sequence(plant((MEASURED, limit))))
    finding = only(found, lint_name)
    assert (finding.level, finding.entry) == ("refused", "check 'c1', limit")
    assert words in finding.message
    assert finding.remedy


def test_a_limit_of_temperature_may_lie_below_zero():
    limit = 'value = -5, unit = "°C", source = "common practice"'
    assert lint_entry(read_sequence(plant((MEASURED, limit)))) == []


def test_a_feature_of_negative_length_is_refused():
    found = lint_entry(read_sequence(plant(("least = 50", "least = -50"))))
    assert only(found, "impossible limit").entry == "feature 'batt'"


def test_a_wrong_input_is_said_once_and_with_its_row():
    wrong = 'calculation = "eave", result = "set_back", inputs = {pitch = 0, heel = 100, batt = "batt"}'
    [found] = lint_entry(read_sequence(plant((MEASURED, wrong))))
    assert (found.level, found.entry) == ("refused", "check 'c1'")
    assert "pitch: 0° is no pitched roof" in found.message


def test_a_wrong_input_that_an_option_brings_is_said_with_its_row():
    wrong = 'calculation = "platform", result = "rise", inputs = {joist = "storeys", batt = "depth"}'
    depth = '\n[[feature]]\nkey = "depth"\nlabel = "Depth"\nkind = "number"\ndefault = 90\n'
    text = plant((MEASURED, wrong), ("sets = {batt = 90}", "sets = {depth = 0}")) + depth
    [found] = lint_entry(read_sequence(text))
    assert found.entry == "check 'c1'"
    assert "depth: 0 is not possible" in found.message


def test_a_feature_without_least_still_takes_no_negative_length():
    sequence = read_sequence(plant(("least = 50\n", "")))
    with pytest.raises(FeatureErrors, match="-5 mm is too little; give 0 mm or more"):
        resolve(sequence, {"batt": -5})
