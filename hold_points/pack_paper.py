"""A pack as PDF on A4: the same sheets as the page, with the sentence and the page's number on every side."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterable
from functools import partial
from typing import Any
from xml.sax.saxutils import escape

from django.core.files.storage import default_storage
from django.utils.translation import gettext as _
from PIL import Image as Pixels
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import (
    CondPageBreak,
    Image,
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from coordination.sequence.sketch_pictures import font_file, paint_picture
from hold_points.pack_sheets import CheckSheet, DetailSheet, Judged, Pack, Photograph
from hold_points.pack_words import say_state

log = logging.getLogger(__name__)

MARGIN = 16 * mm
WIDE = A4[0] - 2 * MARGIN
SECTION_WIDE = 74 * mm
PHOTOGRAPH_WIDE = 56 * mm
PHOTOGRAPH_PIXELS = 900
MOST_ON_A_DETAIL = 24
"""Photographs of one detail on paper; the page and the record hold them all."""

PLAIN, BOLD = "Pack", "Pack-Bold"
LINE = colors.HexColor("#b9b2a2")
SOFT = colors.HexColor("#444a52")


def write_pdf(pack: Pack) -> bytes:
    """The pack as PDF. Takes seconds: for a task only."""
    _register_faces()
    out = io.BytesIO()
    title = _("Pack of %(house)s") % {"house": pack.house.name}
    paper = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=24 * mm,
        title=title,
        author=pack.house.builder.name,
        subject=pack.sentence,
        lang="en",
    )
    foot = partial(_draw_foot, pack=pack)
    paper.build([*_cover(pack), *_details(pack)], onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def _register_faces() -> None:
    for name, file in ((PLAIN, "Vera.ttf"), (BOLD, "VeraBd.ttf")):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, font_file(file)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def _style(size: float, **more: Any) -> ParagraphStyle:
    given = {"fontName": PLAIN, "fontSize": size, "leading": size * 1.35, "spaceAfter": 2} | more
    return ParagraphStyle(f"s{size}", **given)


def _text(words: str, size: float = 9, **more: Any) -> Paragraph:
    return Paragraph(words, _style(size, **more))


def _head(words: str, size: float = 12) -> Paragraph:
    return _text(f"<b>{escape(words)}</b>", size, spaceBefore=8, spaceAfter=4, keepWithNext=1)


def _draw_foot(canvas: Any, paper: Any, pack: Pack) -> None:
    """On every side: the sentence, the house, the record's head, the number of the side."""
    canvas.saveState()
    canvas.setStrokeColor(LINE)
    canvas.line(MARGIN, 20 * mm, A4[0] - MARGIN, 20 * mm)
    canvas.setFont(BOLD, 7.5)
    canvas.drawString(MARGIN, 16 * mm, pack.sentence)
    canvas.setFont(PLAIN, 7)
    canvas.setFillColor(SOFT)
    where = f"{pack.house.name} · {pack.printed_on} · {_('record')} {pack.entries}: {pack.head[:16]}"
    canvas.drawString(MARGIN, 12 * mm, where)
    canvas.drawRightString(A4[0] - MARGIN, 12 * mm, str(canvas.getPageNumber()))
    canvas.restoreState()


# ---------------------------------------------------------------------- the first sheets


def _cover(pack: Pack) -> Iterable[Any]:
    house = pack.house
    yield _text(f"<b>{escape(str(pack.title))}</b>", 20, spaceAfter=6)
    yield _text(f"<b>{escape(house.name)}</b>", 14)
    facts = [
        (_("Address"), house.address or "–"),
        (_("Builder"), house.builder.name),
        (_("Sequence"), f"{pack.sequence} ({pack.published_on})"),
        (_("Printed"), pack.printed_on),
        (_("Entries in the record"), str(pack.entries)),
        (_("Last hash of the record"), pack.head),
        (pack.seal_words or _("Seal"), pack.seal or _("none made yet")),
    ]
    yield Spacer(1, 4 * mm)
    yield _grid(
        [[_text(f"<b>{escape(a)}</b>"), _text(escape(b), 8)] for a, b in facts], [48 * mm, WIDE - 48 * mm]
    )
    yield Spacer(1, 4 * mm)
    yield _text(f"<b>{escape(pack.sentence)}</b>", 10)
    yield _text(escape(pack.local))
    yield _head(_("Points, in the order of the work"))
    rows = [[_text(f"<b>{escape(one)}</b>") for one in (_("Point"), _("State"), _("Signed by"))]]
    for point in pack.points:
        signed = [escape(one) for one in point.signed] + [
            f"<strike>{escape(one)}</strike>" for one in point.struck
        ]
        signed += [escape(one) for one in point.reopened]
        state = escape(point.state) if point.plain else f"<b>{escape(point.state)}</b>"
        rows.append(
            [
                _text(f"{escape(point.name)}<br/>{escape(point.kind)}", 8),
                _text(state, 8),
                _text("<br/>".join(signed) or "–", 8),
            ]
        )
    yield _grid(rows, [62 * mm, 40 * mm, WIDE - 102 * mm], head=True)
    yield from _otherwise(pack)
    yield PageBreak()


