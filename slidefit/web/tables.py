"""The tables of the terminal as rows for the page, so that both say the same."""

from __future__ import annotations

from dataclasses import dataclass

from rich.table import Table
from rich.text import Text


@dataclass(frozen=True)
class Heading:
    """A column's heading, and whether it holds numbers."""

    text: str
    number: bool


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
