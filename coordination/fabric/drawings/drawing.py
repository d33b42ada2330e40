"""What a drawing is: named numbers in, named texts that a translator can replace, marks on a sheet out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from coordination.fabric.drawings.sheet import Sheet
from coordination.fabric.inputs import FabricError, show
from coordination.fabric.registry import Input


class Words:
    """The drawing's texts with its numbers written in.

    Where an input is a word (a frame of steel), a text of the key 'fill_steel' goes before that of 'fill'.
    """

    def __init__(self, labels: Mapping[str, str], numbers: Mapping[str, Any]) -> None:
        self._labels = labels
        self._known = {name: _write(value) for name, value in numbers.items()}
        self._turns = [value for value in numbers.values() if isinstance(value, str)]

    def know(self, **numbers: float | str) -> None:
        """Let the texts use further numbers: whole millimetres, since nobody marks out less."""
        for name, value in numbers.items():
            self._known[name] = value if isinstance(value, str) else f"{value:.0f}"

    def __getitem__(self, key: str) -> str:
        turned = [f"{key}_{turn}" for turn in self._turns if f"{key}_{turn}" in self._labels]
        key = turned[0] if turned else key
        try:
            return self._labels[key].format_map(self._known)
        except (KeyError, ValueError, IndexError) as broken:
            raise FabricError(
                "labels", f"'{key}' cannot be written: {broken!r}; check its {{names}}"
            ) from broken


@dataclass(frozen=True)
class Drawing:
    """A drawing on offer. `labels` are its English texts, by key; `title` and `says` are among them."""

    name: str
    inputs: tuple[Input, ...]
    labels: Mapping[str, str]
    paint: Callable[[Sheet, Words, Mapping[str, Any]], None]

    @property
    def numbers(self) -> tuple[str, ...]:
        """Names of the numbers that must be given."""
        return tuple(one.name for one in self.inputs if one.required)

    def draw(self, numbers: Mapping[str, object], labels: Mapping[str, str] | None = None) -> str:
        """The SVG for these numbers; texts replaced by `labels` where given."""
        known = [one.name for one in self.inputs]
        for name in numbers:
            if name not in known:
                raise FabricError(name, f"is no number of {self.name}; it takes {', '.join(known)}")
        for key in labels or {}:
            if key not in self.labels:
                raise FabricError(
                    "labels", f"'{key}' is no text of {self.name}; there are {', '.join(self.labels)}"
                )
        values = {one.name: one.value_of(numbers) for one in self.inputs}
        words = Words({**self.labels, **(labels or {})}, values)
        sheet = Sheet()
        self.paint(sheet, words, values)
        return sheet.finish(words["title"], words["says"])


def _write(value: object) -> str:
    return show(value) if isinstance(value, (int, float)) else str(value)