def _otherwise(pack: Pack) -> Iterable[Any]:
    """What went another way than planned stands on the first sheets, never at the end."""
    yield _head(_("Concessions"))
    for one in pack.concessions:
        words = f"<b>{escape(one.check)}</b>, {escape(one.place)}, {escape(one.on)}: {escape(one.reason)}. "
        words += escape(
            _("On the authority of %(who)s. Follow-up: %(act)s.")
            % {"who": one.authority, "act": one.follow_up}
        )
        yield _text(words)
    if not pack.concessions:
        yield _text(escape(_("None was given.")))
    for title, lines, none in (
        (_("Went past a hold point"), pack.went_past, _("Nothing went past a hold point.")),
        (_("Not recorded"), pack.set_aside, _("Every hold point was judged or is still open.")),
    ):
        yield _head(title)
        for line in lines or (none,):
            yield _text(f"<b>{escape(line)}</b>" if lines else escape(line))


# ---------------------------------------------------------------------- details


def _details(pack: Pack) -> Iterable[Any]:
    for sheet in pack.details:
        yield CondPageBreak(70 * mm)
        yield _head(sheet.name, 13)
        yield _beside(sheet)
        for check in sheet.checks:
            yield from _check(check)
        yield from _photographs(sheet)


def _beside(sheet: DetailSheet) -> Any:
    """What the detail is, with its section beside it."""
    words = [
        _text(f"<b>{escape(label)}</b> {escape(', '.join(said))}")
        for label, said in (
            (_("Where:"), sheet.places),
            (_("Judged at:"), sheet.points),
            (_("Buried by:"), sheet.buried_by),
        )
        if said
    ]
    picture = paint_picture(sheet.drawing, sheet.numbers)
    if picture is None:
        return KeepTogether(words)
    drawn = Image(io.BytesIO(picture.png), SECTION_WIDE, SECTION_WIDE * picture.high / picture.wide)
    table = Table([[words or "", drawn]], colWidths=[WIDE - SECTION_WIDE - 4 * mm, SECTION_WIDE + 4 * mm])
    table.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, 0), 0)]))
    return table


def _check(check: CheckSheet) -> Iterable[Any]:
    safety = f" ({escape(_('safety'))})" if check.safety else ""
    lines = [_text(f"<b>{escape(check.text)}</b>{safety}", 9, spaceBefore=6, keepWithNext=1)]
    if check.limit:
        lines.append(
            _text(
                f"{escape(_('Limit'))} <b>{escape(check.limit)}</b>. {escape(check.why)}", 8, keepWithNext=1
            )
        )
    origin = " · ".join(one for one in (check.source, check.applies, check.sure) if one)
    if origin:
        lines.append(_text(escape(origin), 7.5, textColor=SOFT, keepWithNext=1))
    yield from lines
    rows = [
        [_text(escape(one.place), 8), _text(_say_found(one), 8), _text(_say_judged(one), 8)]
        for one in check.rows
    ]
    if rows:
        yield _grid(rows, [40 * mm, 50 * mm, WIDE - 90 * mm])
    for one in check.stated:
        yield _text(escape(one), 8)
    if check.not_drawn:
        yield _text(
            escape(_("%(count)s places were not in the random sample.") % {"count": check.not_drawn}), 8
        )


def _say_found(one: Judged) -> str:
    state = escape(str(say_state(one.state)))
    words = state if one.passes else f"<b>{state}</b>"
    return f"{words}, {escape(one.found)}" if one.found else words


def _say_judged(one: Judged) -> str:
    lines = [one.judged, one.note, *(_("first: %(what)s") % {"what": said} for said in one.before)]
    return "<br/>".join(escape(line) for line in lines if line) or "–"


def _grid(rows: list[list[Any]], widths: list[float], head: bool = False) -> Table:
    # A row may be higher than a sheet: a point that was re-opened many times tells each of them.
    table = Table(rows, colWidths=widths, repeatRows=1 if head else 0, splitInRow=1)
    table.setStyle(
        TableStyle(
            [
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (0, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ]
        )
    )
    return table


# ---------------------------------------------------------------------- photographs


def _photographs(sheet: DetailSheet) -> Iterable[Any]:
    cells = [cell for one in sheet.photographs[:MOST_ON_A_DETAIL] if (cell := _photograph(one)) is not None]
    for i in range(0, len(cells), 3):
        row = cells[i : i + 3]
        yield Table([row + [""] * (3 - len(row))], colWidths=[WIDE / 3] * 3)
    rest = len(sheet.photographs) - len(cells)
    if rest:
        yield _text(escape(_("%(count)s more photographs are on the record.") % {"count": rest}), 8)


def _photograph(one: Photograph) -> Any:
    """The clean copy, smaller; None when it is not there to be read."""
    if not one.ready:
        return None
    try:
        with default_storage.open(one.shown) as file, Pixels.open(file) as opened:
            small = opened.convert("RGB")
            small.thumbnail((PHOTOGRAPH_PIXELS, PHOTOGRAPH_PIXELS))
            out = io.BytesIO()
            small.save(out, "JPEG", quality=72)
    except OSError as gone:
        log.warning("photograph %s is not in the pack: %s", one.evidence, gone)
        return None
    high = PHOTOGRAPH_WIDE * small.height / small.width
    picture = (
        Image(out, PHOTOGRAPH_WIDE, high)
        if high < 80 * mm
        else Image(out, 80 * mm * small.width / small.height, 80 * mm)
    )
    return [picture, _text(f"{escape(one.words)}<br/>{one.sha256[:16]}", 7)]
