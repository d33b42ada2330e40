"""Why an activity stands when it stands: the structure stored with each date, and its words.

Stored reasons hold keys and half-days only, no words, so that another language or a renamed activity changes
nothing that was stored:

``{"kind": "relationship", "from": KEY, "type": "FS", "lag": 3, "elapsed": false, "word": true, "at": N}``
    `at` is the predecessor's last half-day worked (FS, FF) or its first (SS, SF); `word` marks word time.
``{"kind": "not before", "at": N}``, ``{"kind": "recorded", "at": N}``
    the activity's own earliest date; the half-day up to which work is recorded.
``{"kind": "started", "at": N}``, ``{"kind": "finished", "at": N}``
    a fact, not a plan.
``{"kind": "busy", "crew": NAME, "at": N, "where": NAME}``, ``{"kind": "told", "crew": NAME, "at": N}``
    from an applied fit: the crew is elsewhere (`where` is empty for another builder's work) up to and with
    that half-day; the crew was told that half-day and comes then.
``{"kind": "passed", "at": N}``
    from an applied fit: when the dates were fitted it was not reported as begun by that half-day.

Any of them may hold ``"pause": {"first": N, "last": N, "why": TEXT}``: half-days without work that lay
between the cause and the start (`why` is empty for a plain weekend).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock

Reason = Mapping[str, Any]


def say_reason(reason: Reason, names: Mapping[str, str]) -> str:
    """A stored reason as one plain phrase: 'after Void caps finishes Wed 11 Mar, morning'.

    Args:
        reason: as stored in `PlannedDate.reason` or in a driving chain.
        names: activity key → name; a key without a name is said as it is.
    """
    words = _say_cause(reason, names)
    pause = reason.get("pause")
    if not pause:
        return words
    return _("%(cause)s; %(pause)s") % {"cause": words, "pause": say_pause(pause)}


def say_pause(pause: Mapping[str, Any]) -> str:
    """'no work on Fri 3 Apr (Good Friday)', 'no work from Mon 21 Dec to Fri 8 Jan (shutdown)'."""
    first, last, why = pause["first"], pause["last"], pause.get("why", "")
    if first == last:
        days = _("no work on %(half_day)s") % {"half_day": clock.say_half_day(first)}
    elif first // 2 == last // 2:
        days = _("no work on %(day)s") % {"day": clock.say_day(first)}
    else:
        days = _("no work from %(first)s to %(last)s") % {
            "first": clock.say_day(first),
            "last": clock.say_day(last),
        }
    return _("%(days)s (%(why)s)") % {"days": days, "why": why} if why else days


def say_warning(warning: Mapping[str, Any], names: Mapping[str, str], details: Mapping[str, str]) -> str:
    """A stored warning of a plan as one sentence.

    Args:
        warning: ``{"kind": "gap", "first", "then", "left_at", "taken_up_at", "half_days", "allowed",
            "why"}``, ``{"kind": "late", "key", "wanted_by", "last"}`` or ``{"kind": "inverted", "detail"}``.
        names: activity key → name.
        details: detail key → name.
    """
    match warning["kind"]:
        case "gap":
            return _(
                "%(first)s ends %(left)s and %(then)s begins %(taken_up)s: %(length)s, "
                "at most %(allowed)s. %(why)s"
            ) % {
                "first": names.get(warning["first"], warning["first"]),
                "then": names.get(warning["then"], warning["then"]),
                "left": clock.say_half_day(warning["left_at"]),
                "taken_up": clock.say_half_day(warning["taken_up_at"]),
                "length": clock.say_length(warning["half_days"]),
                "allowed": clock.say_length(warning["allowed"]),
                "why": warning["why"],
            }
        case "late":
            return _("%(name)s is wanted by %(wanted)s and finishes %(last)s.") % {
                "name": names.get(warning["key"], warning["key"]),
                "wanted": clock.say_half_day(warning["wanted_by"]),
                "last": clock.say_half_day(warning["last"]),
            }
        case _other:
            return _("%(detail)s was covered, or will be, before it is judged.") % {
                "detail": details.get(warning["detail"], warning["detail"])
            }


def _say_cause(reason: Reason, names: Mapping[str, str]) -> str:
    match reason.get("kind"):
        case "relationship":
            return _say_relationship(reason, names)
        case "not before":
            return _("not before %(half_day)s") % {"half_day": clock.say_half_day(reason["at"])}
        case "recorded":
            return _("work is recorded up to %(half_day)s") % {"half_day": clock.say_half_day(reason["at"])}
        case "started":
            return _("started %(half_day)s") % {"half_day": clock.say_half_day(reason["at"])}
        case "finished":
            return _("finished %(half_day)s") % {"half_day": clock.say_half_day(reason["at"])}
        case "passed":
            return _("not before %(half_day)s: not reported as begun by then") % {
                "half_day": clock.say_half_day(reason["at"])
            }
        case "busy":
            return _say_busy(reason)
        case "told":
            return _("%(crew)s was told %(half_day)s") % {
                "crew": reason.get("crew", ""),
                "half_day": clock.say_half_day(reason["at"]),
            }
    return ""


def _say_busy(reason: Reason) -> str:
    """'waits for Two Taps Plumbing, who are at Lot 14 until Tue 14 Apr, morning'."""
    facts = {
        "crew": reason.get("crew", ""),
        "where": reason.get("where", ""),
        "half_day": clock.say_half_day(reason["at"]),
    }
    if facts["where"]:
        return _("waits for %(crew)s, who are at %(where)s until %(half_day)s") % facts
    return _("waits for %(crew)s, who are elsewhere until %(half_day)s") % facts


def _say_relationship(reason: Reason, names: Mapping[str, str]) -> str:
    key, lag = str(reason["from"]), int(reason.get("lag", 0))
    facts = {"name": names.get(key, key), "half_day": clock.say_half_day(reason.get("at"))}
    match reason["type"]:
        case "FS":
            words = _("after %(name)s finishes %(half_day)s") % facts
        case "SS":
            words = _("after %(name)s starts %(half_day)s") % facts
        case "FF":
            words = _("finishes no earlier than %(name)s on %(half_day)s") % facts
        case _other:
            words = _("finishes no earlier than %(name)s starts %(half_day)s") % facts
    if not lag:
        return words
    length = {"words": words, "length": clock.say_length(lag)}
    if lag < 0:
        return _("%(words)s, less %(length)s") % length
    if reason.get("word"):
        return _("%(words)s, and %(length)s of word for the crew") % length
    if reason.get("elapsed"):
        return _("%(words)s, and %(length)s more, weekends counted") % length
    return _("%(words)s, and %(length)s more") % length
