"""A document as text for the terminal: plain in black and white, and no number lost at any width."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from slidefit.report.document import Bar, Block, Column, Document, Heading, Note, Picture, Simple, TypedTable

GAPS = ("   ", "  ")
LONGEST_WORD, PROSE = 24, 11
BAR_COLUMNS = 72
BAR_KEY = " Bar: = eight times in ten, o the average, x a bad year, | even with selling now."
LEFT_OUT = "Left out here for want of room: "


def document_text(document: Document, *, width: int = 100) -> str:
    """Return a document as plain text of at most ``width`` columns; pictures are left out.

    A table that is too wide does without its spare columns and says so; one that is still too wide is taken apart
    by its bands, or else shown as a card for each row.
    """
    blocks: list[str] = []
    before: Simple | None = None
    keyed = False
    ends = {id(part.parts[-1]) for part in document.parts if isinstance(part, Block) and part.parts}
    for part in document.flat():
        lines = _lines(part, width)
        if not lines:
            continue
        apart = (
            isinstance(part, (TypedTable, Heading)) or isinstance(before, TypedTable) or id(before) in ends
        )
        blocks += ([""] if apart and blocks else []) + lines
        if isinstance(part, Bar) and not keyed:
            blocks += wrapped(BAR_KEY, width)
            keyed = True
        before = part
    return "\n".join(line.rstrip() for line in blocks) + "\n"


def _lines(part: Simple, width: int) -> list[str]:
    if isinstance(part, TypedTable):
        return table_lines(part, width)
    if isinstance(part, Picture):
        return []
    if isinstance(part, Bar):
        return bar_lines(part, width)
    if isinstance(part, Note) and part.kind == "note":
        return wrapped(f"Note: {part.text}", width)
    return wrapped(part.text, width)


def wrapped(text: str, width: int) -> list[str]:
    """Return a text in lines of at most ``width`` columns, its own line breaks kept."""
    return [line for told in text.split("\n") for line in _fill(told, width)]


def _fill(text: str, width: int) -> list[str]:
    """Return one paragraph in lines; letters of double width count for two."""
    wide = columns_of(text) - len(text)
    share = max(width - wide, width // 2, 1)  # 1 where a column is empty from its heading on
    return textwrap.wrap(text, share, break_on_hyphens=False, drop_whitespace=True) or [""]


def columns_of(text: str) -> int:
    """Return the columns that a text takes in a terminal.

    >>> columns_of("540 lb"), columns_of("\\u725b")
    (6, 2)
    """
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text
    )


def table_lines(table: TypedTable, width: int) -> list[str]:
    """Return a table's title, its rows as they fit, and its caption."""
    made, missing = _fitting(table, width)
    title, caption = wrapped(table.title, width) if table.title else [], table.caption
    left = [f"{LEFT_OUT}{', '.join(missing)}."] if missing else []
    told = [line for text in (*left, caption) if text for line in wrapped(text, width)]
    if made is not None:
        return [*title, *([""] if title else []), *made, *told]
    if len(table.bands()) > 1:
        parts = [table_lines(part, width) for part in table.by_band()]
        return [line for part in parts for line in (*part, "")][:-1]
    return [*title, *([""] if title else []), *_cards(table, width), *told]


def _fitting(table: TypedTable, width: int) -> tuple[list[str] | None, list[str]]:
    """Return the table's grid with as many columns as fit, and the headings left out; None where none fits."""
    spare = sorted((c.spare, place) for place, c in enumerate(table.columns) if c.spare > 0)
    kept = list(range(len(table.columns)))
    while True:
        for gap in GAPS:
            widths = _widths(table.of_columns(kept), width, gap)
            if widths is not None:
                missing = [c.title for place, c in enumerate(table.columns) if place not in kept]
                return _grid(table.of_columns(kept), widths, gap), missing
        if not spare:
            return None, []
        kept.remove(spare.pop()[1])


@dataclass(frozen=True)
class _Need:
    least: int
    full: int


