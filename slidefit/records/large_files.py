"""Large plain delimited files, read in pieces by Arrow: the memory in use stays that of one piece."""

from __future__ import annotations

import csv
import itertools
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from slidefit.errors import RecordsError
from slidefit.records.columns import TextColumn
from slidefit.records.meaning.crossed_tables import melted
from slidefit.records.meaning.reshaping import priced
from slidefit.records.meaning.table_meaning import Meaning, check_order, decide
from slidefit.records.reading.contents import SAMPLE_LINES, delimited_grid, find_delimiter
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.sources import Source, encoding_of
from slidefit.records.reading.tables import MOST_COLUMNS, Table, columns_of, cut_short, find_tables
from slidefit.records.reading.text_layout import more_in_clauses
from slidefit.records.words.dialects import text_dialect
from slidefit.records.words.fields import IGNORED_FIELDS
from slidefit.records.words.headings import parse_headings

STREAM_BYTES = 8 << 20
SAMPLE_BYTES = 1 << 16
_LINES_OF_CLAUSES = 40  # tell a text of clauses from a table
BLOCK_BYTES, PIECE_BLOCKS = 4 << 20, 4  # larger blocks are no longer at hand when they are gone through again


@dataclass(frozen=True)
class PiecePlan:
    """How a large file is read in pieces: where its table begins, and what its heading and titles say."""

    path: Path
    delimiter: str
    skip: int
    table: Table


def worth_streaming(source: Source) -> bool:
    """Tell whether a source is a plain file large enough to be read in pieces."""
    return source.path is not None and source.path.stat().st_size >= STREAM_BYTES


def planned(source: Source, options: ReadOptions) -> PiecePlan | None:
    """Look at the beginning of a large file and plan its reading in pieces, or return None.

    The file must be UTF-8 with one table under a heading of one row; titles above it are read. Others need the
    ordinary readers.
    """
    head = source.content(SAMPLE_BYTES)
    if source.path is None or head[:4] in (b"PK\x03\x04", b"PAR1", b"%PDF") or head[8:12] == b"DUCK":
        return None
    if encoding_of(head, source.name) not in ("utf-8", "utf-8-sig") or options.skip_rows:
        return None
    text = head.decode("utf-8-sig", errors="ignore").replace("\r\n", "\n")
    text = text[: text.rfind("\n") + 1] if len(head) == SAMPLE_BYTES else text
    if "\r" in text or text.lstrip()[:1] in ("{", "[", "<") or text_dialect(text):
        return None
    lines = text.split("\n", SAMPLE_LINES)[:SAMPLE_LINES]
    if more_in_clauses("\n".join(beginning := lines[:_LINES_OF_CLAUSES]), len(beginning)):
        return None
    delimiter = find_delimiter(lines)
    if delimiter is None:
        return None
    grid = delimited_grid(text, source.name, delimiter)
    tables, _ = find_tables(grid, options.mapping)
    if len(tables) != 1 or tables[0].other_lines or melted(tables[0]) is not tables[0]:
        return None
    first = list(grid.numbers).index(int(tables[0].rows[0]))
    cells = list(grid.cells[first - 1])
    headings = parse_headings(cells, options.mapping)
    known = {heading.text for heading in tables[0].headings if heading.text}
    if len(cells) > MOST_COLUMNS or not known <= {heading.text for heading in headings}:
        return None
    table = replace(tables[0], headings=headings, columns=(), marked={})
    return PiecePlan(source.path, delimiter, grid.numbers[first] - 1, table)


