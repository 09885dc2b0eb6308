"""Futures quotes: settlements by contract month, read from any table of them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from slidefit.errors import QuestionError, RecordsError
from slidefit.futures_contracts import FuturesQuote, contract_month
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.sources import Source, decoded, sources
from slidefit.records.reading.tables import Grid, Table
from slidefit.records.words.dates import parse_date
from slidefit.records.words.numerals import is_missing, parse_number
from slidefit.records.words.vocabulary import VOCABULARY, alternatives

FED_CATTLE_ONLY = frozenset({2, 6, 12})
"""Months of fed cattle contracts in which no feeder cattle contract is listed (from memory)."""
LEAST_CWT, MOST_CWT = 30.0, 1_000.0
"""Feeder cattle settled between $30 (1970s) and some $400 a hundredweight; the rest is another unit (our limits)."""
LEAST_LB, MOST_LB = 0.3, 10.0
MOST_YEARS_AHEAD = 3
"""Contracts are listed about a year ahead; three years leave room (our limit)."""
FEW_CONTRACTS = 3
SCAN_ROWS = 40
"""A heading stands within the first forty lines (our choice)."""
_HEADINGS = {what: frozenset(alternatives(names).split("|")) for what, names in VOCABULARY["futures"].items()}
_UNIT_WORDS = re.compile(
    r"\b(?:usd?|dollars?|cents?|cts?|per|cwt|lbs?|pounds?|hundredweight|a)\b|[$¢/()\[\]:]", re.IGNORECASE
)
_PER_LB = re.compile(r"(?:\$|usd|dollars?)\s{0,2}(?:/|per|a)\s{0,2}(?:lb|pound)", re.IGNORECASE)


@dataclass(frozen=True)
class RejectedQuote:
    """A row that holds no quote: its number and text, and why (``contract``, ``date``, ``price``, ``expired``)."""

    row: int
    text: str
    reason: str


@dataclass(frozen=True)
class QuoteFile:
    """What a file held: the quotes, each contract once a day; rows not read; and rows that a later one replaced."""

    name: str
    quotes: tuple[FuturesQuote, ...]
    rejected: tuple[RejectedQuote, ...] = ()
    repeated: int = 0
    unit: str = "cwt"


def read_quotes(path: str | Path, *, as_of: date | None = None) -> QuoteFile:
    """Read settlements from a file: delimited or aligned text, a spreadsheet, JSON or a page's table.

    The table has a row for each contract and day (columns of the day, the contract's month, the settlement), or a
    row for each day and a column for each contract. Settlements are dollars per hundredweight or, the same number,
    cents per pound; numbers of 0.3 to 10 are dollars per pound.

    Parameters
    ----------
    as_of : date, optional
        The day of all quotes, for a table without a column of days.

    Raises
    ------
    RecordsError
        The file can't be read, or holds no quotes.
    QuestionError
        The file has no day, or its contracts look like those of fed cattle.
    """

    quotes: dict[tuple[str, date], FuturesQuote] = {}
    rejected: list[RejectedQuote] = []
    name, repeated, units = Path(path).name, 0, set[str]()
    for source in sources([path]):
        for grid in _grids(source):
            table = _quotes_in(grid.cells, grid.numbers, as_of, source.name)
            rejected += table.rejected
            units |= {table.unit} if table.found else set()
            for quote in table.found:
                repeated += (quote.contract, quote.as_of) in quotes
                quotes[quote.contract, quote.as_of] = quote
    if not quotes:
        why = Counter(row.reason for row in rejected).most_common(1)
        raise RecordsError(
            "holds no futures quotes" + (f" ({why[0][1]} rows: {_REASONS[why[0][0]]})" if why else ""),
            where=name,
            remedy="It needs a heading and columns for the day, the contract month and the settlement.",
        )
    _check_feeder(quotes, name)
    in_order = tuple(quotes[key] for key in sorted(quotes, key=lambda pair: (pair[1], pair[0])))
    return QuoteFile(name, in_order, tuple(rejected), repeated, "lb" if units == {"lb"} else "cwt")


def _grid_of(table: Table) -> Grid:
    """Return a table as a grid, its headings first."""
    cells = zip(*(column.texts().tolist() for column in table.columns), strict=True)
    rows = [[heading.text for heading in table.headings], *map(list, cells)]
    return Grid(table.name, rows, [0, *table.rows.tolist()])


def _grids(source: Source) -> list[Grid]:
    """Return the cells of a piece of content: sheets, tables of a page, records of JSON, or lines of text."""
    from slidefit.records.reading import contents, json_records, spreadsheets, text_layout, web_tables

    data = source.content()
    if data[:4] == b"PK\x03\x04" or data[:4] == b"\xd0\xcf\x11\xe0":
        return spreadsheets.workbook_grids(source, data, ReadOptions())[0]
    text = decoded(data, source.name)
    if text.lstrip()[:1] in ("{", "["):
        tables, grids = json_records.json_tables(
            json_records.json_document(text, source.name), source.name, ReadOptions()
        )
        return [*grids, *map(_grid_of, tables)]
    if text.lstrip()[:1] == "<":
        return web_tables.html_grids(text, source.name)
    delimiter = contents.find_delimiter(text.split("\n", SCAN_ROWS)[:SCAN_ROWS])
    if delimiter is not None:
        return [contents.delimited_grid(text, source.name, delimiter)]
    aligned = text_layout.aligned_grid(text, source.name)
    return [aligned] if aligned is not None else []


_REASONS = {
    "contract": "not a contract month",
    "date": "not a day",
    "price": "not a settlement in $/cwt, cents/lb or $/lb",
    "expired": "the day lies after the contract's month, or years before it",
}


def _check_feeder(quotes: Mapping[tuple[str, date], FuturesQuote], name: str) -> None:
    months = {int(contract[-2:]) for contract, _ in quotes}
    if len(months) >= FEW_CONTRACTS and months & FED_CATTLE_ONLY and months <= {2, 4, 6, 8, 10, 12}:
        raise QuestionError(
            "the contract months are February, April, June ...: those of fed (live) cattle, not of feeder cattle",
            where=name,
            remedy="Give settlements of feeder cattle futures (January, March, April, May, August to November).",
        )


@dataclass
class _QuoteTable:
    """The columns of a table under its heading, and what was read so far."""

    columns: Mapping[str, int]
    wide: Mapping[int, str]
    unit: str
    as_of: date | None
    found: list[FuturesQuote] = field(default_factory=list)
    rejected: list[RejectedQuote] = field(default_factory=list)

    def take(self, row: Sequence[str], number: int, *, day_first: bool) -> None:
        """Read one row."""
        day = self.as_of
        if "as_of" in self.columns:
            text = _cell(row, self.columns["as_of"])
            parsed = parse_date(text, day_first=day_first)
            day = parsed.day if parsed else None
        cells = (
            [(label, _cell(row, place)) for place, label in self.wide.items()]
            if self.wide
            else [(_cell(row, self.columns["contract"]), _cell(row, self.columns["settlement"]))]
        )
        for contract, price in cells:
            if self.wide and is_missing(price):
                continue
            quote = self._quote(contract, price, day)
            if isinstance(quote, str):
                self.rejected.append(RejectedQuote(number, ", ".join(filter(None, row))[:200], quote))
            else:
                self.found.append(quote)

    def _quote(self, contract: str, price: str, day: date | None) -> FuturesQuote | str:
        if day is None:
            return "date"
        try:
            month = contract_month(contract, as_of=day)
        except RecordsError:
            return "contract"
        ahead = 12 * (int(month[:4]) - day.year) + int(month[5:]) - day.month
        if not 0 <= ahead <= 12 * MOST_YEARS_AHEAD:
            return "expired"
        number = parse_number(price.strip().lstrip("$").rstrip("¢"))
        value = number.value * (100.0 if self.unit == "lb" else 1.0) if number else 0.0
        return FuturesQuote(month, value, day) if LEAST_CWT <= value <= MOST_CWT else "price"


def _cell(row: Sequence[str], place: int) -> str:
    return row[place].strip() if place < len(row) else ""


def _plain_heading(text: str) -> str:
    """Return a heading without units and punctuation.

    >>> _plain_heading("Settlement ($/cwt)"), _plain_heading("settlement_cwt"), _plain_heading("Contract Month:")
    ('settlement', 'settlement', 'contract month')
    """
    return " ".join(_UNIT_WORDS.sub(" ", text.replace("_", " ")).lower().split())


def _quotes_in(
    cells: Sequence[Sequence[str]], numbers: Sequence[int], as_of: date | None, name: str
) -> _QuoteTable:
    """Read the first table of quotes in a grid; no heading gives a table without quotes."""
    for place, row in enumerate(cells[:SCAN_ROWS]):
        columns, wide = _columns(row, as_of)
        if not wide and not {"contract", "settlement"} <= set(columns):
            continue
        if "as_of" not in columns and as_of is None:
            raise QuestionError(
                "has no column for the day of the quotes",
                where=name,
                remedy="Add a column headed Date, or give the day of all of them.",
            )
        body = [(line, number) for line, number in zip(cells[place + 1 :], numbers[place + 1 :], strict=True)]
        body = [(line, number) for line, number in body if any(cell.strip() for cell in line)]
        table = _QuoteTable(columns, wide, _unit(row, columns, wide, [line for line, _ in body]), as_of)
        day_first = "as_of" in columns and _is_day_first([_cell(line, columns["as_of"]) for line, _ in body])
        for line, number in body:
            table.take(line, number, day_first=day_first)
        return table
    return _QuoteTable({}, {}, "cwt", as_of)


def _columns(row: Sequence[str], as_of: date | None) -> tuple[dict[str, int], dict[int, str]]:
    """Return the columns by what they hold, and those that are headed by a contract month."""
    found: dict[str, int] = {}
    wide: dict[int, str] = {}
    for place, cell in enumerate(row):
        plain = _plain_heading(cell)
        for what, names in _HEADINGS.items():
            if plain in names:
                found.setdefault(what, place)
        if not re.fullmatch(r"[\d.]{0,6}", cell.strip()):
            with suppress(RecordsError):
                wide[place] = contract_month(cell)
    if "contract" in found or ("as_of" not in found and as_of is None):
        wide = {}
    return found, wide


def _unit(
    heading: Sequence[str], columns: Mapping[str, int], wide: Mapping[int, str], rows: Sequence[Sequence[str]]
) -> str:
    """Return ``lb`` where prices are dollars per pound, by the heading or since no other unit gives such numbers."""
    places = list(wide) or [columns["settlement"]]
    if any(_PER_LB.search(_cell(heading, place)) for place in places):
        return "lb"
    numbers = [parse_number(_cell(row, place).lstrip("$")) for row in rows for place in places]
    values = sorted(number.value for number in numbers if number)
    return "lb" if values and LEAST_LB <= values[len(values) // 2] <= MOST_LB else "cwt"


def _is_day_first(texts: Sequence[str]) -> bool:
    """Tell whether only the day before the month makes dates of all texts."""
    month_first = sum(parse_date(text) is not None for text in texts)
    return sum(parse_date(text, day_first=True) is not None for text in texts) > month_first
