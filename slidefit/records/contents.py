"""One piece of content to tables: which reader it needs, by what it holds and not by what it is called."""

from __future__ import annotations

from dataclasses import dataclass, field

from slidefit.errors import RecordsError
from slidefit.records.delimited import SAMPLE_LINES, aligned_grid, delimited_grid, find_delimiter
from slidefit.records.options import ReadOptions
from slidefit.records.sources import Source
from slidefit.records.tables import Grid, Table, find_tables
from slidefit.records.texts import decoded


@dataclass(frozen=True)
class Contents:
    """The tables of one piece of content, what must be told about it, and lines that belong to no table."""

    name: str
    tables: list[Table]
    notes: list[str] = field(default_factory=list)
    other_lines: int = 0


def tables_of(source: Source, data: bytes, options: ReadOptions) -> Contents:
    """Return the tables in a piece of content.

    Raises
    ------
    RecordsError
        The content is of no kind that can be read.
    """
    return text_tables(decoded(data, source.name), source.name, options)


def grid_tables(grids: list[Grid], name: str, options: ReadOptions) -> Contents:
    """Return the tables in the sheets of a file."""
    tables: list[Table] = []
    other = 0
    for grid in grids:
        cut = Grid(grid.name, grid.cells[options.skip_rows :], grid.numbers[options.skip_rows :], grid.title)
        found, lines = find_tables(cut, options.mapping)
        tables.extend(found)
        other += len(lines)
    return Contents(name, tables, [], other)


def text_tables(text: str, name: str, options: ReadOptions) -> Contents:
    """Return the tables in a text."""
    delimiter = find_delimiter(
        [line for line in text.split("\n", SAMPLE_LINES)[:SAMPLE_LINES] if line.strip()]
    )
    if delimiter is not None:
        return grid_tables([delimited_grid(text, name, delimiter)], name, options)
    aligned = aligned_grid(text, name)
    if aligned is not None:
        return grid_tables([aligned], name, options)
    raise RecordsError(
        "no table and no market report was found in the text",
        where=name,
        remedy="See docs/records.md for what can be read.",
    )
