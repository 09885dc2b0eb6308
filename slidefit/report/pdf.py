"""The report as a PDF: the same content as the printed page, with its fonts, page numbers and pictures as shapes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any, Literal
from xml.sax.saxutils import escape

import matplotlib
from matplotlib.figure import Figure
from pypdf import PdfReader, PdfWriter, Transformation
from reportlab.lib import colors, pagesizes
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from slidefit.report import sentences
from slidefit.report.answer_tables import SharedTable
from slidefit.report.charts.style import ACCENT, FAINT, GRID, INK, rendered
from slidefit.report.report_content import Chart, GroupPart, PrintedSheet, Report

PaperSize = Literal["letter", "a4"]
Way = Literal["LTR", "RTL"]
SIZES: dict[PaperSize, tuple[float, float]] = {"letter": pagesizes.LETTER, "a4": pagesizes.A4}
FONT, BOLD = "slidefit", "slidefit-bold"
TEXT_PT, LEADING_PT = 8.5, 9.9
MARGIN_PT, BOTTOM_PT, FOOT_PT = 25.0, 30.0, 18.0
POINTS_AN_INCH = 72.0
NARROW_PCT = 90
PLAIN = ("FONTNAME", (0, 0), (-1, -1), FONT)


class NarrowFont(TTFont):
    """A font whose letters are set nine tenths as wide, as high as ever: DejaVu Sans is a wide one."""

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """Return how wide a text comes out."""
        return float(super().stringWidth(text, size, encoding)) * NARROW_PCT / 100.0


class NarrowCanvas(Canvas):
    """A canvas that sets all text as narrow as its font says."""

    def beginText(  # noqa: N802
        self, x: float = 0.0, y: float = 0.0, direction: Way | None = None
    ) -> PDFTextObject:
        """Return a text that is set narrow."""
        begun = super().beginText(x, y, direction)
        begun.setHorizScale(NARROW_PCT)
        return begun


@dataclass(frozen=True)
class Placed:
    """A picture on its page: where its lower left corner lies and how wide it is [points]."""

    figure: Figure
    page: int
    x: float
    y: float
    width: float


class Space(Flowable):
    """The room that a picture takes; where it came to lie is told to a list, and the picture is laid there later."""

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


def report_pdf(report: Report, *, size: PaperSize = "letter") -> bytes:
    """Return the report as a PDF file: text that can be selected, fonts held in it, pictures as shapes.

    Parameters
    ----------
    size : 'letter' or 'a4'

    Notes
    -----
    Letters that the font (DejaVu Sans, as matplotlib ships it) lacks come out as empty boxes. The file carries
    no tags for screen readers: the HTML report does.
    """
    placed: list[Placed] = []
    total = PdfReader(io.BytesIO(_pages(report, size, 0, []))).get_num_pages()
    return _with_pictures(_pages(report, size, total, placed), placed)


def _pages(report: Report, size: PaperSize, total: int, placed: list[Placed]) -> bytes:
    """Return all pages without their pictures; where those belong goes to a list."""
    _fonts()
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out, pagesize=SIZES[size], leftMargin=MARGIN_PT, rightMargin=MARGIN_PT, topMargin=MARGIN_PT,
        bottomMargin=BOTTOM_PT, title=f"{report.title}, {report.as_of}", author="slidefit",
        subject=sentences.REPORT_SUBJECT, lang="en", invariant=1, initialFontName=FONT,
    )  # fmt: skip
    document.topMargin -= 6.0  # the frame's own padding
    foot = partial(_foot, name=report.title, total=total)
    width = SIZES[size][0] - 2.0 * MARGIN_PT - 12.0
    document.build(
        _story(report, width, placed), onFirstPage=foot, onLaterPages=foot, canvasmaker=NarrowCanvas
    )
    return out.getvalue()


def _with_pictures(pages: bytes, placed: Sequence[Placed]) -> bytes:
    writer = PdfWriter(clone_from=io.BytesIO(pages))
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


@cache
def _fonts() -> None:
    """Make the fonts known: DejaVu Sans, which matplotlib ships."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(NarrowFont(FONT, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(NarrowFont(BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)


