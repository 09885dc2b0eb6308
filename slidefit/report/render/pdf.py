"""A document as a PDF: its fonts inside, its pages numbered, its pictures as shapes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby, pairwise
from typing import Any, Literal
from xml.sax.saxutils import escape

from matplotlib.figure import Figure
from pypdf import PdfReader, PdfWriter, Transformation
from reportlab.lib import colors, pagesizes
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, TableStyle
from reportlab.platypus import Table as Grid

from slidefit.report import sentences
from slidefit.report.charts.style import ACCENT, FAINT, GRID, INK, rendered
from slidefit.report.document import (
    Bar,
    Block,
    Column,
    Document,
    Heading,
    Note,
    Part,
    Picture,
    Sentence,
    TypedTable,
)
from slidefit.report.render.canvas import BOLD, FONT, FRAME_PT, TEXT_PT, NumberedCanvas, load_fonts

PaperSize = Literal["letter", "a4"]
SIZES: dict[PaperSize, tuple[float, float]] = {"letter": pagesizes.LETTER, "a4": pagesizes.A4}
LEADING_PT = 9.0
MARGIN_PT, BOTTOM_PT = 21.0, 23.0
POINTS_AN_INCH = 72.0
BAR_WIDTH_PT, BAR_HEIGHT_PT = 190.0, 36.0
GUTTER_PT, KEPT_ROWS = 10.0, 40
PLAIN = ("FONTNAME", (0, 0), (-1, -1), FONT)


@dataclass(frozen=True)
class Placed:
    """A picture on its page: where its lower left corner lies and how wide it is [points]."""

    figure: Figure
    page: int
    x: float
    y: float
    width: float


class PictureSpace(Flowable):
    """The room that a picture takes; where it came to lie goes to a list, and the picture is laid there later."""

    def __init__(self, figure: Figure, width: float, placed: list[Placed]) -> None:
        super().__init__()
        wide, high = figure.get_size_inches()
        self.figure = figure
        self.width = min(width, float(wide) * POINTS_AN_INCH)
        self.height = self.width * float(high) / float(wide)
        self.placed = placed

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return the room that is needed."""
        return self.width, self.height + 4.0

    def draw(self) -> None:
        """Note where the picture belongs."""
        x, y = self.canv.absolutePosition(0.0, 2.0)
        self.placed.append(Placed(self.figure, self.canv.getPageNumber(), x, y, self.width))


