"""Whether a plan is sound, in words: each check, and each flaw with its activity and its remedy."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from coordination import clock
from coordination.sequence.to_engine import Flaw, Soundness

TITLES = {
    "missing predecessor": gettext_lazy("Waits for nothing"),
    "missing successor": gettext_lazy("Nothing waits for it"),
    "dangling start": gettext_lazy("Its start hangs free"),
    "dangling finish": gettext_lazy("Its finish hangs free"),
    "lead": gettext_lazy("Starts before what it waits for is done"),
    "lag": gettext_lazy("Waiting time between two pieces of work"),
    "long lag": gettext_lazy("Long waiting time that nobody owns"),
    "not finish to start": gettext_lazy("Not from finish to start"),
    "hard constraint": gettext_lazy("A date forced on the work"),
    "high float": gettext_lazy("Could slip for very long"),
    "negative float": gettext_lazy("Too late for a date that is wanted"),
    "long duration": gettext_lazy("Very long in one piece"),
    "invalid date": gettext_lazy("A date that cannot be"),
    "out of sequence": gettext_lazy("Begun before what it waits for"),
}

SENTENCES = {
    "missing predecessor": gettext_lazy("%(name)s waits for nothing: no slip before it would ever move it."),
    "missing successor": gettext_lazy(
        "Nothing waits for %(name)s: it may slip without anybody seeing whom that holds up."
    ),
    "dangling start": gettext_lazy("Only the finish of %(name)s is held: nothing says when it can begin."),
    "dangling finish": gettext_lazy(
        "Only the start of %(name)s holds others: however long it takes, nobody behind it moves."
    ),
    "lead": gettext_lazy("%(name)s is planned %(length)s before %(other)s, which it waits for."),
    "lag": gettext_lazy("%(length)s between %(other)s and %(name)s have no work in them."),
    "long lag": gettext_lazy("%(length)s between %(other)s and %(name)s have no work and no owner."),
    "not finish to start": gettext_lazy("%(name)s is tied to %(other)s by %(link)s."),
    "hard constraint": gettext_lazy("%(name)s is wanted by a date, whatever comes before it."),
    "high float": gettext_lazy("%(name)s could slip %(length)s before it matters: a link may be missing."),
    "negative float": gettext_lazy("%(name)s is %(length)s too late for a date that is wanted behind it."),
    "long duration": gettext_lazy("%(name)s takes %(length)s in one piece: nobody sees how far it is."),
    "invalid date": gettext_lazy("%(name)s stands in the past unfinished, or was recorded in the future."),
    "out of sequence": gettext_lazy("%(name)s has begun although something it waits for is not finished."),
}

REMEDIES = {
    "missing predecessor": gettext_lazy("Say which work has to be done before it can begin."),
    "missing successor": gettext_lazy("Say which work waits for it, if only the end of the house."),
    "dangling start": gettext_lazy("Tie its start to the work that lets it begin."),
    "dangling finish": gettext_lazy("Tie its finish to the work that needs it done."),
    "lead": gettext_lazy("Divide the work before it into the part it waits for and the rest."),
    "lag": gettext_lazy("Keep it if it is a cure or word time; else name the work in it."),
    "long lag": gettext_lazy("Make the wait an activity with somebody's name on it, or shorten it."),
    "not finish to start": gettext_lazy(
        "Keep it where both really work side by side; else divide the work and tie finish to start."
    ),
    "hard constraint": gettext_lazy("Keep a date only where a contract sets it."),
    "high float": gettext_lazy("Look for the work that waits for it."),
    "negative float": gettext_lazy("Bring work forward, or agree another date."),
    "long duration": gettext_lazy("Divide it where somebody else can take over."),
    "invalid date": gettext_lazy("Record what happened."),
    "out of sequence": gettext_lazy("Correct the record, or say what was really waited for."),
}

LINKS = {
    "SS": gettext_lazy("start to start"),
    "FF": gettext_lazy("finish to finish"),
    "SF": gettext_lazy("start to finish"),
    "FS": gettext_lazy("finish to start"),
}


@dataclass(frozen=True)
class FlawTold:
    """One flaw: the activity, the sentence."""

    key: str
    name: str
    words: str


@dataclass(frozen=True)
class CheckTold:
    """One check with its flaws; `allowed` says what passes, and by which source."""

    title: str
    found: str
    allowed: str
    passed: bool
    remedy: str
    flaws: tuple[FlawTold, ...]


def tell_soundness(judged: Soundness) -> list[CheckTold]:
    """The checks, those that do not pass first."""
    flaws: dict[str, list[Flaw]] = defaultdict(list)
    for one in judged.flaws:
        flaws[one.kind].append(one)
    told = [
        CheckTold(
            title=str(TITLES[one.kind]),
            found=_("%(found)s of %(of)s") % {"found": one.found, "of": one.of},
            allowed=_say_allowed(one.allowed, one.source),
            passed=one.passed,
            remedy=str(REMEDIES[one.kind]),
            flaws=tuple(_tell(flaw, judged.names) for flaw in flaws[one.kind]),
        )
        for one in judged.checks
    ]
    return sorted(told, key=lambda one: (one.passed, not one.flaws))


def _say_allowed(share: float, source: str) -> str:
    source = _("common practice") if source == "common practice" else source
    if share == 0:
        return _("none; %(source)s") % {"source": source}
    return _("at most %(number)s %%; %(source)s") % {"number": round(100 * share), "source": source}


def _tell(flaw: Flaw, names: dict[str, str]) -> FlawTold:
    name = names.get(flaw.key, flaw.key)
    words = SENTENCES[flaw.kind] % {
        "name": name,
        "other": names.get(flaw.other, flaw.other),
        "length": clock.say_length(flaw.half_days),
        "link": LINKS.get(flaw.link, flaw.link),
    }
    return FlawTold(flaw.key, name, str(words))
