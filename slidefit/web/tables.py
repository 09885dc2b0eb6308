"""A table of the terminal as the page shows it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rich.table import Table
from rich.text import Text


@dataclass(frozen=True)
class Heading:
    """A column's heading, and whether it holds numbers."""

    text: str
    number: bool

    @property
    def name(self) -> str:
        """The heading's style: whether it holds numbers, and what it is called."""
        slug = "".join(letter if letter.isalnum() else "-" for letter in self.text.lower()).strip("-")
        return f"{'number ' if self.number else ''}of-{slug}"


@dataclass(frozen=True)
class Cells:
    """A table as the page shows it: plain text, escaped when it is drawn."""

    title: str
    headings: tuple[Heading, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: frozenset[int]
    caption: str


def cells(table: Table) -> Cells:
    """Return a table's title, headings, rows (those in bold marked) and caption as plain text."""
    columns = [list(column.cells) for column in table.columns]
    rows = tuple(tuple(str(cell) for cell in row) for row in zip(*columns, strict=True))
    bold = frozenset(
        number
        for number, row in enumerate(zip(*columns, strict=True))
        if all(isinstance(cell, Text) and "bold" in str(cell.style) for cell in row)
    )
    headings = tuple(Heading(str(column.header), column.justify == "right") for column in table.columns)
    return Cells(str(table.title or ""), headings, rows, bold, str(table.caption or ""))


def without_constant(table: Cells, heading: str) -> Cells:
    """Return a table without a column that says the same in every row."""
    places = [place for place, each in enumerate(table.headings) if each.text == heading]
    if not places or len({row[places[0]] for row in table.rows}) > 1:
        return table
    at = places[0]
    return replace(
        table,
        headings=table.headings[:at] + table.headings[at + 1 :],
        rows=tuple(row[:at] + row[at + 1 :] for row in table.rows),
    )
