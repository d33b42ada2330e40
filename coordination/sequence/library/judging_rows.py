"""From one table of the file to one record: details, checks, their limits and samples."""

from __future__ import annotations

from coordination.sequence.library.entry import Check, Detail, LimitRule, MissRule, Sampling, Source
from coordination.sequence.library.rows import CAUTION, NAME, UNIT, read_key
from coordination.sequence.library.tables import Row

# A check stores 300 characters; the numbers of a house take some of them.
CHECK_TEXT = 260


def read_source(row: Row) -> Source:
    """A number's source: exactly one of value, feature, published and calculation."""
    source = Source(
        value=row.number("value", None),
        feature=row.text("feature", ""),
        published=row.text("published", ""),
        calculation=row.text("calculation", ""),
        result=row.text("result", ""),
        inputs=_read_inputs(row, "inputs"),
    )
    given = [source.value is not None, bool(source.feature), bool(source.published), bool(source.calculation)]
    if sum(given) != 1:
        raise row.refuse("a number has one source", "give one of value, feature, published and calculation")
    if bool(source.calculation) != bool(source.result) or (source.inputs and not source.calculation):
        raise row.refuse(
            "a calculation is named with its result and inputs", "give calculation, result and inputs"
        )
    return source


def _read_inputs(row: Row, key: str) -> dict[str, str | float]:
    inputs = row.table(key)
    for name, given in inputs.items():
        if isinstance(given, bool) or not isinstance(given, (str, int, float)):
            raise row.refuse(f"input '{name}' is {given!r}", "give the name of a feature, or a number")
    return inputs


def _read_numbers(row: Row) -> dict[str, Source]:
    numbers: dict[str, Source] = {}
    for name, table in row.table("numbers").items():
        inner = Row(
            row.file, f"{row.entry}, number '{name}'", table if isinstance(table, dict) else {"value": table}
        )
        numbers[name] = read_source(inner)
        inner.finish()
    return numbers


def read_limit(row: Row) -> LimitRule | None:
    """The limit of a check, or None where there is nothing to compare."""
    if not row.has("limit"):
        return None
    inner = Row(row.file, f"{row.entry}, limit", row.table("limit"))
    high = None
    if inner.has("high"):
        upper = Row(row.file, f"{row.entry}, limit, high", inner.table("high"))
        high = read_source(upper)
        upper.finish()
    limit = LimitRule(
        compare=inner.word("compare", ("at least", "at most", "equals", "between")),
        of=read_source(inner),
        high=high,
        spread=inner.number("spread", None),
        unit=inner.text("unit", "", UNIT),
        step=inner.number("step", 1.0),
        source=inner.text("source", "", 300),
        applies=inner.text("applies", "", 200),
        sure=inner.word("sure", SURE, ""),
    )
    inner.finish()
    if (limit.compare == "between") != (limit.high is not None or limit.spread is not None):
        raise inner.refuse(
            "'high' or 'spread' closes a 'between' and nothing else", "give one, or another compare"
        )
    if limit.step <= 0:
        raise inner.refuse(f"'step' is {limit.step:g}", "give the step of the tape or the meter, above 0")
    return limit


SURE = ("", "published, read", "published, from memory", "common practice", "derived")


def read_detail(row: Row) -> Detail:
    return Detail(
        id=read_key(row),
        name=row.text("name", most=NAME),
        installed_by=row.texts("installed_by"),
        covered_by=row.texts("covered_by"),
        along=row.texts("with"),
        point=row.text("point", ""),
        section=row.text("section", ""),
        instruction=row.text("instruction", ""),
        tells=_read_tells(row),
        caution=row.text("caution", "", CAUTION),
        drawing=row.text("drawing", "", 40),
        drawing_inputs=_read_inputs(row, "drawing_inputs"),
        numbers=_read_numbers(row),
        miss=_read_miss(row),
        places=row.condition("places"),
        when=row.condition("when"),
    )


def _read_miss(row: Row) -> MissRule | None:
    """What it costs to leave the detail undone; an empty table says that nothing is reckoned."""
    table = row.table("miss")
    if not table:
        return None
    inner = Row(row.file, f"{row.entry}, miss", table)
    miss = MissRule(inner.text("kind"), _read_inputs(inner, "inputs"))
    inner.finish()
    return miss


def _read_tells(row: Row) -> dict[str, str]:
    tells = row.table("tells")
    for trade, words in tells.items():
        if not isinstance(words, str) or not words:
            raise row.refuse(f"'tells' for '{trade}' is {words!r}", "give the words for that trade")
    return tells


def read_check(row: Row) -> Check:
    check = Check(
        id=read_key(row),
        text=row.text("text", most=CHECK_TEXT),
        kind=row.word("kind", ("seen", "counted", "measured", "document")),
        point=row.text("point", ""),
        detail=row.text("detail", ""),
        section=row.text("section", ""),
        limit=read_limit(row),
        numbers=_read_numbers(row),
        evidence=row.texts("evidence"),
        sampling=_read_sampling(row),
        safety=row.flag("safety"),
        remote=row.flag("remote"),
        once=row.flag("once"),
        source=row.text("source", "", 300),
        sure=row.word("sure", SURE, ""),
        places=row.condition("places"),
        when=row.condition("when"),
    )
    if not check.point and not check.detail:
        raise row.refuse("neither 'detail' nor 'point'", "say what is judged, or at which point")
    if (check.kind in ("counted", "measured")) != (check.limit is not None):
        raise row.refuse(
            f"kind '{check.kind}' {'has a' if check.limit else 'without a'} limit",
            "counted and measured checks have a limit, seen ones and documents none",
        )
    if check.safety and check.remote:
        raise row.refuse("a safety check cannot be closed from a photograph", "leave out 'remote'")
    for one in check.evidence:
        if one not in EVIDENCE:
            raise row.refuse(f"evidence '{one}' is unknown", "choose from " + ", ".join(EVIDENCE))
    if "statement" in check.evidence and (check.kind, bool(check.detail), check.once) != (
        "document",
        True,
        True,
    ):
        raise row.refuse(
            "a statement is asked once, as a document, of whoever installs a detail",
            "give kind 'document', a detail and 'once = true', or take evidence 'statement' away",
        )
    return check


EVIDENCE = ("photo", "photo with tape", "document", "statement")
"""'statement': the trade states it on its own page; it is recorded, and nobody judges it."""


def _read_sampling(row: Row) -> Sampling:
    if not row.has("sampling"):
        return Sampling()
    inner = Row(row.file, f"{row.entry}, sampling", row.table("sampling"))
    sampling = Sampling(
        rule="sample",
        number=inner.whole("number", 0, least=0),
        share=inner.number("share", 1.0),
        least=inner.whole("least", 0, least=0),
        every=inner.number("every", 0),
        along=inner.text("along", ""),
        of=inner.text("of", ""),
    )
    inner.finish()
    if not 0 < sampling.share <= 1:
        raise inner.refuse(
            f"'share' is {sampling.share:g}", "give the share of the places, above 0 and up to 1"
        )
    if bool(sampling.along) != (sampling.every > 0):
        raise inner.refuse(
            "'every' and 'along' belong together",
            "give a length above 0 and the feature along which it is counted, or neither",
        )
    if sampling.number == 0 and sampling.share == 1.0:
        raise inner.refuse(
            "a sample of everything", "give 'number' or 'share', or leave sampling out for every one"
        )
    return sampling
