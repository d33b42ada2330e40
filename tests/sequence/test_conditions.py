"""Conditions: what they mean (judged by Python itself), how they are refused, and that they read back."""

from __future__ import annotations

import pickle
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coordination.sequence.conditions import ConditionError, Kind, read_condition
from coordination.sequence.conditions.grammar import And, Compare, Constant, Name, Node, Not, Or
from coordination.sequence.conditions.parsing import DEEPEST, LONGEST

VALUES: dict[str, Any] = {"storeys": 2, "pitch": 22.5, "garage": True, "sloping": False, "roof": "metal"}
KINDS = {
    "storeys": Kind("number"),
    "pitch": Kind("number"),
    "garage": Kind("flag"),
    "sloping": Kind("flag"),
    "roof": Kind("text", ("metal", "tiles")),
}

numbers = st.one_of(
    st.sampled_from([Name("storeys"), Name("pitch")]),
    st.integers(-999, 999).map(lambda n: Constant(n / 4)),
)
texts = st.one_of(st.just(Name("roof")), st.sampled_from(["metal", "tiles", "it's"]).map(Constant))
flags = st.one_of(st.sampled_from([Name("garage"), Name("sloping")]), st.booleans().map(Constant))
comparisons = st.one_of(
    st.builds(Compare, numbers, st.sampled_from(["==", "!=", "<", "<=", ">", ">="]), numbers),
    st.builds(Compare, texts, st.sampled_from(["==", "!="]), texts),
    st.builds(Compare, flags, st.sampled_from(["==", "!="]), flags),
)


def join(inner: st.SearchStrategy[Node]) -> st.SearchStrategy[Node]:
    several = st.lists(inner, min_size=2, max_size=3).map(tuple)
    return st.one_of(st.builds(Not, inner), st.builds(And, several), st.builds(Or, several))


conditions = st.recursive(st.one_of(flags, comparisons), join, max_leaves=8).filter(
    lambda n: len(str(n)) < LONGEST
)


@given(conditions)
def test_condition_reads_back_as_it_was_printed(node: Node):
    assert read_condition(str(node)).root == node


@given(conditions)
def test_condition_means_what_python_means(node: Node):
    # The oracle is Python's own evaluation of the same words: and, or, not and comparisons bind alike.
    words = str(node).replace("true", "True").replace("false", "False")
    expected = eval(words, {"__builtins__": {}}, VALUES)  # noqa: S307  # text made above
    assert read_condition(str(node)).true_for(VALUES) is expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("garage", True),
        ("not garage or storeys >= 2", True),
        ("not (garage or storeys >= 2)", False),
        ('roof == "metal" and pitch > 22', True),
        ("roof == 'tiles' or sloping", False),
        ("storeys==2", True),
        ("true", True),
        ("sloping or garage and storeys < 2", False),
    ],
)
def test_condition_holds_or_not(text: str, expected: bool):
    assert read_condition(text).true_for(VALUES) is expected


def test_condition_lists_the_names_that_it_asks():
    assert read_condition('a and (b > 1 or not c == "x")').names == {"a", "b", "c"}


@pytest.mark.parametrize(
    ("text", "position", "words"),
    [
        ("", 1, "the end stands where a value should"),
        ("garage and", 11, "the end stands where a value should"),
        ("garage = true", 8, "write =="),
        ("(garage", 8, "close the one opened at 1"),
        ("garage)", 7, "does not belong here"),
        ("garage sloping", 8, "join conditions with 'and' or 'or'"),
        ("1 < storeys < 3", 13, "join two comparisons with 'and'"),
        ('roof == "metal', 9, "close the quotation"),
        ("garage & sloping", 8, "'&' cannot be read"),
        ("and garage", 1, "'and' stands where a value should"),
        ("__import__('os')", 11, "does not belong here"),
        ("storeys.real > 1", 8, "'.' cannot be read"),
        ("2x > 1", 1, "'2' cannot be read"),
    ],
)
def test_condition_is_refused_at_its_position(text: str, position: int, words: str):
    with pytest.raises(ConditionError) as refused:
        read_condition(text)
    assert refused.value.position == position
    assert words in str(refused.value)
    assert refused.value.text == text


def test_condition_that_nests_too_deep_is_refused_before_python_gives_up():
    assert read_condition("(" * DEEPEST + "garage" + ")" * DEEPEST).true_for(VALUES)
    with pytest.raises(ConditionError, match="nested deeper"):
        read_condition("(" * 200 + "garage" + ")" * 200)
    with pytest.raises(ConditionError, match="nested deeper"):
        read_condition("not " * 100 + "garage")


def test_condition_that_is_too_long_is_refused():
    with pytest.raises(ConditionError, match="longer than"):
        read_condition("garage or " * 100 + "garage")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("garge", "did you mean 'garage'?"),
        ("storeys", "is not true or false"),
        ("garage == 1", "'garage' is a flag and '1' a number"),
        ('roof == "slate"', "choose from metal, tiles"),
        ("roof < 'tiles'", "orders numbers only"),
        ("garage >= sloping", "orders numbers only"),
        ("not storeys", "is not true or false"),
        ("garage and (sloping or pich > 20)", "did you mean 'pitch'?"),
    ],
)
def test_condition_that_does_not_suit_its_names_is_refused(text: str, words: str):
    with pytest.raises(ConditionError, match="condition") as refused:
        read_condition(text).check_against(KINDS)
    assert words in str(refused.value)


@given(conditions)
def test_checked_condition_never_fails_on_values_of_those_kinds(node: Node):
    condition = read_condition(str(node))
    try:
        condition.check_against(KINDS)
    except ConditionError:
        return  # "it's" is no choice of the roof
    assert condition.true_for(VALUES) in (True, False)


@pytest.mark.parametrize("text", ["nothing", "storeys == roof", "roof > roof", "storeys"])
def test_value_of_the_wrong_kind_is_refused_when_asked(text: str):
    with pytest.raises(ConditionError):
        read_condition(text).true_for(VALUES)


def test_refusal_survives_a_trip_between_processes():
    with pytest.raises(ConditionError) as refused:
        read_condition("(")
    assert str(pickle.loads(pickle.dumps(refused.value))) == str(refused.value)  # noqa: S301  # our own bytes
