"""The one model of everything that is read: an answer is a document of headings, sentences, tables, bars and pictures.

Pure data. What a number looks like follows from the kind of its column; where it is shown (terminal, page, paper,
spreadsheet) is the business of the renderers, which all take the same document.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Literal

from slidefit.report import formatting as f

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Value = str | float | int | date | tuple[float, float] | None
Kind = Literal[
    "text", "figure", "count", "weight", "expected_weight", "price", "expected_price", "dollars", "gain", "cents",
    "bare_cents", "percent", "whole_percent", "chance", "day", "month",
]  # fmt: skip
RowKind = Literal["line", "part", "total"]
NoteKind = Literal["note", "caution", "source"]
WRITERS: dict[Kind, Callable[[float], str]] = {
    "figure": lambda v: f"{v:,g}",
    "count": f.count,
    "weight": f.weight_lb,
    "expected_weight": lambda v: f.weight_lb(v, forecast=True),
    "price": f.price_cwt,
    "expected_price": lambda v: f.price_cwt(v, forecast=True),
    "dollars": f.money,
    "gain": lambda v: f.money(v, sign=True),
    "cents": f.money_cents,
    "bare_cents": f.cents,
    "percent": f.percent,
    "whole_percent": lambda v: f.percent(v, decimals=0),
    "chance": f.odds_percent,
}
NEAR_END_PCT, WORDS_APART_PCT, ABOVE_APART_PCT = 12.0, 24.0, 42.0  # tried at 320 px: nearer words overprint
LEFT: frozenset[Kind] = frozenset({"text", "day", "month"})


@dataclass(frozen=True)
class Heading:
    """A heading; what follows it belongs to it until the next one of its level. The document's title is level 1."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Sentence:
    """One or more sentences that are read as a paragraph; the answer itself is strong."""

    text: str
    strong: bool = False


@dataclass(frozen=True)
class Note:
    """What the reader must know beside the answer: a note, a caution or what something rests on."""

    text: str
    kind: NoteKind = "note"


@dataclass(frozen=True)
class Cell:
    """A value, and how it is written where its column's kind does not say it (another unit in each row)."""

    value: Value = None
    text: str = ""


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    heading : str
    kind : Kind
        What its values are, and with that how they are rounded; numbers stand right and never break.
    unit : str
        Where the heading needs it beside the numbers.
    band : str
        What several columns in a row have in common, such as a group's name; they share one heading above theirs.
    spare : int
        Above zero: a narrow place may do without it, the highest first, and says so.
    share : float
        Width on paper beside the other columns.
    """

    heading: str
    kind: Kind = "text"
    unit: str = ""
    band: str = ""
    spare: int = 0
    share: float = 1.0

    @property
    def is_number(self) -> bool:
        """Whether its values stand right."""
        return self.kind not in LEFT

    @property
    def title(self) -> str:
        """The heading with the unit."""
        return f"{self.heading}, {self.unit}" if self.unit else self.heading

    @property
    def slug(self) -> str:
        """The heading as a style's name."""
        return "".join(c if c.isalnum() else "-" for c in self.heading.lower()).strip("-")


@dataclass(frozen=True)
class Row:
    """One row: a line, a part (a heading between rows, its first cell alone) or a total."""

    cells: tuple[Cell, ...]
    kind: RowKind = "line"


