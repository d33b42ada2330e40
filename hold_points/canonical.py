"""Canonical JSON, the form that is hashed: RFC 8785 for all but numbers with a fraction.

Those are refused, so that no two programs can write one value in two ways: measured values are strings.
Standard library only; the stand-alone verifier uses it too.
"""

from __future__ import annotations

from json.encoder import encode_basestring

LARGEST = 2**53 - 1
"""Whole numbers beyond this are not the same in every reader of JSON (RFC 8785, section 3.2.2.3)."""


class NotCanonical(ValueError):
    """A value that has no canonical form here; the message names it."""


def write_canonical(value: object) -> str:
    """The one text of a value: keys sorted by UTF-16 code units, no white space, shortest escapes.

    Raises:
        NotCanonical: a float, a whole number beyond 2^53 - 1, a half surrogate, a key that is no string.
    """
    if value is None:
        return "null"
    if value is True:
        return "true"
    if value is False:
        return "false"
    if isinstance(value, int):
        if abs(value) > LARGEST:
            raise NotCanonical(f"{value} is too large for a number; write it as a string")
        return str(int(value))
    if isinstance(value, str):
        return _write_string(value)
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(write_canonical(one) for one in value) + "]"
    if isinstance(value, dict):
        for key in value:
            if not isinstance(key, str):
                raise NotCanonical(f"the key {key!r} is no string")
        # ASCII sorts by code unit as it stands, and nearly every key is ASCII.
        ascii_only = all(map(str.isascii, value))
        keys = sorted(value) if ascii_only else sorted(value, key=_utf_16_units)
        return "{" + ",".join(f"{_write_string(key)}:{write_canonical(value[key])}" for key in keys) + "}"
    raise NotCanonical(f"{value!r} ({type(value).__name__}) has no canonical form; write it as a string")


def _utf_16_units(key: str) -> bytes:
    """Big-endian UTF-16: comparing these bytes compares code units."""
    return key.encode("utf-16-be", "surrogatepass")


def _write_string(text: str) -> str:
    if not text.isascii():
        try:
            text.encode("utf-8")
        except UnicodeEncodeError as error:
            raise NotCanonical(f"the text {text!r} has half a surrogate pair") from error
    # Python's own escapes without ensure_ascii are exactly those of ECMAScript's JSON.stringify.
    return encode_basestring(text)
