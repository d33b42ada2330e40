"""From an entry to a house: features, options, conditions, and what happens around a dropped activity."""

from __future__ import annotations

import pytest

from coordination.sequence.standard import (
    FeatureErrors,
    SequenceError,
    StarterPlace,
    check_features,
    holds_before,
    places_for,
    read_sequence,
    resolve,
)
from tests.sequence.planted import SOUND, plant

EXTRA_GONE = ('id = "extra"', 'id = "extra"\nwhen = "not garage"')


def links_of(resolved):
    return {
        (one.predecessor, one.successor, one.type, one.lag, one.lag_calendar)
        for one in resolved.relationships
    }


# ---------------------------------------------------------------- features


def test_features_have_the_entry_s_defaults():
    assert resolve(read_sequence(SOUND), {"storeys": 2.0}).features == {
        "storeys": 2,
        "garage": True,
        "roof": "metal",
        "batt": 290,
    }
    assert isinstance(check_features(read_sequence(SOUND), {"storeys": 2.0})["storeys"], int)


@pytest.mark.parametrize(
    ("given", "errors"),
    [
        ({"storeys": 0}, {"storeys": "give 1 or more"}),
        ({"storeys": 1.5}, {"storeys": "no whole number"}),
        ({"storeys": "two"}, {"storeys": "no number"}),
        ({"storeys": True}, {"storeys": "no number"}),
        ({"batt": 500}, {"batt": "give 400 mm or less"}),
        ({"batt": float("nan")}, {"batt": "no number"}),
        ({"batt": float("inf")}, {"batt": "give 400 mm or less"}),
        ({"garage": "yes"}, {"garage": "not true or false"}),
        ({"roof": "slate"}, {"roof": "choose from metal, tiles"}),
        ({"rof": "tiles"}, {"rof": "did you mean 'roof'?"}),
        (
            {"storeys": 9, "roof": 3, "batt": None},
            {"storeys": "3 or less", "roof": "choose", "batt": "number"},
        ),
        ({"storeys": 3}, {"storeys": "three storeys are not known here; take another entry"}),
    ],
)
def test_feature_is_refused_by_name(given: dict[str, object], errors: dict[str, str]):
    with pytest.raises(FeatureErrors) as refused:
        resolve(read_sequence(SOUND), given)
    assert refused.value.errors.keys() == errors.keys()
    for key, words in errors.items():
        assert words in refused.value.errors[key]


def test_feature_that_a_calculation_refuses_is_named():
    rule = 'calculation = "platform", result = "rise", inputs = {joist = "joist", batt = "batt"}'
    joist = '\n[[feature]]\nkey = "joist"\nlabel = "Joist"\nkind = "number"\ndefault = 90\n'
    sequence = read_sequence(plant(('feature = "batt"', rule)) + joist)
    assert resolve(sequence, {})
    with pytest.raises(FeatureErrors) as refused:
        resolve(sequence, {"joist": -1})
    assert refused.value.errors["joist"].startswith("-1 is not possible")


# ---------------------------------------------------------------- dropped activities


def test_dropped_activity_is_bridged_from_its_predecessors_to_its_successors():
    resolved = resolve(read_sequence(plant(EXTRA_GONE)), {})
    assert links_of(resolved) == {("frame", "H", "FS", 1, ""), ("H", "lining", "FS", 2, "")}
    assert resolved.details[0].installed_by == ("frame",)
    assert [(one.id, one.why) for one in resolved.dropped] == [("extra", "not: not garage")]
    assert resolve(read_sequence(plant(EXTRA_GONE)), {"garage": False}).dropped == ()


def test_word_time_of_a_dropped_hold_lapses():
    sequence = read_sequence(plant(('id = "H"', 'id = "H"\nwhen = "not garage"')))
    resolved = resolve(sequence, {})
    assert ("extra", "lining", "FS", 1, "") in links_of(resolved), (
        "the lag to the hold stays, its word time does not"
    )
    assert resolved.details[0].point == ""
    assert resolved.checks == ()


@pytest.mark.parametrize(
    ("into", "out", "expected"),
    [
        ('{id = "frame", lag = 3}', '{id = "extra", lag = 1}', ("FS", 4, "")),
        ('{id = "frame", type = "SS", lag = 2}', '{id = "extra", lag = 1}', ("SS", 3, "")),
        ('{id = "frame", type = "FF"}', '{id = "extra", type = "FF", lag = 2}', ("FF", 2, "")),
        ('{id = "frame", type = "SS"}', '{id = "extra", type = "SF", lag = 2}', ("SF", 2, "")),
        ('{id = "frame", lag = 4, lag_calendar = "elapsed"}', '{id = "extra"}', ("FS", 4, "elapsed")),
        ('{id = "frame"}', '{id = "extra", lag = 4, lag_calendar = "elapsed"}', ("FS", 4, "elapsed")),
    ],
)
def test_bridge_joins_the_ends_and_adds_the_lags(into: str, out: str, expected: tuple[str, int, str]):
    text = plant(EXTRA_GONE, ('{id = "frame"}', into), ('{id = "extra", lag = 1}', out))
    assert ("frame", "H", *expected) in links_of(resolve(read_sequence(text), {}))


