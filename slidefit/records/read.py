"""Read sale records from any file: find its tables, decide what they mean, and keep or set aside every row."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.columns import REASON_CODES, REASON_NAMES
from slidefit.records.large_files import PiecePlan, pieces, planned, worth_streaming
from slidefit.records.meaning.interpret import TidyTable, interpret
from slidefit.records.meaning.rejections import (
    KeysSeen,
    equal_lots,
    set_misprints_aside,
    set_repeats_aside,
    set_sums_aside,
)
from slidefit.records.meaning.reshaping import completed, melted, priced, rows_of_prices
from slidefit.records.meaning.table_meaning import Meaning, check_order, decide
from slidefit.records.reading.contents import Contents, tables_of
from slidefit.records.reading.market_text import Residue
from slidefit.records.reading.source_card import Layout, ReadOptions, checked_mapping, checked_units
from slidefit.records.reading.sources import Source, sources
from slidefit.records.reading.tables import Table
from slidefit.records.result import (
    ColumnMeaning,
    FileAccount,
    ReadPart,
    ReadResult,
    RejectedRows,
    SpillBuffer,
)
from slidefit.records.words.titles import refuses_prices

__all__ = ["ReadResult", "read"]
Progress = Callable[[int], None]
MOST_UNKNOWN_REMARKS = 5
MOST_COMPARED = 200_000
MOST_EXAMPLES, LONGEST_EXAMPLE = 3, 100
UNPROVEN = "no date proves it"


@dataclasses.dataclass
class _FileReading:
    """What has been gathered of one file so far."""

    name: str
    aside: RejectedRows
    spool: SpillBuffer = dataclasses.field(default_factory=SpillBuffer)
    columns: list[ColumnMeaning] = dataclasses.field(default_factory=list)
    notes: list[str] = dataclasses.field(default_factory=list)
    seen: int = 0
    other_lines: int = 0
    residue: Residue = dataclasses.field(default_factory=Residue)

    def note(self, text: str) -> None:
        """Add a sentence once."""
        if text and text not in self.notes:
            self.notes.append(text)

    def account(self) -> FileAccount:
        """Return the account of the file."""
        return FileAccount(
            self.name,
            self.seen,
            self.spool.rows,
            self.aside.rows,
            self.other_lines,
            tuple(self.columns),
            tuple(self.notes),
            self.residue.not_sales,
            tuple(self.residue.not_understood),
        )


def read(
    paths: str | Path | Sequence[str | Path],
    *,
    mapping: Mapping[str, str] | None = None,
    market: str | None = None,
    currency: str | None = None,
    price_unit: str | None = None,
    weight_unit: str | None = None,
    date_order: str | None = None,
    sheet: str | None = None,
    layout: Layout | None = None,
    today: date | None = None,
    progress: Progress | None = None,
) -> ReadResult:
    """Read sale records from files, folders, archives or ``-`` (standard input).

    Parameters
    ----------
    paths : one or more paths
    mapping : mapping of heading to field, optional
        For headings that are not recognised.
    market, currency : str, optional
        For rows that name none.
    price_unit, weight_unit, date_order : str, optional
        Settle what a file leaves open; ``price_unit="$/head"`` also converts prices by the head.
    sheet : str, optional
        Read only this sheet of a workbook.
    layout : Layout, optional
        Saved reading rules; what is said here goes before them.
    progress : callable, optional
        Called with the number of rows seen so far.

    Returns
    -------
    ReadResult
        Records, rows set aside with their reasons, and the account of each file.

    Raises
    ------
    RecordsError
        A file can't be read as a whole: missing, empty, no column of price, no sale in it.
    QuestionError
        A file can be read in two ways; the remedy names the flag that settles it.
    """
    options = _options(mapping, market, currency, price_unit, weight_unit, date_order, sheet, layout, today)
    listed = [paths] if isinstance(paths, str | Path) else list(paths)
    readings: list[_FileReading] = []
    digest = hashlib.sha256(repr(dataclasses.replace(options, today=date.min)).encode())
    count = _Counter(progress)
    skipped: list[str] = []
    for source in sources(listed):
        try:
            readings.append(_read_source(source, options, digest, count))
        except QuestionError:
            raise
        except RecordsError as fault:
            if len(listed) == 1 and not Path(listed[0]).is_dir() and "/" not in source.name:
                raise
            skipped.append(fault.text())
    if not readings:
        raise RecordsError(
            "no file holds sale records that can be read", where=str(listed[0]), remedy=" ".join(skipped[:3])
        )
    parts = tuple(ReadPart(reading.name, reading.spool) for reading in readings)
    notes = [f"{reading.name}: {note}" for reading in readings for note in reading.notes] + [
        f"not read: {text}" for text in skipped
    ]
    return ReadResult(
        parts,
        tuple(reading.account() for reading in readings),
        tuple(reading.aside for reading in readings),
        tuple(notes),
        digest.hexdigest(),
        Layout.of(options),
    )


@dataclasses.dataclass
class _Counter:
    """Rows seen over all files, told to whoever wants to know."""

    progress: Progress | None
    rows: int = 0

    def add(self, rows: int) -> None:
        """Count rows."""
        self.rows += rows
        if self.progress is not None:
            self.progress(self.rows)


def _options(
    mapping: Mapping[str, str] | None,
    market: str | None,
    currency: str | None,
    price_unit: str | None,
    weight_unit: str | None,
    date_order: str | None,
    sheet: str | None,
    layout: Layout | None,
    today: date | None,
) -> ReadOptions:
    """Return what the user said, on top of the saved layout."""
    base = layout or Layout()
    price, weight, order = checked_units(
        price_unit or base.price_unit, weight_unit or base.weight_unit, date_order or base.date_order
    )
    return ReadOptions(
        checked_mapping({**base.mapping, **(mapping or {})}),
        market or base.market,
        (currency or base.currency).upper(),
        price,
        weight,
        order,
        sheet or base.sheet,
        base.skip_rows,
        today or date.today(),
    )


def _read_source(
    source: Source, options: ReadOptions, digest: hashlib._Hash, count: _Counter
) -> _FileReading:
    """Read one piece of content."""
    reading = _FileReading(source.name, RejectedRows(source.name))
    if worth_streaming(source):
        plan = planned(source, options)
        if plan is not None:
            _read_pieces(reading, plan, options, digest, count)
            return _finished(reading, options)
    data = source.content()
    digest.update(data)
    if not data.strip():
        raise RecordsError(
            "the file is empty", where=source.name, remedy="Check that it was saved or downloaded whole."
        )
    contents = tables_of(source, data, options)
    tables, meanings = _decided(contents, options, reading)
    _take(reading, tables, meanings, options, whole=True)
    reading.other_lines += contents.other_lines
    reading.residue = contents.residue
    for note in contents.notes:
        reading.note(note)
    count.add(reading.seen)
    return _finished(reading, options)


def _read_pieces(
    reading: _FileReading, plan: PiecePlan, options: ReadOptions, digest: hashlib._Hash, count: _Counter
) -> None:
    """Read a large file piece by piece; what it tells twice is found over all pieces and set aside at the end."""
    seen = KeysSeen()
    exported = False
    for table, meaning in pieces(plan, options, digest):
        frame = _take(reading, [table], [meaning], options)
        exported |= "flags" in meaning.assignment.places
        if not exported:
            seen.see(frame)
        count.add(len(table.rows))
    if exported:
        return
    for repeat in seen.repeats(reading.spool):
        if len(repeat.source_rows):
            reading.spool.drop(repeat.source_rows)
            for table, _ in pieces(plan, options, None):
                code = REASON_CODES[repeat.reason]
                _set_aside(reading, table, np.where(np.isin(table.rows, repeat.source_rows), code, 0))


def _decided(
    contents: Contents, options: ReadOptions, reading: _FileReading
) -> tuple[list[Table], list[Meaning]]:
    """Return the tables that hold prices, made long, with their meanings; the first fault counts when none does."""
    tables: list[Table] = []
    meanings: list[Meaning] = []
    faults: list[RecordsError] = []
    for table in contents.tables:
        long = priced(completed(melted(rows_of_prices(table))))
        if long.wide and refuses_prices(table.lines):
            reading.note(
                "a table of receipts, changes or index numbers was passed over: its numbers are no prices"
            )
            continue
        try:
            meanings.append(decide(long, options))
        except RecordsError as fault:
            faults.append(fault)
            continue
        tables.append(long)
    questions = [fault for fault in faults if isinstance(fault, QuestionError)]
    if questions:
        raise questions[0]
    if not tables:
        if faults:
            raise faults[0]
        raise RecordsError(
            "no sale of feeder calves was found: no table whose heading names price and weight, and no market report",
            where=contents.name,
            remedy=Text(
                "Name the columns with ",
                Setting("mapping", "Their Heading=field"),
                ", or see docs/records.md for what can be read.",
            ),
        )
    proven = next((m.order for m in meanings if m.order.how and not m.order.how.startswith(UNPROVEN)), None)
    if proven is not None:
        meanings = [
            dataclasses.replace(m, order=proven) if m.order.how.startswith(UNPROVEN) or not m.order.how else m
            for m in meanings
        ]
    for table, meaning in zip(tables, meanings, strict=True):
        check_order(table, meaning)
    return tables, meanings


def _take(
    reading: _FileReading,
    tables: Sequence[Table],
    meanings: Sequence[Meaning],
    options: ReadOptions,
    *,
    whole: bool = False,
) -> pd.DataFrame:
    """Turn tables into records and rows set aside; return the records.

    What is told twice is found here when the tables are the ``whole`` of the file.
    """
    tidy = [interpret(table, meaning, options) for table, meaning in zip(tables, meanings, strict=True)]
    frame = pd.concat([item.frame for item in tidy], ignore_index=True) if len(tidy) > 1 else tidy[0].frame
    if len(tidy) > 1:
        frame = _recategorised(frame, [item.frame for item in tidy])
    reason = np.concatenate([item.reason for item in tidy])
    if len(tidy) > 1:
        set_sums_aside(frame, reason, np.repeat(np.arange(len(tidy)), [len(item.frame) for item in tidy]))
    if not all("flags" in meaning.assignment.places for meaning in meanings):  # else an export, judged before
        set_misprints_aside(frame, reason, unit_said=all(item.unit_said for item in tidy))
        if whole:
            set_repeats_aside(frame, reason)
    reading.seen += len(frame)
    kept = frame[reason == 0].reset_index(drop=True) if reason.any() else frame
    reading.spool.put(kept)
    if whole and len(frame) <= MOST_COMPARED and (equal := equal_lots(kept)):
        reading.note(
            f"{equal} rows equal another lot of the same sale; in a list of single lots both are kept"
        )
    start = 0
    for table in tables:
        codes = reason[start : start + len(table.rows)]
        start += len(table.rows)
        _set_aside(reading, table, codes)
        reading.other_lines += table.other_lines
    _notes(reading, tables, meanings, tidy)
    return kept


def _recategorised(frame: pd.DataFrame, frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Make text columns categorical again after joining tables whose categories differ."""
    for name in frames[0].columns[[isinstance(dtype, pd.CategoricalDtype) for dtype in frames[0].dtypes]]:
        frame[name] = frame[name].astype("str").astype("category")
    return frame