def _foot(canvas: Canvas, document: SimpleDocTemplate, *, name: str, total: int) -> None:
    width = document.pagesize[0]
    canvas.saveState()
    canvas.setFont(FONT, TEXT_PT)
    canvas.setFillColor(colors.HexColor(FAINT))
    number = sentences.page_number(canvas.getPageNumber(), total)
    room = width - 2.0 * MARGIN_PT - pdfmetrics.stringWidth(number, FONT, TEXT_PT) - 24.0
    canvas.drawString(MARGIN_PT + 6.0, FOOT_PT, _fitted(name, room))
    canvas.drawRightString(width - MARGIN_PT - 6.0, FOOT_PT, number)
    canvas.restoreState()


def _fitted(text: str, width: float) -> str:
    """Return a text cut to a width."""
    if pdfmetrics.stringWidth(text, FONT, TEXT_PT) <= width:
        return text
    while text and pdfmetrics.stringWidth(f"{text}…", FONT, TEXT_PT) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _style(
    size: float = TEXT_PT, *, bold: bool = False, right: bool = False, before: float = 0.0, after: float = 1.5
) -> ParagraphStyle:
    return ParagraphStyle(
        f"{size}-{bold}-{right}", fontName=BOLD if bold else FONT, fontSize=size,
        leading=size * LEADING_PT / TEXT_PT, textColor=colors.HexColor(INK), spaceBefore=before, spaceAfter=after,
        alignment=TA_RIGHT if right else TA_LEFT, splitLongWords=1,
    )  # fmt: skip


TEXT, STRONG = _style(), _style(bold=True)
CELL, NUMBER = _style(after=0.0), _style(right=True, after=0.0)
STRONG_CELL, STRONG_NUMBER = _style(bold=True, after=0.0), _style(bold=True, right=True, after=0.0)
HEADING = _style(10.5, bold=True, before=4.0, after=1.0)
HEADING.keepWithNext = 1
TITLE = _style(14.0, bold=True, after=1.0)


def _story(report: Report, width: float, placed: list[Placed]) -> list[Flowable]:
    story: list[Flowable] = [
        _text(report.title, TITLE),
        _text(sentences.report_date(report.as_of)),
        _text(sentences.ANSWER_HEADING, HEADING),
        *(_answer(group, width, flips=len(report.groups) == 1) for group in report.groups),
    ]
    if report.herd:
        story.append(_text(report.herd))
    story += [_text(sentences.MONTHS_HEADING, HEADING), _text(sentences.MONTHS_EXPLAINED)]
    for sheet in report.sheets:
        story += _months(sheet, width, placed)
    story.append(_cautions(report, width))
    story += [_text(sentences.RESTS_HEADING, HEADING), _text(" ".join(report.rests_on))]
    for place, sheet in enumerate(report.sheets):
        heading = [_text(sentences.BUDGETS_HEADING, HEADING)] if place == 0 else []
        first, *others = sheet.tables.budgets
        story.append(KeepTogether([*heading, *_table(first, width)]))
        story += [KeepTogether(_table(table, width)) for table in others]
        if sheet.tables.breakevens is not None:
            story.append(KeepTogether(_table(sheet.tables.breakevens, width)))
    story.append(Spacer(0, 2))
    story += [_text(note) for note in report.group_notes]
    return story


def _text(text: str, style: ParagraphStyle = TEXT) -> Paragraph:
    return Paragraph(escape(text), style)


def _bullet(text: str) -> Paragraph:
    style = ParagraphStyle(
        "bullet", parent=TEXT, leftIndent=9.0, bulletIndent=0.0, spaceAfter=0.0, bulletFontName=FONT
    )
    return Paragraph(escape(text), style, bulletText="•")