@dataclass(frozen=True)
class TypedTable:
    """A table of typed columns; make it with `table`."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    caption: str = ""

    def texts(self) -> list[list[str]]:
        """Return every row as it is written."""
        return [
            [written(cell, column) for cell, column in zip(row.cells, self.columns, strict=False)]
            for row in self.rows
        ]

    def starts_band(self, place: int) -> bool:
        """Whether a column is the first of its band."""
        return bool(self.columns[place].band) and self.columns[place].band != self.columns[place - 1].band

    def looks(self) -> list[str]:
        """Return each column's styles by name: a number, the first of its band, and what it holds."""
        return [
            f"{'number ' * c.is_number}{'first ' * self.starts_band(place)}of-{c.slug}"
            for place, c in enumerate(self.columns)
        ]

    def bands(self) -> tuple[str, ...]:
        """Return the names of the bands in their order; none where the columns have none."""
        return tuple(dict.fromkeys(column.band for column in self.columns if column.band))

    def of_columns(self, places: Iterable[int]) -> TypedTable:
        """Return the table with these columns only."""
        kept = list(places)
        return replace(
            self,
            columns=tuple(self.columns[place] for place in kept),
            rows=tuple(
                row if row.kind == "part" else replace(row, cells=tuple(row.cells[place] for place in kept))
                for row in self.rows
            ),
        )

    def by_band(self) -> tuple[TypedTable, ...]:
        """Return one table for each band, rows that say nothing there left out; the table itself without bands."""
        return tuple(self._of_band(name) for name in self.bands()) or (self,)

    def _of_band(self, name: str) -> TypedTable:
        places = [place for place, column in enumerate(self.columns) if column.band in ("", name)]
        mine = self.of_columns(places)
        columns = tuple(replace(column, band="") for column in mine.columns)
        firsts = sum(not self.columns[place].band for place in places)
        rows = [
            row
            for row in mine.rows
            if row.kind == "part" or any(cell != Cell() and cell.value != "" for cell in row.cells[firsts:])
        ]
        lone = {
            n
            for n, row in enumerate(rows)
            if row.kind == "part" and (rows[n + 1 :] or [row])[0].kind == "part"
        }
        kept = tuple(row for n, row in enumerate(rows) if n not in lone)
        return replace(
            mine, title=f"{name}: {self.title}" if self.title else name, columns=columns, rows=kept
        )

    def without_constant(self, heading: str) -> TypedTable:
        """Return the table without a column of that heading that says the same in every row."""
        said = [row for row in self.texts() if len(row) == len(self.columns)]
        constant = {
            place
            for place, column in enumerate(self.columns)
            if column.heading == heading and len({row[place] for row in said}) <= 1
        }
        return self.of_columns(place for place in range(len(self.columns)) if place not in constant)


@dataclass(frozen=True)
class Mark:
    """A word at a place of a bar: how far along it is [percent], above or below it, and how it is anchored there."""

    at: float
    text: str
    above: bool

    @property
    def anchor(self) -> Literal["start", "middle", "end"]:
        """Which side of the place the word stands, so that it stays inside the bar's width."""
        return "start" if self.at < NEAR_END_PCT else "end" if self.at > 100.0 - NEAR_END_PCT else "middle"


@dataclass(frozen=True)
class Bar:
    """A range as one bar: eight cases in ten filled, the average ringed, the bad year marked, zero drawn through.

    Attributes
    ----------
    low, high, average, bad_year : float [$ a head]
        Of keeping against selling now.
    axis : (low, high)
        What the bar is drawn against, zero inside; the bars of one plan share it.
    text : str
        The bar in words, for those who do not see it.
    """

    label: str
    low: float
    high: float
    average: float
    bad_year: float
    axis: tuple[float, float]
    text: str

    def at(self, value: float) -> float:
        """Return how far along the axis a value lies [percent], never outside.

        >>> Bar("", -100.0, 100.0, 0.0, -150.0, (-200.0, 200.0), "").at(100.0)
        75.0
        """
        low, high = self.axis
        share = (value - low) / (high - low) if high > low else 0.5
        return round(100.0 * min(max(share, 0.0), 1.0), 2)

    def places(self) -> dict[str, float]:
        """Return where its marks lie along the axis [percent]."""
        values = {"low": self.low, "high": self.high, "average": self.average, "bad_year": self.bad_year}
        return {name: self.at(value) for name, value in {**values, "zero": 0.0}.items()}

    def marks(self) -> tuple[Mark, ...]:
        """Return the words at it: the bad year and even above, the two ends below."""
        bad = Mark(self.at(self.bad_year), f"bad year {f.money(self.bad_year, sign=True)}", above=True)
        zero = self.at(0.0)
        even = (Mark(zero, "even", above=True),) if zero - bad.at > ABOVE_APART_PCT else ()
        low, high = (Mark(self.at(v), f.money(v, sign=True), above=False) for v in (self.low, self.high))
        return (bad, *even, low, high) if high.at - low.at > WORDS_APART_PCT else (bad, *even, low)