def test_lags_counted_in_two_ways_are_not_added_up():
    into = '{id = "frame", lag = 4, lag_calendar = "elapsed"}'
    with pytest.raises(SequenceError, match="activity 'extra': dropped, it adds lags counted in two ways"):
        resolve(read_sequence(plant(EXTRA_GONE, ('{id = "frame"}', into))), {})


def test_bridge_that_the_network_implies_is_left_out():
    text = plant(
        EXTRA_GONE,
        ('{id = "extra", lag = 1}', '{id = "extra"}, {id = "other"}'),
        (
            "[[detail]]",
            '[[activity]]\nid = "other"\nname = "O"\ntrade = "liner"\nstage = "frame"\nhalf_days = 1\n'
            'after = [{id = "frame"}]\n\n[[detail]]',
        ),
    )
    assert links_of(resolve(read_sequence(text), {})) == {
        ("frame", "other", "FS", 0, ""),
        ("other", "H", "FS", 0, ""),
        ("H", "lining", "FS", 2, ""),
    }


def test_longer_of_bridge_and_relationship_stays():
    text = plant(EXTRA_GONE, ('{id = "extra", lag = 1}', '{id = "extra", lag = 5}, {id = "frame", lag = 2}'))
    assert ("frame", "H", "FS", 5, "") in links_of(resolve(read_sequence(text), {}))
    text = plant(EXTRA_GONE, ('{id = "extra", lag = 1}', '{id = "extra", lag = 1}, {id = "frame", lag = 2}'))
    assert ("frame", "H", "FS", 2, "") in links_of(resolve(read_sequence(text), {}))


def test_holds_before_stay_before_when_work_between_is_dropped():
    text = plant(('id = "lining"', 'id = "skim"'), ('["lining"]', '["skim"]'))
    text += '\n[[activity]]\nid = "paint"\nname = "P"\ntrade = "liner"\nstage = "frame"\nhalf_days = 1\n'
    text += 'after = [{id = "skim"}]\n'
    text = text.replace('id = "skim"\n', 'id = "skim"\nwhen = "not garage"\n', 1)
    assert holds_before(resolve(read_sequence(text), {}))["paint"] == {"H"}


def test_word_time_of_a_crew_that_does_not_come_lapses():
    text = plant(('id = "lining"', 'id = "skim"\nwhen = "not garage"'), ('["lining"]', '["skim"]'))
    text += '\n[[activity]]\nid = "paint"\nname = "P"\ntrade = "liner"\nstage = "frame"\nhalf_days = 1\n'
    text += 'after = [{id = "skim", lag = 1}]\n'
    assert ("H", "paint", "FS", 1, "") in links_of(resolve(read_sequence(text), {}))


# ---------------------------------------------------------------- options


def test_option_fixes_a_feature_and_refuses_another_value_for_it():
    sequence = read_sequence(SOUND)
    assert resolve(sequence, {}, ["thin"]).features["batt"] == 90
    assert resolve(sequence, {"batt": 290}, ["thin"]).features["batt"] == 90, "a form sends the default along"
    with pytest.raises(FeatureErrors, match="an option fixes it at 90"):
        resolve(sequence, {"batt": 140}, ["thin"])


def test_option_adds_changes_and_removes_rows():
    option = """
[[option]]
key = "more"
name = "More"
what = "More work."
[option.removed]
activity = ["extra"]
check = ["c1"]
[[option.added.activity]]
id = "seal"
name = "Seal"
trade = "liner"
stage = "frame"
half_days = 1
after = [{id = "frame"}]
[[option.changed.activity]]
id = "lining"
half_days = 7
also_after = [{id = "seal", lag = 3}]
"""
    resolved = resolve(read_sequence(SOUND + option), {}, ["more"])
    assert [activity.id for activity in resolved.activities] == ["frame", "H", "lining", "seal"]
    assert resolved.activity("lining").half_days == 7
    assert ("seal", "lining", "FS", 3, "") in links_of(resolved)
    assert ("frame", "H", "FS", 1, "") in links_of(resolved)
    assert [(one.id, one.why) for one in resolved.dropped] == [("extra", "option 'More'")]
    assert resolved.checks == ()
    assert resolve(read_sequence(SOUND + option), {}).activity("lining").half_days == 3, (
        "the base stays the truth"
    )