def _set_aside(reading: _FileReading, table: Table, codes: np.ndarray) -> None:
    """Keep the rows with a reason: their text for the account, their cells for mending."""
    rows = np.flatnonzero(codes)
    if not len(rows):
        return
    cells = {}
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        name = heading.text or f"column {place + 1}"
        cells[name if name not in cells else f"{name} ({place + 1})"] = column.take(rows).category()
    fields = {heading.field for heading in table.headings}
    extra = {name: text for name, text in table.said.items() if name not in fields and name not in cells}
    reading.aside.put(
        pd.DataFrame(cells), extra, [REASON_NAMES[code] for code in codes[rows]], table.rows[rows]
    )


def _notes(
    reading: _FileReading, tables: Sequence[Table], meanings: Sequence[Meaning], tidy: Sequence[TidyTable]
) -> None:
    """Add to the account how columns were read and what the reader must know."""
    for table, meaning in zip(tables, meanings, strict=True):
        if not reading.columns:
            reading.columns.extend(meaning.columns)
        for note in meaning.notes:
            reading.note(note)
        if table.wide:
            reading.note(f"a wide table was made long: {table.wide}")
        if meaning.order.how.startswith(UNPROVEN):
            reading.note(f"dates such as 05/03 can be read two ways; {meaning.order.how}")
    unknown = list(dict.fromkeys(text for item in tidy for text in item.unknown_remarks))
    if unknown:
        shown = ", ".join(repr(text) for text in unknown[:MOST_UNKNOWN_REMARKS])
        reading.note(
            f"{len(unknown)} remarks hold words that are no known trait, which were left out: {shown}"
        )


def _finished(reading: _FileReading, options: ReadOptions) -> _FileReading:
    """Add the closing notes of a file."""
    if left := reading.residue.not_understood:
        shown = "; ".join(f"line {line}: {text[:LONGEST_EXAMPLE]!r}" for line, text in left[:MOST_EXAMPLES])
        reading.note(f"{len(left)} clauses with a weight or a price were not understood: {shown}")
    first = next((frame for frame in reading.spool if len(frame)), None)
    if first is not None and not options.market and first["market"].eq("").all():
        reading.note("no place of sale is named; it was left blank")
    if first is not None and first["head"].isna().all():
        reading.note("no head counts are given; rows can't be weighed by the number of head")
    if first is None:
        reading.note("no row of this file could be used as a sale of feeder calves")
    return reading