class BarShape(Flowable):
    """A range as one bar, drawn with its words."""

    def __init__(self, bar: Bar) -> None:
        super().__init__()
        self.bar = bar

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return the room that is needed."""
        return BAR_WIDTH_PT, BAR_HEIGHT_PT

    def draw(self) -> None:
        """Draw eight cases in ten, the average, the bad year and even."""
        canvas, middle = self.canv, BAR_HEIGHT_PT / 2.0
        at = {name: place * BAR_WIDTH_PT / 100.0 for name, place in self.bar.places().items()}
        ink, deep = colors.HexColor(INK), colors.HexColor(ACCENT)
        canvas.setStrokeColor(colors.HexColor(GRID))
        canvas.line(0, middle, BAR_WIDTH_PT, middle)
        canvas.setStrokeColor(ink)
        canvas.setDash(1, 2)
        canvas.line(at["bad_year"], middle, at["low"], middle)
        canvas.setDash()
        canvas.setFillColor(deep)
        canvas.rect(at["low"], middle - 4.0, max(at["high"] - at["low"], 0.5), 8.0, stroke=0, fill=1)
        for color, width in ((colors.white, 3.0), (ink, 1.2)):
            canvas.setStrokeColor(color)
            canvas.setLineWidth(width)
            canvas.line(at["zero"], middle - 8.0, at["zero"], middle + 8.0)
        canvas.setFillColor(colors.white)
        canvas.circle(at["average"], middle, 3.2, fill=1)
        self._diamond(at["bad_year"], middle)
        canvas.setFillColor(ink)
        for mark in self.bar.marks():
            self._word(mark.text, mark.at * BAR_WIDTH_PT / 100.0, mark.anchor, above=mark.above)

    def _diamond(self, x: float, y: float) -> None:
        shape = self.canv.beginPath()
        shape.moveTo(x, y + 4.0)
        for across, up in ((4.0, 0.0), (0.0, -4.0), (-4.0, 0.0)):
            shape.lineTo(x + across, y + up)
        shape.close()
        self.canv.drawPath(shape, fill=1)

    def _word(self, text: str, x: float, anchor: str, *, above: bool) -> None:
        wide = pdfmetrics.stringWidth(text, FONT, TEXT_PT)
        written = self.canv.beginText(
            x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor],
            BAR_HEIGHT_PT / 2.0 + (10.0 if above else -16.0),
        )
        written.setFont(FONT, TEXT_PT)
        written.textOut(text)
        self.canv.drawText(written)


def document_pdf(document: Document, *, size: PaperSize = "letter") -> bytes:
    """Return a document as a PDF file: text that can be selected, fonts held in it, pictures as shapes.

    Parameters
    ----------
    size : 'letter' or 'a4'

    Notes
    -----
    Letters that the font (DejaVu Sans, as matplotlib ships it) lacks come out as empty boxes. The file carries
    no tags for screen readers: the HTML report does.
    """
    load_fonts()
    placed: list[Placed] = []
    out = io.BytesIO()
    pages = SimpleDocTemplate(
        out, pagesize=SIZES[size], leftMargin=MARGIN_PT, rightMargin=MARGIN_PT, topMargin=MARGIN_PT,
        bottomMargin=BOTTOM_PT, title=document.full_title, author="slidefit",
        subject=sentences.REPORT_SUBJECT, lang="en", invariant=1, initialFontName=FONT,
    )  # fmt: skip
    pages.topMargin -= FRAME_PT
    width = SIZES[size][0] - 2.0 * (MARGIN_PT + FRAME_PT)
    ends = (MARGIN_PT + FRAME_PT, SIZES[size][0] - MARGIN_PT - FRAME_PT)
    numbered = partial(NumberedCanvas, title=document.title, ends=ends)
    pages.build(_story(document, width, placed), canvasmaker=numbered)
    return _with_pictures(out, placed)


def _with_pictures(pages: io.BytesIO, placed: Sequence[Placed]) -> bytes:
    writer = PdfWriter(clone_from=pages)
    for each in placed:
        picture = PdfReader(io.BytesIO(rendered(each.figure, "pdf"))).pages[0]
        scale = each.width / float(picture.mediabox.width)
        writer.pages[each.page - 1].merge_transformed_page(
            picture, Transformation().scale(scale).translate(each.x, each.y)
        )
    for page in writer.pages:
        page.compress_content_streams()
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _style(
    size: float = TEXT_PT, *, bold: bool = False, right: bool = False, before: float = 0.0, after: float = 1.5
) -> ParagraphStyle:
    return ParagraphStyle(
        f"{size}-{bold}-{right}", fontName=BOLD if bold else FONT, fontSize=size,
        leading=size * LEADING_PT / TEXT_PT, textColor=colors.HexColor(INK), spaceBefore=before, spaceAfter=after,
        alignment=TA_RIGHT if right else TA_LEFT, splitLongWords=1,
    )  # fmt: skip


TEXT, STRONG = _style(), _style(9.5, bold=True)
CELL, NUMBER = _style(after=0.0), _style(right=True, after=0.0)
STRONG_CELL, STRONG_NUMBER = _style(bold=True, after=0.0), _style(bold=True, right=True, after=0.0)
HEADING = _style(10.5, bold=True, before=4.0, after=1.0)
TITLE = _style(14.0, bold=True, after=1.0)


def _story(document: Document, width: float, placed: list[Placed]) -> list[Flowable]:
    """Return the parts in their order, a heading kept with what follows it; sources run on as one paragraph."""
    story: list[Flowable] = [_text(document.title, TITLE)] if document.title else []
    story += [_text(document.subtitle)] if document.subtitle else []
    heads: list[Flowable] = []
    for _, group in groupby(document.parts, _is_source):
        parts = list(group)
        if _is_source(parts[0]):
            parts = [Sentence(" ".join(part.text for part in parts if isinstance(part, Note)))]
        for part in parts:
            made = _flowables(part, width, placed)
            if isinstance(part, Heading):
                heads += made
                continue
            whole = (
                heads
                or isinstance(part, Block)
                or (isinstance(part, TypedTable) and len(part.rows) <= KEPT_ROWS)
            )
            story += [KeepTogether([*heads, *made])] if whole and made else made
            heads = []
    return story


def _is_source(part: Part) -> bool:
    return isinstance(part, Note) and part.kind == "source"


def _flowables(part: Part, width: float, placed: list[Placed]) -> list[Flowable]:
    if isinstance(part, Block):
        return [BLOCKS[part.kind](part, width, placed)] if part.kind in BLOCKS else []
    if isinstance(part, TypedTable):
        return _table(part, width)
    if isinstance(part, Picture):
        return [PictureSpace(part.draw(), width, placed)]
    if isinstance(part, Bar):
        return [BarShape(part)]
    if isinstance(part, Heading):
        return [_text(part.text, HEADING if part.level <= 2 else STRONG_CELL)]
    if isinstance(part, Note) and part.kind == "caution":
        return [_bullet(part.text)]
    return [_text(part.text, STRONG if isinstance(part, Sentence) and part.strong else TEXT)]


def _text(text: str, style: ParagraphStyle = TEXT) -> Paragraph:
    return Paragraph(escape(text), style)


def _bullet(text: str) -> Paragraph:
    style = ParagraphStyle(
        "bullet", parent=TEXT, leftIndent=9.0, bulletIndent=0.0, spaceAfter=0.0, bulletFontName=FONT
    )
    return Paragraph(escape(text), style, bulletText="•")


def _answer(block: Block, width: float, _: list[Placed]) -> Flowable:
    """Return one group's answer: its words with a line before them, its bar at their right."""
    strong = [p for p in block.parts if isinstance(p, Sentence) and p.strong]
    told = " ".join(p.text for p in block.parts if isinstance(p, (Sentence, Note)) and p not in strong)
    words = [_text(p.text, STRONG) for p in strong] + ([_text(told)] if told else [])
    bars: list[Flowable] = [BarShape(p) for p in block.parts if isinstance(p, Bar)]
    room = BAR_WIDTH_PT + 14.0 if bars else 0.0
    row: list[Any] = [words, bars] if bars else [words]
    return Grid(
        [row],
        colWidths=[width - room, room][: len(row)],
        style=TableStyle(
            [
                ("LINEBEFORE", (0, 0), (0, -1), 2.5, colors.HexColor(ACCENT)),
                PLAIN,
                ("LEFTPADDING", (0, 0), (-1, -1), 6.0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0.0),
                ("TOPPADDING", (0, 0), (-1, -1), 0.0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0.0),
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ]
        ),
        spaceAfter=4.0,
    )


