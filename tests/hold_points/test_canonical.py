"""The canonical form, against RFC 8785's published examples (from memory) and Python's own JSON reader."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hold_points.canonical import NotCanonical, write_canonical

# RFC 8785, section 3.2.2 (from memory): the string member of its first example, and how it is written.
RFC_STRING = "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/"
RFC_WRITTEN = '"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'

# RFC 8785, section 3.2.3 (from memory): keys in the order in which they have to be written.
RFC_KEYS = ["\r", "1", "\u0080", "ö", "€", "\U0001f600", "\ufb33"]

scalars = (
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(st.characters(codec="utf-8"))
)
values = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(codec="utf-8")), inner, max_size=4)
    ),
    max_leaves=20,
)


def test_the_string_of_the_rfc_is_written_as_published():
    assert write_canonical(RFC_STRING) == RFC_WRITTEN


def test_keys_are_sorted_by_utf_16_code_units_as_in_the_rfc():
    shuffled = dict.fromkeys(sorted(RFC_KEYS, reverse=True), 1)
    written = write_canonical(shuffled)
    assert list(json.loads(written)) == RFC_KEYS
    # By code points the emoji would come last: the two orders differ, and the published one is kept.
    assert sorted(RFC_KEYS)[-1] == "\U0001f600"


def test_literals_and_whole_numbers_of_the_rfc_have_one_form():
    # RFC 8785, section 3.2.2 (from memory): {"literals":[null,true,false],...}
    assert write_canonical({"literals": [None, True, False]}) == '{"literals":[null,true,false]}'
    assert write_canonical([0, -1, 9007199254740991]) == "[0,-1,9007199254740991]"


@given(values)
def test_what_is_written_reads_back_and_is_a_fixed_point(value):
    written = write_canonical(value)
    assert json.loads(written) == value
    assert write_canonical(json.loads(written)) == written


@given(values)
def test_it_equals_pythons_own_compact_form_but_for_the_order_of_keys(value):
    # Python sorts by code points: equal wherever no key lies beyond the basic plane.
    plain = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    if all(ord(character) < 0xD800 for character in plain):
        assert write_canonical(value) == plain


@pytest.mark.parametrize(
    "value", [1.5, 2**53, -(2**53), "\ud800", {1: "a"}, object(), float("nan"), {"a": {2.0}}]
)
def test_what_has_no_single_form_is_refused(value):
    with pytest.raises(NotCanonical):
        write_canonical(value)