def changing(key: str, what: str, rest: str = "") -> str:
    head = f'\n[[option]]\nkey = "{key}"\nname = "{key}"\nwhat = "x"\n{rest}\n'
    return head + f"[[option.changed.activity]]\n{what}\n"


def test_two_options_that_decide_the_same_field_are_refused():
    text = (
        SOUND + changing("a", 'id = "lining"\nhalf_days = 7') + changing("b", 'id = "lining"\nhalf_days = 9')
    )
    with pytest.raises(SequenceError, match="it and option 'a' both decide 'half_days' of activity 'lining'"):
        resolve(read_sequence(text), {}, ["a", "b"])


def test_options_that_exclude_each_other_are_refused():
    text = SOUND + changing("a", 'id = "lining"\nhalf_days = 7', 'excludes = ["thin"]')
    with pytest.raises(SequenceError, match="option 'a': cannot stand beside option 'thin'"):
        resolve(read_sequence(text), {}, ["thin", "a"])


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (changing("a", 'id = "roof"\nhalf_days = 7'), "no activity 'roof' to change"),
        (changing("a", 'id = "lining"\nhalf_day = 7'), "did you mean 'half_days'?"),
        (changing("a", 'id = "lining"\nno_longer_after = ["frame"]'), "'lining' does not follow 'frame'"),
        (
            '\n[[option]]\nkey = "a"\nname = "a"\nwhat = "x"\nremoved = {detail = ["d9"]}\n',
            "no detail 'd9' to change or remove",
        ),
        (
            '\n[[option]]\nkey = "a"\nname = "a"\nwhat = "x"\n[[option.added.gap]]\nfirst = "a"\n',
            "'then' is missing",
        ),
        (
            '\n[[option]]\nkey = "a"\nname = "a"\nwhat = "x"\n[[option.added.check]]\nid = "c1"\n',
            "adds check 'c1', which is there already",
        ),
        (
            '\n[[option]]\nkey = "a"\nname = "a"\nwhat = "x"\n[[option.added.roof]]\nid = "c1"\n',
            "'roof' is unknown here",
        ),
    ],
)
def test_option_that_does_not_fit_is_refused_when_the_file_is_read(option: str, words: str):
    with pytest.raises(SequenceError) as refused:
        read_sequence(SOUND + option)
    assert words in str(refused.value)


def test_unknown_option_is_refused_with_those_there_are():
    with pytest.raises(SequenceError, match="option 'thick': is unknown; choose from thin"):
        resolve(read_sequence(SOUND), {}, ["thick"])


# ---------------------------------------------------------------- visits and places


def test_unnamed_activities_of_one_trade_form_a_visit_as_long_as_no_hold_comes_between():
    text = SOUND.replace('visit = "frame"\n', "").replace('visit = "lining"\n', "")
    text = text.replace('trade = "liner"\nstage', 'trade = "framer"\nstage')
    visits = resolve(read_sequence(text), {}).visits
    assert [(visit.key, visit.activities) for visit in visits] == [
        ("frame", ("frame", "extra")),
        ("lining", ("lining",)),
    ]
    apart = text.replace('after = [{id = "frame"}]', 'after = [{id = "frame", lag = 1}]')
    assert [visit.activities for visit in resolve(read_sequence(apart), {}).visits] == [
        ("frame",),
        ("extra",),
        ("lining",),
    ]
    together = text.replace('after = [{id = "frame"}]', 'after = [{id = "frame", type = "SS", lag = 2}]')
    assert resolve(read_sequence(together), {}).visits[0].activities == ("frame", "extra")


def test_points_belong_to_no_visit():
    resolved = resolve(read_sequence(SOUND), {})
    assert resolved.activity("H").visit == ""
    assert all("H" not in visit.activities for visit in resolved.visits)


def test_selector_takes_places_by_attribute_and_the_entry_s_default():
    sequence = read_sequence(SOUND)
    resolved = resolve(sequence, {})
    bath = StarterPlace("bath", "Bathroom", "room", "ground", {"wet": True})
    hall = StarterPlace("hall", "Hall", "room", "ground", {})
    assert places_for(resolved.details[0], [hall, bath], sequence) == (bath,)
    assert places_for(resolved.checks[0], [hall], sequence) == ()


def test_check_without_selector_or_asked_once_is_for_the_whole_house():
    hall = StarterPlace("hall", "Hall", "room", "ground", {})
    once = read_sequence(plant(('id = "c1"', 'id = "c1"\nonce = true')))
    assert places_for(resolve(once, {}).checks[0], [hall], once) is None
    plain = read_sequence(plant(('places = "wet"', "")))
    assert places_for(resolve(plain, {}).details[0], [hall], plain) is None


def test_words_carry_the_numbers_of_the_house():
    assert resolve(read_sequence(SOUND), {"batt": 250}).checks[0].text == "Clear height over 250 mm."