def pieces(plan: PiecePlan, options: ReadOptions, digest: Any) -> Iterator[tuple[Table, Meaning]]:
    """Read the pieces of a file with their meaning, which is decided from the first one; ragged lines come last.

    Parameters
    ----------
    digest : hash object, or None
        Takes in the bytes of the file.
    """
    import pyarrow as pa
    import pyarrow.csv as pv

    headings = plan.table.headings
    names = [f"{place}" for place in range(len(headings))]
    kind = pa.dictionary(pa.int32(), pa.string())
    unread = [not heading.field or heading.field in IGNORED_FIELDS for heading in headings]
    types = {name: pa.string() if skip else kind for name, skip in zip(names, unread, strict=True)}

    ragged: list[tuple[int, str]] = []
    last = 0  # row read, counted from the heading
    hashing = threading.Thread(target=_digested, args=(plan.path, digest))
    hashing.start()

    def keep_ragged(row: Any) -> str:
        ragged.append((int(row.number) if row.number is not None else 0, row.text))
        return "skip"

    meaning: Meaning | None = None
    try:
        reader = pv.open_csv(
            plan.path,
            read_options=pv.ReadOptions(
                use_threads=False, block_size=BLOCK_BYTES, skip_rows=plan.skip, column_names=names
            ),
            parse_options=pv.ParseOptions(
                delimiter=plan.delimiter,
                newlines_in_values=True,
                invalid_row_handler=keep_ragged,
                ignore_empty_lines=False,
            ),
            convert_options=pv.ConvertOptions(check_utf8=True, column_types=types, strings_can_be_null=False),
        )
        for held in _ahead(reader):
            table = _piece(plan, last, {number for number, _ in ragged if number}, held)
            last = int(table.rows[-1]) - plan.skip if len(table.rows) else last
            table = priced(cut_short(table))
            if meaning is None:
                meaning = decide(table, options)
                check_order(table, meaning)
            yield table, meaning
    except pa.ArrowException as fault:
        raise RecordsError(
            f"can't be read as delimited text ({str(fault)[:120]})",
            where=plan.table.name,
            remedy="Split the file, or save it again as plain CSV in UTF-8.",
        ) from fault
    finally:
        hashing.join()
    if meaning is not None and (rest := _ragged_table(plan, ragged)) is not None:
        yield priced(cut_short(rest)), meaning


class _ArrowTexts(Sequence[str]):
    """Many distinct texts left with Arrow, turned into Python's one by one when asked for."""

    def __init__(self, texts: Any) -> None:
        self.texts = texts

    def __len__(self) -> int:
        return len(self.texts)

    def __getitem__(self, place: Any) -> Any:
        found = self.texts[place]
        return tuple(found.to_pylist()) if isinstance(place, slice) else str(found.as_py())

    def __iter__(self) -> Iterator[str]:
        return iter(self.texts.to_pylist())


def _digested(path: Path, digest: Any) -> None:
    if digest is None:
        return
    with path.open("rb") as file:
        while block := file.read(1 << 22):
            digest.update(block)


def _ahead(reader: Any) -> Iterator[Any]:
    """Return the rows of a reader piece by piece, the next one being read while this one is worked on."""
    import pyarrow as pa

    def held() -> Any:
        blocks = list(itertools.islice(reader, PIECE_BLOCKS))
        return pa.Table.from_batches(blocks).combine_chunks() if blocks else None

    with ThreadPoolExecutor(1) as pool:
        coming = pool.submit(held)
        while (piece := coming.result()) is not None:
            coming = pool.submit(held)
            yield piece


def _piece(plan: PiecePlan, last: int, bad: set[int], held: Any) -> Table:
    import pyarrow.compute as pc

    columns = []
    for column in (each.chunk(0) for each in held.columns):
        if not hasattr(column, "dictionary"):
            columns.append(TextColumn(np.arange(len(column), dtype=np.int32), _ArrowTexts(column)))
            continue
        values = pc.utf8_trim_whitespace(column.dictionary).to_pylist()
        columns.append(TextColumn(column.indices.to_numpy(), tuple(values)))
    rows = np.arange(last + 1, last + 1 + held.num_rows + len(bad), dtype=np.int64) + plan.skip
    rows = rows[~np.isin(rows, list(bad))][: held.num_rows]
    return replace(plan.table, columns=tuple(columns), rows=rows)


def _ragged_table(plan: PiecePlan, ragged: Sequence[tuple[int, str]]) -> Table | None:
    """Return the lines with too few or too many cells, as rows of their own; blank and one-cell lines are none."""
    cells, numbers = [], []
    for number, text in ragged:
        row = next(csv.reader([text], delimiter=plan.delimiter), [])
        if sum(bool(cell.strip()) for cell in row) > 1:
            cells.append(row)
            numbers.append(number)
    if not cells:
        return None
    columns = tuple(columns_of(cells, len(plan.table.headings)))
    return replace(plan.table, columns=columns, rows=np.array(numbers, dtype=np.int64))
