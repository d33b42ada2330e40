"""Boxes that say a table one line at a time: inputs, numbers with their source, words for each trade."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

NAME = re.compile(r"[a-z][a-z0-9_-]*\Z")
SOURCES = ("value", "feature", "published", "calculation")


class LinedField(forms.CharField):
    """A table as lines 'name: what'. How 'what' is written and read is said by each kind of box."""

    def __init__(self, **kwargs: Any) -> None:
        rows = kwargs.pop("rows", 3)
        attrs = {"rows": rows, "spellcheck": "false"}
        super().__init__(required=False, widget=forms.Textarea(attrs=attrs), **kwargs)

    def write(self, value: Any) -> str:
        """What stands behind the name."""
        raise NotImplementedError

    def read(self, name: str, words: str) -> Any:
        """What the words behind a name mean; raises ValidationError naming the line."""
        raise NotImplementedError

    def read_name(self, name: str) -> str:
        """The name as the table has it; empty for what is no name."""
        return name if NAME.match(name) else ""

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, Mapping):
            return value
        return "\n".join(f"{name}: {self.write(one)}" for name, one in value.items())

    def clean(self, value: Any) -> dict[str, Any]:
        said: dict[str, Any] = {}
        for line in super().clean(value).splitlines():
            if not line.strip():
                continue
            said_name, colon, words = (one.strip() for one in line.partition(":"))
            name = self.read_name(said_name)
            if not colon or not words or not name:
                raise forms.ValidationError(
                    _(
                        "'%(line)s' is no line 'name: what'. Write the name in small letters, a colon, and "
                        "what it is."
                    ),
                    params={"line": line.strip()},
                )
            if name in said:
                raise forms.ValidationError(
                    _("'%(name)s' is there twice. Keep one of the two lines."), params={"name": name}
                )
            said[name] = self.read(name, words)
        return said


class PairsField(LinedField):
    """Inputs: a feature's name, or a number."""

    def write(self, value: Any) -> str:
        return str(value)

    def read(self, name: str, words: str) -> Any:
        return as_number(words, words)


class WordsField(LinedField):
    """Words for each trade, which may be called by its short name or as people call it; `trades` are both."""

    def __init__(self, **kwargs: Any) -> None:
        self.trades: dict[str, str] = {}
        super().__init__(**kwargs)

    def read_name(self, name: str) -> str:
        known = {words.casefold(): key for key, words in self.trades.items()}
        if name in self.trades or not name:
            return name
        if name.casefold() in known:
            return known[name.casefold()]
        there = ", ".join(f"{key} ({words})" for key, words in self.trades.items())
        raise forms.ValidationError(
            _("'%(name)s' is no trade of this sequence. Its trades are: %(trades)s."),
            params={"name": name, "trades": there},
        )

    def write(self, value: Any) -> str:
        return str(value)

    def read(self, name: str, words: str) -> Any:
        return words


class NumbersField(LinedField):
    """Numbers with their source: 'value 45', 'feature stud_depth', 'published wrap.lap', 'calculation …'."""

    def write(self, value: Any) -> str:
        return write_source(value)

    def read(self, name: str, words: str) -> Any:
        return read_source(words)


class SourceField(forms.CharField):
    """One number with its source, in the words of `NumbersField`."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return write_source(value) if isinstance(value, Mapping) else value

    def clean(self, value: Any) -> dict[str, Any]:
        words = super().clean(value).strip()
        return read_source(words) if words else {}


def write_source(source: Any) -> str:
    """A number's source in words; a bare number is a value."""
    if not isinstance(source, Mapping):
        return f"value {source}"
    kind = next((one for one in SOURCES if one in source), "")
    if kind != "calculation":
        return f"{kind} {source.get(kind, '')}"
    inputs = " ".join(f"{name}={one}" for name, one in source.get("inputs", {}).items())
    return f"calculation {source['calculation']} {source.get('result', '')} {inputs}".strip()


def read_source(words: str) -> dict[str, Any]:
    """A number's source from its words."""
    kind, _space, rest = words.partition(" ")
    rest = rest.strip()
    if kind not in SOURCES or not rest:
        raise forms.ValidationError(
            _(
                "'%(words)s' names no source. Write 'value 45', 'feature NAME', 'published KEY', or "
                "'calculation NAME RESULT input=feature'."
            ),
            params={"words": words},
        )
    if kind == "value":
        number = as_number(rest, None)
        if number is None:
            raise forms.ValidationError(_("'%(words)s' is no number."), params={"words": rest})
        return {"value": number}
    if kind != "calculation":
        return {kind: rest}
    name, *more = rest.split()
    result = more.pop(0) if more and "=" not in more[0] else ""
    inputs: dict[str, Any] = {}
    for one in more:
        key, equals, given = one.partition("=")
        if not equals or not given:
            raise forms.ValidationError(
                _("'%(words)s' is no input. Write input=feature or input=number."), params={"words": one}
            )
        inputs[key] = as_number(given, given)
    source: dict[str, Any] = {"calculation": name}
    if result:
        source["result"] = result
    return source | ({"inputs": inputs} if inputs else {})


def as_number(words: str, otherwise: Any) -> Any:
    """A whole or broken number as it was written, else what stands for no number."""
    try:
        return int(words)
    except ValueError:
        pass
    try:
        number = float(words)
    except ValueError:
        return otherwise
    return number if abs(number) < float("inf") else otherwise