def _answer(group: GroupPart, width: float, *, flips: bool) -> Flowable:
    how_sure = (*group.how_sure, *(group.flips if flips else ()))
    told = [[_text(group.answer, _style(9.5, bold=True))], [_text(" ".join(how_sure))]]
    return Table(
        told if how_sure else told[:1],
        colWidths=[width],
        style=TableStyle(
            [
                ("LINEBEFORE", (0, 0), (0, -1), 2.5, colors.HexColor(ACCENT)),
                PLAIN,
                ("LEFTPADDING", (0, 0), (-1, -1), 6.0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0.0),
                ("TOPPADDING", (0, 0), (-1, -1), 0.0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0.0),
            ]
        ),
        spaceAfter=4.0,
    )


def _months(sheet: PrintedSheet, width: float, placed: list[Placed]) -> list[Flowable]:
    def space(chart: Chart | None) -> list[Flowable]:
        return [] if chart is None else [Space(chart.figure, width, placed)]

    table = [] if sheet.tables.months is None else _table(sheet.tables.months, width)
    return [*space(sheet.gains), *table, *space(sheet.swings)]


def _cautions(report: Report, width: float) -> Flowable:
    told = [_text(sentences.CAUTIONS_HEADING, HEADING)]
    if report.left_out:
        told.append(_text(report.left_out))
    told += [_bullet(line) for line in report.cautions]
    box = TableStyle(
        [
            PLAIN,
            ("BOX", (0, 0), (-1, -1), 0.75, colors.HexColor(FAINT)),
            ("TOPPADDING", (0, 0), (-1, -1), 0.0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8),
            ("RIGHTPADDING", (0, 0), (-1, -1), 2.0),
        ]
    )
    return KeepTogether([Spacer(0, 5), Table([[told]], colWidths=[width], style=box), Spacer(0, 2)])


def _table(table: SharedTable, width: float) -> list[Flowable]:
    """Return a table of groups side by side with its title; its headings are repeated where it goes on over a page."""
    span, count = len(table.columns), len(table.groups)
    shares = [table.label_share, *[column.share for _ in table.groups for column in table.columns]]
    label = _text(table.label_heading, STRONG_CELL)
    names: list[Flowable | str] = ["" if table.headed else label]
    heads: list[Flowable | str] = [label]
    styles: list[Any] = []
    for place, name in enumerate(table.groups):
        names += [_text(name, STRONG_CELL), *[""] * (span - 1)]
        heads += [_text(c.heading, STRONG_NUMBER if c.number else STRONG_CELL) for c in table.columns]
        styles.append(("SPAN", (1 + place * span, 0), ((place + 1) * span, 0)))
        styles.append(("LEFTPADDING", (1 + place * span, 0), (1 + place * span, -1), 6.0))
    rows: list[list[Flowable | str]] = [names, heads] if table.headed else [names]
    top = len(rows)
    styles.append(("LINEBELOW", (0, top), (-1, -1), 0.4, colors.HexColor(GRID)))
    styles.append(("LINEBELOW", (0, top - 1), (-1, top - 1), 0.8, colors.HexColor(FAINT)))
    for row in table.rows:
        at = len(rows)
        if row.kind == "part":
            rows.append([_text(row.label, STRONG_CELL), *[""] * (span * count)])
            styles.append(("SPAN", (0, at), (-1, at)))
            continue
        strong = row.kind == "total"
        cells: list[Flowable | str] = [_text(row.label, STRONG_CELL if strong else CELL)]
        for place, cell in enumerate(row.cells):
            number = table.columns[place % span].number
            bold = number and (strong or cell.startswith("* "))
            cells.append(_text(cell, STRONG_NUMBER if bold else NUMBER if number else CELL))
        rows.append(cells)
    made = Table(
        rows, colWidths=[width * share / sum(shares) for share in shares], repeatRows=top,
        style=TableStyle([*TABLE_LOOK, *styles]), spaceBefore=1.0, spaceAfter=3.0,
    )  # fmt: skip
    return [_text(table.title, STRONG), made] if table.title else [made]


TABLE_LOOK: tuple[Any, ...] = (
    PLAIN,
    ("FONTSIZE", (0, 0), (-1, -1), TEXT_PT),
    ("LEADING", (0, 0), (-1, -1), LEADING_PT),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2.0),
    ("TOPPADDING", (0, 0), (-1, -1), 0.0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0),
)