def _box(block: Block, width: float, placed: list[Placed]) -> Flowable:
    told = [each for part in block.parts for each in _flowables(part, width, placed)]
    look = TableStyle(
        [
            PLAIN,
            ("BOX", (0, 0), (-1, -1), 0.75, colors.HexColor(FAINT)),
            ("TOPPADDING", (0, 0), (-1, -1), 0.0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8),
            ("RIGHTPADDING", (0, 0), (-1, -1), 2.0),
        ]
    )
    return Grid([[told]], colWidths=[width], style=look, spaceBefore=4.0, spaceAfter=2.0)


def _pair(block: Block, width: float, placed: list[Placed]) -> Flowable:
    """Return two tables side by side, and at their right a picture as wide as it is drawn."""
    drawn = [PictureSpace(part.draw(), width, placed) for part in block.parts if isinstance(part, Picture)]
    tables = [part for part in block.parts if isinstance(part, TypedTable)]
    room = width - sum(each.width + GUTTER_PT for each in drawn)
    half = (room - GUTTER_PT * (len(tables) - 1)) / max(len(tables), 1)
    cells: list[list[Flowable]] = [_table(part, half) for part in tables]
    cells += [[each] for each in drawn]
    widths = [half + GUTTER_PT] * len(tables) + [each.width for each in drawn]
    look = [PLAIN, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0.0)]
    look += [(f"{side}PADDING", (0, 0), (-1, -1), 0.0) for side in ("TOP", "BOTTOM")]
    look.append(("RIGHTPADDING", (0, 0), (-1, -1), GUTTER_PT))
    look.append(("RIGHTPADDING", (-1, 0), (-1, -1), 0.0))
    return Grid([cells], colWidths=widths, hAlign="LEFT", style=TableStyle(look))


