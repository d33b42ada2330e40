"""Several files of one sequence sent at once, and what they include, made one text that stands alone.

What a file includes is looked for among the files that came with it, then among the builder's own published
sequences, then in the library that is shipped. What is nowhere is refused by its name.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePosixPath

from django.utils.translation import gettext as _

from coordination.people.models import Builder
from coordination.people.refusals import BadInput
from coordination.sequence.library.reading import flatten_text, included_by
from coordination.sequence.models import SequenceVersion
from coordination.sequence.publishing import as_bad_input
from coordination.sequence.shipped import read_shipped
from coordination.sequence.standard import SequenceError

MOST_FILES = 12


def gather(builder: Builder, files: Mapping[str, str]) -> tuple[str, str]:
    """The text of the one sequence that these files are, and the name of the file that it begins in.

    Args:
        files: text by file name; each is known to the others by its name without ending.

    Raises:
        BadInput: no file, files of several sequences, or something included that is nowhere.
    """
    if not files:
        raise BadInput(_("file"), _("No file came along. Choose one and send it again."))
    if len(files) > MOST_FILES:
        raise BadInput(_("file"), _("Send at most %(most)s files at once.") % {"most": MOST_FILES})
    texts = {PurePosixPath(name).stem: text for name, text in files.items()}
    if len(texts) < len(files):
        raise BadInput(_("file"), _("Two of the files have one name. Send each once."))
    try:
        first = _find_first(files, texts)
        missing = _find_missing(builder, files[first], first, texts)
        if missing:
            words = _(
                "It includes %(missing)s, which came with no file and is neither among your sequences nor in "
                "the shipped library. Send that file along, or mend the name."
            )
            raise BadInput(first, words % {"missing": ", ".join(f"'{one}.toml'" for one in missing)})
        find = _Shelf(builder, texts)
        return flatten_text(files[first], first, find, own=PurePosixPath(first).stem), first
    except SequenceError as error:
        raise as_bad_input(error) from error


class _Shelf:
    """Where an included entry is looked for."""

    def __init__(self, builder: Builder, sent: Mapping[str, str]) -> None:
        self.builder, self.sent = builder, sent

    def __call__(self, entry: str) -> str | None:
        return self.sent.get(entry) or self._published(entry) or read_shipped(entry)

    def _published(self, entry: str) -> str | None:
        keys = {entry, entry.replace("_", "-")}
        newest = (
            SequenceVersion.objects.filter(builder=self.builder, key__in=keys).order_by("-number").first()
        )
        return newest.text if newest is not None else None


def _find_first(files: Mapping[str, str], texts: Mapping[str, str]) -> str:
    """The file that no other includes: there is exactly one."""
    included = {included_by(text, name) for name, text in files.items()}
    tops = [name for name in files if PurePosixPath(name).stem not in included]
    if len(tops) == 1:
        return tops[0]
    if not tops:
        raise BadInput(", ".join(files), _("These files include each other in a circle. Mend one of them."))
    words = _(
        "None of these includes another: they are several sequences. Send one at a time, with its base."
    )
    raise BadInput(", ".join(tops), words)


def _find_missing(builder: Builder, text: str, name: str, sent: Mapping[str, str]) -> list[str]:
    """What is included, at any depth, and nowhere to be found."""
    find, seen = _Shelf(builder, sent), {PurePosixPath(name).stem}
    while entry := included_by(text, name):
        if entry in seen:
            return []  # a circle is refused by name when the text is made
        found = find(entry)
        if found is None:
            return [entry]
        seen.add(entry)
        text, name = found, f"{entry}.toml"
    return []
