"""Refusals of the library: each names the file, the entry and the remedy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal


class SequenceError(ValueError):
    """A file that is no standard sequence, or an option that cannot be applied.

    `file` is the file's name (or 'text'), `entry` the row, `message` what is wrong, `remedy` what to do.
    """

    def __init__(self, file: str, entry: str, message: str, remedy: str) -> None:
        super().__init__(f"{file}, {entry}: {message}; {remedy}")
        self.file = file
        self.entry = entry
        self.message = message
        self.remedy = remedy

    def __reduce__(self) -> tuple[type[SequenceError], tuple[str, str, str, str]]:
        return SequenceError, (self.file, self.entry, self.message, self.remedy)


class FeatureErrors(ValueError):
    """Features that this sequence does not accept: `errors` maps each feature's key to its message.

    `row` is the detail or check that could not be reckoned with them, empty where it is the house as a whole.
    """

    def __init__(self, file: str, errors: Mapping[str, str], row: str = "") -> None:
        super().__init__(f"{file}: " + "; ".join(f"{key}: {message}" for key, message in errors.items()))
        self.file = file
        self.errors = dict(errors)
        self.row = row

    def __reduce__(self) -> tuple[type[FeatureErrors], tuple[str, dict[str, str], str]]:
        return FeatureErrors, (self.file, self.errors, self.row)


@dataclass(frozen=True)
class Finding:
    """What a lint found: 'refused' (not to be used) or 'warned'; `explained` is the author's reason."""

    level: Literal["refused", "warned"]
    lint: str
    entry: str
    message: str
    remedy: str
    file: str = ""
    explained: str = ""

    def __str__(self) -> str:
        return f"{self.file}, {self.entry}: {self.message}; {self.remedy}"