BLOCKS = {"answer": _answer, "caution": _box, "pair": _pair}


def _table(table: TypedTable, width: float) -> list[Flowable]:
    """Return a table with its title; its headings are repeated where it goes on over a page."""
    heads = [_text(c.title, STRONG_NUMBER if c.is_number else STRONG_CELL) for c in table.columns]
    rows: list[list[Flowable | str]] = []
    styles: list[Any] = []
    if table.bands():
        rows.append(_names(table, styles))
    if not table.bands() or any(column.title for column in table.columns if column.band):
        rows.append([*heads])
    else:
        rows[0][0] = heads[0]
    pairs = enumerate(pairwise(table.columns), start=1)
    styles += [
        ("LEFTPADDING", (place, 0), (place, -1), 8.0)
        for place, (before, after) in pairs
        if before.is_number and not (after.is_number or after.band)
    ]
    top = len(rows)
    styles.append(("LINEBELOW", (0, top), (-1, -1), 0.4, colors.HexColor(GRID)))
    styles.append(("LINEBELOW", (0, top - 1), (-1, top - 1), 0.8, colors.HexColor(FAINT)))
    for texts, row in zip(table.texts(), table.rows, strict=True):
        if row.kind == "part":
            styles.append(("SPAN", (0, len(rows)), (-1, len(rows))))
            rows.append([_text(texts[0], STRONG_CELL), *[""] * (len(table.columns) - 1)])
        else:
            rows.append([_cell(t, c, row.kind == "total") for t, c in zip(texts, table.columns, strict=True)])
    shares = [column.share for column in table.columns]
    made = Grid(
        rows, colWidths=[width * share / sum(shares) for share in shares], repeatRows=top,
        style=TableStyle([*TABLE_LOOK, *styles]), spaceBefore=1.0, spaceAfter=3.0,
    )  # fmt: skip
    title = [_text(table.title, STRONG_CELL)] if table.title else []
    return [*title, made, *([_text(table.caption)] if table.caption else [])]


def _names(table: TypedTable, styles: list[Any]) -> list[Flowable | str]:
    """Return the row of the bands' names, and let each span its columns."""
    names: list[Flowable | str] = []
    for place, column in enumerate(table.columns):
        begins = table.starts_band(place)
        names.append(_text(column.band, STRONG_CELL) if begins else "")
        if begins:
            last = max(p for p, c in enumerate(table.columns) if c.band == column.band)
            styles.append(("SPAN", (place, 0), (last, 0)))
            styles.append(("LEFTPADDING", (place, 0), (place, -1), 6.0))
    return names


def _cell(text: str, column: Column, strong: bool) -> Paragraph:
    if not column.is_number:
        return _text(text, STRONG_CELL if strong and not column.band else CELL)
    return _text(text, STRONG_NUMBER if strong or text.startswith("* ") else NUMBER)


TABLE_LOOK: tuple[Any, ...] = (
    PLAIN,
    ("FONTSIZE", (0, 0), (-1, -1), TEXT_PT),
    ("LEADING", (0, 0), (-1, -1), LEADING_PT),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2.0),
    ("TOPPADDING", (0, 0), (-1, -1), 0.0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0.6),
)