@dataclass(frozen=True)
class Picture:
    """A chart, drawn when it is asked for, and what it shows in words."""

    draw: Callable[[], Figure]
    alt: str


Simple = Heading | Sentence | Note | TypedTable | Bar | Picture


@dataclass(frozen=True)
class Block:
    """Parts that belong together.

    The answer for one group, the cautions, tables side by side where there is room, a picture at their right, or what
    paper has no room for.
    """

    kind: Literal["answer", "caution", "pair", "screen"]
    parts: tuple[Simple, ...]


Part = Simple | Block


@dataclass(frozen=True)
class Document:
    """What is said, in its order; none of it laid out."""

    parts: tuple[Part, ...]
    title: str = ""
    subtitle: str = ""
    as_of: str = ""

    @property
    def full_title(self) -> str:
        """The title with the day that it is of, as a window or a list of files shows it."""
        return f"{self.title}, {self.as_of}" if self.as_of else self.title

    def __add__(self, other: Document) -> Document:
        """Return this document with another's parts behind its own."""
        return replace(self, parts=self.parts + other.parts)

    def flat(self) -> tuple[Simple, ...]:
        """Return the parts in their order, those of the blocks among them."""
        return tuple(p for part in self.parts for p in (part.parts if isinstance(part, Block) else (part,)))


def document(*parts: Part | str, title: str = "", subtitle: str = "", as_of: str = "") -> Document:
    """Return a document of these parts: text becomes a sentence, and an empty text is left out.

    >>> document("Keep.", "").parts
    (Sentence(text='Keep.', strong=False),)
    """
    kept = (Sentence(part) if isinstance(part, str) else part for part in parts if part != "")
    return Document(tuple(kept), title, subtitle, as_of)


def notes(texts: Iterable[str], kind: NoteKind = "note") -> tuple[Note, ...]:
    """Return each text as a note, those that come twice once."""
    return tuple(Note(text, kind) for text in dict.fromkeys(texts))


def table(
    title: str,
    columns: Sequence[Column | tuple[str, Kind] | str],
    rows: Iterable[Sequence[Cell | Value]],
    *,
    caption: str = "",
    kinds: Mapping[int, RowKind] | None = None,
) -> TypedTable:
    """Return a table from plain values.

    Parameters
    ----------
    columns : sequence of Column, (heading, kind) or heading
    rows : iterable of sequences of Cell or plain value
        As many as there are columns; a part has its label alone.
    kinds : mapping of the row's place to 'part' or 'total', optional

    >>> made = table("Months", ["Sold", ("Gain", "gain")], [["Nov 2026", 84.6], ["Dec 2026", None]])
    >>> made.texts()
    [['Nov 2026', '+$85'], ['Dec 2026', '']]
    """
    heads = tuple(
        c if isinstance(c, Column) else Column(*((c,) if isinstance(c, str) else c)) for c in columns
    )
    made = tuple(
        Row(
            tuple(value if isinstance(value, Cell) else Cell(value) for value in row),
            (kinds or {}).get(place, "line"),
        )
        for place, row in enumerate(rows)
    )
    return TypedTable(title, heads, made, caption)


def written(cell: Cell, column: Column) -> str:
    """Return a cell as it is read.

    >>> written(Cell((-40.2, 310.0)), Column("Range", "dollars")), written(Cell(0.684), Column("Odds", "chance"))
    ('-$40 to $310', '68%')
    """
    value = cell.value
    if cell.text or value is None:
        return cell.text
    if isinstance(value, str):
        return value
    if isinstance(value, date):
        return f.sale_month(value.isoformat(), short=True) if column.kind == "month" else f.day(value)
    if column.kind in LEFT:
        return str(value)
    write = WRITERS[column.kind]
    return " to ".join(map(write, value)) if isinstance(value, tuple) else write(value)