def _need(column: Column, texts: Sequence[str]) -> _Need:
    heading = max((columns_of(word) for word in column.title.split()), default=0)
    full = max([columns_of(column.title), *map(columns_of, texts)])
    if column.is_number:
        return _Need(max([heading, *map(columns_of, texts)]), full)
    longest = max((columns_of(word) for text in texts for word in text.split()), default=0)
    least = max(heading, min(longest, LONGEST_WORD), min(full, PROSE))
    return _Need(min(least, full), full)


def _widths(table: TypedTable, width: int, gap: str) -> list[int] | None:
    """Return each column's width; None where the narrowest ones do not fit."""
    rows = [row for row, made in zip(table.texts(), table.rows, strict=True) if made.kind != "part"]
    needs = [_need(c, [row[place] for row in rows]) for place, c in enumerate(table.columns)]
    room = width - 1 - len(gap) * (len(needs) - 1) - sum(need.least for need in needs)
    if room < 0:
        return None
    widths = [need.least for need in needs]
    wanting = sorted(range(len(needs)), key=lambda place: needs[place].full - needs[place].least)
    for count, place in zip(range(len(wanting), 0, -1), wanting, strict=True):
        more = min(needs[place].full - needs[place].least, room // count)
        widths[place] += more
        room -= more
    return widths


def _grid(table: TypedTable, widths: Sequence[int], gap: str) -> list[str]:
    bands = table.bands()
    out = [_band_line(table, widths, gap)] if bands else []
    out += _row([column.title for column in table.columns], table.columns, widths, gap)
    out.append(" " + "─" * (sum(widths) + len(gap) * (len(widths) - 1)))
    for texts, row in zip(table.texts(), table.rows, strict=True):
        out += [f" {texts[0]}"] if row.kind == "part" else _row(texts, table.columns, widths, gap)
    return out


def _band_line(table: TypedTable, widths: Sequence[int], gap: str) -> str:
    line, before = "", ""
    at = 1
    for column, width in zip(table.columns, widths, strict=True):
        if column.band and column.band != before:
            line = line.ljust(at) + column.band
        before = column.band
        at += width + len(gap)
    return line


def _row(texts: Sequence[str], columns: Sequence[Column], widths: Sequence[int], gap: str) -> list[str]:
    cells = [_fill(text, width) for text, width in zip(texts, widths, strict=True)]
    return [
        " "
        + gap.join(
            _placed(cell[line] if line < len(cell) else "", width, column.is_number)
            for cell, width, column in zip(cells, widths, columns, strict=True)
        )
        for line in range(max(map(len, cells)))
    ]


def _placed(text: str, width: int, right: bool) -> str:
    room = " " * max(width - columns_of(text), 0)
    return room + text if right else text + room


def _cards(table: TypedTable, width: int) -> list[str]:
    """Return each row as a card: its first cell, then a line for every other one."""
    out: list[str] = []
    for texts, row in zip(table.texts(), table.rows, strict=True):
        out += [""] if out else []
        out += wrapped(texts[0], width)
        if row.kind != "part":
            out += _card(zip(table.columns[1:], texts[1:], strict=True), width)
    return out


def _card(cells: Iterable[tuple[Column, str]], width: int) -> list[str]:
    out: list[str] = []
    for column, text in cells:
        if text:
            first, *more = _fill(f"{column.title}: {text}" if column.title else text, max(width - 4, 8))
            out += [f"  {first}", *(f"    {line}" for line in more)]
    return out


def bar_lines(bar: Bar, width: int) -> list[str]:
    """Return a bar as one line of characters between its ends; `BAR_KEY` says how it is read."""
    room = max(min(width, BAR_COLUMNS) - 2, 10)
    at = {name: round(place * (room - 1) / 100.0) for name, place in bar.places().items()}
    line = ["=" if at["low"] <= place <= at["high"] else "·" for place in range(room)]
    for name, mark in (("zero", "|"), ("bad_year", "x"), ("average", "o")):
        line[at[name]] = mark
    return [f" {''.join(line)}"]
