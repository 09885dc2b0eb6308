"""The one look of every picture: ink on white, told apart by lightness, dash and marker as well as color."""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

INK = "#1d2730"
FAINT = "#5b6770"
GRID = "#dfe3e6"
ACCENT = "#0b4f7a"
LegendPlace = Literal["upper left", "upper right", "above"]
WIDTH_IN, HEIGHT_IN = 5.8, 4.3
TEXT_PT, SMALL_PT, TITLE_PT = 10.0, 8.5, 11.5
LINE_PT = 2.0
HALO = (withStroke(linewidth=2.2, foreground="white"),)
PNG_DPI = 160
UNDATED = {"png": "Software", "svg": "Date", "pdf": "CreationDate"}
ROWS_FRAME_IN, ROWS_WIDTH_IN = 1.5, 7.2
NARROW_WIDTH_IN, NARROW_HEIGHT_IN = 4.0, 3.7
LABEL_CHARS = 38
TITLE_CHARS = 58
NARROW_TITLE_CHARS, NARROW_SOURCE_CHARS = 38, 60


@dataclass(frozen=True)
class LineStyle:
    """How one series is drawn: apart from the others in grey too."""

    color: str
    dash: str
    marker: str


SEX_LOOKS = {
    "steer": LineStyle("#0b4f7a", "-", "o"),
    "heifer": LineStyle("#d08a1d", "--", "^"),
    "bull": LineStyle("#6b6f76", ":", "s"),
}
LOOKS = (
    LineStyle("#0b4f7a", "-", "o"),
    LineStyle("#d08a1d", "--", "^"),
    LineStyle("#6b6f76", ":", "s"),
    LineStyle("#7fb2d6", "-.", "D"),
    LineStyle("#2a2a2a", "-", "v"),
    LineStyle("#b9a27c", "--", "P"),
)


def new_figure(*, height_in: float = HEIGHT_IN, width_in: float = WIDTH_IN) -> tuple[Figure, Axes]:
    """Return an empty figure with one styled pair of axes."""
    figure, (axes,) = new_figures(1, height_in=height_in, width_in=width_in)
    return figure, axes


def new_figures(count: int, *, height_in: float, width_in: float) -> tuple[Figure, list[Axes]]:
    """Return an empty figure with styled axes side by side on one vertical scale."""
    figure = Figure(figsize=(width_in, height_in), layout="constrained", facecolor="white")
    every = list(figure.subplots(1, count, sharey=True, squeeze=False)[0])
    for axes in every:
        axes.set_facecolor("white")
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        for side in ("left", "bottom"):
            axes.spines[side].set_color(FAINT)
        axes.grid(axis="y", color=GRID, linewidth=0.8)
        axes.set_axisbelow(True)
        axes.tick_params(colors=INK, labelsize=TEXT_PT, length=3)
    return figure, every


def row_figure(names: Sequence[str], row_in: float) -> tuple[Figure, Axes]:
    """Return an empty figure with a row for each name, the first at the bottom, its grid upright."""
    rows = max(len(names), 1)
    figure, axes = new_figure(height_in=ROWS_FRAME_IN + row_in * rows, width_in=ROWS_WIDTH_IN)
    axes.grid(visible=False, axis="y")
    axes.grid(axis="x", color=GRID, linewidth=0.8)
    axes.set_yticks(range(len(names)), list(names))
    axes.tick_params(axis="y", labelsize=SMALL_PT)
    axes.set_ylim(-0.7, rows - 0.3)
    return figure, axes


def interval(
    axes: Axes, row: float, value: float, ends: tuple[float, float], *, filled: bool, gid: str,
    color: str = ACCENT, marker: str = "o",
) -> None:  # fmt: skip
    """Draw a value with its interval in a row; filled marks stand out."""
    axes.hlines(row, *ends, color=color, linewidth=2.0, alpha=0.55)
    axes.plot(
        value, row, marker=marker, markersize=6, linestyle="none", markeredgecolor=color,
        markerfacecolor=color if filled else "white", gid=gid,
    )  # fmt: skip


def literal(text: str) -> str:
    """Return text that is drawn as it stands: a pair of dollar signs would else be read as a formula."""
    return text.replace("$", r"\$")


def short_label(text: str) -> str:
    """Return a name cut to what a legend can hold."""
    return text if len(text) <= LABEL_CHARS else text[: LABEL_CHARS - 1].rstrip() + "…"


def label(axes: Axes, *, title: str, x: str = "", y: str = "", source: str = "") -> None:
    """Give the axes their title and units, and the figure the line that says what it rests on."""
    axes.set_xlabel(x, fontsize=TEXT_PT, color=INK)
    axes.set_ylabel(y, fontsize=TEXT_PT, color=INK)
    figure = axes.get_figure()
    if not isinstance(figure, Figure):
        return
    figure.suptitle(
        literal(textwrap.fill(title, TITLE_CHARS)), x=0.01, ha="left", fontsize=TITLE_PT, color=INK,
        fontweight="bold",
    )  # fmt: skip
    if source:
        figure.supxlabel(literal(source), x=0.01, ha="left", fontsize=SMALL_PT, color=FAINT)


def legend(axes: Axes, place: LegendPlace = "upper right", *, columns: int = 1) -> None:
    """Add the legend in the house style, inside the axes or above them."""
    anchor = (0.0, 1.0) if place == "above" else None
    made = axes.legend(
        frameon=False, fontsize=TEXT_PT, labelcolor=INK, loc="lower left" if place == "above" else place,
        bbox_to_anchor=anchor, ncols=columns, handlelength=2.6, borderaxespad=0.3, columnspacing=1.4,
    )  # fmt: skip
    made.set_gid(place)


def narrowed(figure: Figure) -> Figure:
    """Return a figure at the width of a phone or of half a printed page, its letters no smaller than can be read."""
    figure.set_size_inches(NARROW_WIDTH_IN, max(NARROW_HEIGHT_IN, float(figure.get_size_inches()[1])))
    for text in figure.texts:
        chars = NARROW_TITLE_CHARS if text.get_fontsize() == TITLE_PT else NARROW_SOURCE_CHARS
        text.set_text("\n".join(textwrap.fill(line, chars) for line in text.get_text().split("\n")))
    for axes in figure.axes:
        axes.tick_params(labelsize=SMALL_PT)
        found = axes.get_legend()
        if found is not None and found.get_gid() == "above":
            legend(axes, "above")
    return figure


def rendered(figure: Figure, kind: Literal["png", "svg", "pdf"]) -> bytes:
    """Return the figure as the bytes of a PNG, SVG or PDF file, the same every time.

    A letter that the font lacks, in a name of the user's, is drawn as an empty box.

    Parameters
    ----------
    kind : 'png', 'svg' or 'pdf'
        The letters of an SVG are shapes, those of a PDF text in a font that it holds.
    """
    out = io.BytesIO()
    with (
        rc_context({"svg.hashsalt": "slidefit", "svg.fonttype": "path", "pdf.fonttype": 42}),
        warnings.catch_warnings(),
    ):
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        metadata: dict[str, str | None] = {UNDATED[kind]: None}
        figure.savefig(out, format=kind, dpi=PNG_DPI, metadata=metadata)
    return out.getvalue()
