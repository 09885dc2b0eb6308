"""Reading one file: its tables decided, its words looked at, every row kept or set aside, and its account."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np
import pandas as pd

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.columns import REASON_CODES, REASON_NAMES, IntArray, TextColumn
from slidefit.records.doubts import check_places, check_strange, check_whole, place_in_name
from slidefit.records.known_sources import check_level, headings_of, new_words
from slidefit.records.large_files import PiecePlan, pieces
from slidefit.records.meaning.column_words import ask_for_words, column_words, keyed, not_understood, taught
from slidefit.records.meaning.interpret import TidyTable, interpret
from slidefit.records.meaning.missing_columns import check_lost
from slidefit.records.meaning.rejections import (
    ToldTwice,
    equal_lots,
    lot_numbers,
    other_prices,
    rows_of,
    set_misprints_aside,
    set_repeats_aside,
    set_sums_aside,
)
from slidefit.records.meaning.reshaping import made_long
from slidefit.records.meaning.row_classes import taken_back
from slidefit.records.meaning.sale_days import dated
from slidefit.records.meaning.table_meaning import Meaning, check_order, decide
from slidefit.records.meaning.versions import check_versions
from slidefit.records.reading.contents import Contents
from slidefit.records.reading.market_text import Residue
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.source_card import SourceCard
from slidefit.records.reading.tables import Table, cut_short
from slidefit.records.result import ColumnMeaning, FileAccount, RejectedRows, SpillBuffer, WordMeaning
from slidefit.records.sale_levels import LevelsSeen, OffSale, hold_two_units, rows_of_sales
from slidefit.records.words.titles import names_house
from slidefit.records.words.units import refuses_prices
from slidefit.records.words.vocabulary import words_of

_MOST_SHOWN, _MOST_COMPARED = 5, 200_000
_MOST_EXAMPLES, _LONGEST_EXAMPLE, _LONGEST_FAULT = 3, 100, 160
_FEWEST_LOST, _LOST_SHARE = 2, 0.5  # clauses not understood, to those read, from which a text is refused
_ERRATUM, _PRICE_SHAPE = words_of("reports", "erratum"), words_of("reports", "shape")


@dataclasses.dataclass
class FileReading:
    """What has been gathered of one file so far."""

    name: str
    aside: RejectedRows
    spool: SpillBuffer = dataclasses.field(default_factory=SpillBuffer)
    columns: list[ColumnMeaning] = dataclasses.field(default_factory=list)
    words: tuple[WordMeaning, ...] = ()
    samples: tuple[tuple[int, str], ...] = ()
    headings: tuple[str, ...] = ()
    options: ReadOptions = dataclasses.field(default_factory=ReadOptions)
    card: SourceCard | None = None
    unit_settled: bool = False
    notes: list[str] = dataclasses.field(default_factory=list)
    seen: int = 0
    other_lines: int = 0
    residue: Residue = dataclasses.field(default_factory=Residue)

    def note(self, *texts: str) -> None:
        """Add sentences, each once."""
        self.notes = list(dict.fromkeys([*self.notes, *filter(None, texts)]))

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
            self.words,
            self.card.name if self.card is not None else "",
            self.samples,
        )


def read_pieces(
    reading: FileReading, plan: PiecePlan, digest: hashlib._Hash, count: Callable[[int], None]
) -> None:
    """Read a large file piece by piece; what it tells twice is found over all pieces and set aside at the end."""
    options, twice, levels = reading.options, ToldTwice(), LevelsSeen()

    def judge(table: Table, meaning: Meaning, tidy: list[TidyTable]) -> None:
        if not reading.words:
            _weigh_words(reading, [table], [meaning], options)
        frame = take(reading, [table], [meaning], tidy)
        if "flags" not in meaning.assignment.places:  # else an export, judged before
            lots = lot_numbers(table)
            if len(frame) < len(lots):
                lots = lots.take(np.isin(table.rows, frame["source_row"].to_numpy(), assume_unique=True))
            twice.see(frame, lots)
            levels.see(frame)

    with ThreadPoolExecutor(1) as beside:  # a piece is judged while the next one is interpreted
        under_way: list[Future[None]] = []
        for table, meaning in pieces(plan, options, digest):
            tidy = interpreted([table], [meaning], options)
            for each in under_way:
                each.result()
            under_way = [beside.submit(judge, table, meaning, tidy)]
            count(len(table.rows))
        for each in under_way:
            each.result()
        levels_off, told_twice = beside.submit(levels.off), list(twice.found(reading.spool))
    gone: dict[str, IntArray] = {}
    if off := levels_off.result():
        _tell_off(reading, off)
        gone["sale_level"] = rows_of(reading.spool, rows_of_sales(reading.spool, off))
    gone |= {name: rows_of(reading.spool, rows) for name, rows in told_twice if rows.any()}
    reading.note(twice.note)
    if gone:
        reading.spool.drop(np.concatenate(list(gone.values())))
        for table, _ in pieces(plan, options, None):
            codes = np.zeros(len(table.rows), dtype=np.int8)
            for name, source_rows in gone.items():
                codes[(codes == 0) & np.isin(table.rows, source_rows)] = REASON_CODES[name]
            _set_aside(reading, table, codes)


def _tell_off(reading: FileReading, off: Sequence[OffSale]) -> None:
    """Tell of sales that are off by themselves; where no one can tell which are, ask for their unit."""
    told = [sale.told() for sale in off]
    if hold_two_units(off):
        raise QuestionError(
            f"{len(off)} sales are far from those around them, as where a file holds two units of price; {told[0]}",
            where=reading.name,
            remedy=Text(
                "Split the file by the unit of its prices, and give the unit of each part: ",
                Setting("price_unit"),
                ".",
            ),
        )
    reading.note(*(f"set aside whole: {text}" for text in told))


def decided(
    contents: Contents, options: ReadOptions, reading: FileReading
) -> tuple[list[Table], list[Meaning]]:
    """Return the tables that hold prices, made long, with their meanings; the first fault counts when none does."""
    tables: list[Table] = []
    meanings: list[Meaning] = []
    faults: list[RecordsError] = []
    for table in map(cut_short, contents.tables):
        long = made_long(keyed(table))
        if long is not (long := dated(long, options)) and long.said.get("date") != options.sale_day:
            of_day = "date" in long.said and "year" not in long.said
            name, told = ("day of sale", long.said["date"]) if of_day else ("year", long.said["year"])
            reading.note(f"no {name} stands in the file; that of its name was taken: {told}")
        place, told_of = place_in_name(table.name), {*long.said}.union(h.field for h in table.headings)
        sure = "/" in table.name or names_house(place)  # files of an archive bear the names of barns
        if place and sure and "market" not in told_of:
            long = dataclasses.replace(long, said={"market": place, **long.said})
            reading.note(f"no place of sale stands in the file; that of its name was taken: {place}")
        if long.wide and refuses_prices(table.lines):
            reading.note("a table of receipts, changes or index numbers was passed over: they are no prices")
            continue
        try:
            meanings.append(decide(taught(long, options), options))
        except RecordsError as fault:
            faults.append(fault)
            reading.note(f"passed over a table of {len(table.rows):,} rows: {fault.what[:_LONGEST_FAULT]}")
            continue
        tables.append(long)
        reading.headings = reading.headings or headings_of(table)
    for each in faults:  # beside tables with days one without is of something else
        if isinstance(each, QuestionError) and not (tables and "sale_day" in each.values):
            raise each
    if not tables:
        if faults:
            raise faults[0]
        raise RecordsError(
            "no sale of feeder calves was found: no table whose heading names price and weight, and no market report",
            where=contents.name,
            remedy=Text(
                "Name the columns with ",
                Setting("mapping", "Their Heading=field"),
                ", or see docs/records.md.",
            ),
        )
    proven = next((m.order for m in meanings if m.order.how and not m.order.by_custom), None)
    if proven is not None:
        open_to = [m.order.by_custom or not m.order.how for m in meanings]
        meanings = [
            dataclasses.replace(m, order=proven) if o else m for m, o in zip(meanings, open_to, strict=True)
        ]
    _weigh_words(reading, tables, meanings, options)
    return tables, meanings


def _weigh_words(
    reading: FileReading, tables: Sequence[Table], meanings: Sequence[Meaning], options: ReadOptions
) -> None:
    """Look at the words of classes, grades and remarks; ask about classes that are not understood."""
    for table, meaning in zip(tables, meanings, strict=True):
        check_order(table, meaning)
        words = column_words(taught(table, options), meaning)
        strange = new_words(reading.card, words, options)
        always = reading.card is not None and bool(reading.card.values)
        ask_for_words(taught(table, options), meaning, strange if always else words, always=always)
        reading.words += words
        if strange and reading.card is not None:
            shown = ", ".join(
                f"{word.text!r} as {word.meaning or 'not understood'}" for word in strange[:_MOST_EXAMPLES]
            )
            reading.note(f"words that no file of the source {reading.card.name!r} had before: {shown}")
    if left := not_understood(reading.words):
        shown = ", ".join(f"{word.text!r} ({word.rows} rows)" for word in left[:_MOST_EXAMPLES])
        reading.note(f"{len(left)} classes or grades hold words that were not understood: {shown}")


def interpreted(
    tables: Sequence[Table], meanings: Iterable[Meaning], options: ReadOptions
) -> list[TidyTable]:
    """Return the tidy rows of every row of tables."""
    pairs = zip(tables, meanings, strict=True)
    return [interpret(taught(table, options), meaning, options) for table, meaning in pairs]


def take(
    reading: FileReading,
    tables: Sequence[Table],
    meanings: Sequence[Meaning],
    tidy: Sequence[TidyTable],
    *,
    whole: bool = False,
) -> pd.DataFrame:
    """Turn interpreted tables into records and rows set aside; return the records.

    What is told twice is found here when the tables are the ``whole`` of the file.
    """
    frame = _joined([item.frame for item in tidy])
    reason = np.concatenate([item.reason for item in tidy])
    tables = [taken_back(table, m.assignment) for table, m in zip(tables, meanings, strict=True)]
    of_tables = np.split(reason, np.cumsum([len(table.rows) for table in tables])[:-1])  # as views
    for table, own in zip(tables, of_tables, strict=True):  # reasons found while the file was read go first
        for name, marked in table.marked.items():
            own[np.isin(table.rows, list(marked))] = REASON_CODES[name]
    if whole:
        set_sums_aside(frame, reason, np.repeat(np.arange(len(tidy)), [len(item.frame) for item in tidy]))
    exported = all("flags" in meaning.assignment.places for meaning in meanings)
    if not exported:  # an export was judged before
        set_misprints_aside(frame, reason, unit_said=all(item.unit_said for item in tidy))
        if whole:
            _set_levels_aside(reading, frame, reason)
            reading.note(set_repeats_aside(frame, reason, TextColumn.joined(list(map(lot_numbers, tables)))))
    reading.seen += len(frame)
    kept = frame[reason == 0].reset_index(drop=True) if reason.any() else frame
    reading.spool.put(kept)
    reading.samples = reading.samples or _source_texts(tables, kept["source_row"].to_numpy()[:_MOST_SHOWN])
    if whole and len(frame) <= _MOST_COMPARED and (equal := equal_lots(kept)):
        reading.note(
            f"{equal} rows equal another lot of the same sale; in a list of single lots both are kept"
        )
    if whole:
        check_versions(tables, kept)
        check_whole(tables, meanings, kept, reading.name, settled=bool(reading.options.sale_day))
    if not (exported or reading.options.market):
        reading.note(check_places(tables, kept, reading.name))
    for table, own in zip(tables, of_tables, strict=True):
        _set_aside(reading, table, own)
        reading.other_lines += table.other_lines
    _notes(reading, tables, meanings, tidy)
    if whole and (rows := other_prices(kept)):
        first, again = rows[0]
        reading.note(
            f"{len(rows)} lots are told twice but for the price, as in rows {first} and {again}; both prices are kept:"
            " take out the wrong one, or write corrected in the remarks of the right one"
        )
    return kept


def _source_texts(tables: Sequence[Table], rows: IntArray) -> tuple[tuple[int, str], ...]:
    """Return what stands in rows of the file, names of people left out."""
    texts: dict[int, str] = {}
    for table in tables:
        shown = [c for h, c in zip(table.headings, table.columns, strict=True) if h.field != "private"]
        for at in np.flatnonzero(np.isin(table.rows, rows)):
            cells = (column.values[column.codes[at]] for column in shown)
            texts.setdefault(int(table.rows[at]), " | ".join(cell for cell in cells if cell.strip()))
    return tuple((row, texts[row]) for row in dict.fromkeys(rows.tolist()))


def _set_levels_aside(reading: FileReading, frame: pd.DataFrame, reason: np.ndarray) -> None:
    """Find whole sales that are off, among the rows still kept; reasons are written in place."""
    kept = np.flatnonzero(reason == 0)
    part, levels = frame.iloc[kept], LevelsSeen()
    levels.see(part)
    if off := levels.off():
        _tell_off(reading, off)
        reason[kept[rows_of_sales([part], off)]] = REASON_CODES["sale_level"]


def _joined(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Return the records of several tables as one; text columns are made categorical again."""
    if len(frames) == 1:
        return frames[0]
    frame = pd.concat(frames, ignore_index=True)
    for name in frames[0].select_dtypes("category"):
        frame[name] = frame[name].astype("str").astype("category")
    return frame


def _set_aside(reading: FileReading, table: Table, codes: np.ndarray) -> None:
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
    reading: FileReading, tables: Sequence[Table], meanings: Sequence[Meaning], tidy: Sequence[TidyTable]
) -> None:
    """Add to the account how columns were read and what the reader must know."""
    unread: dict[str, None] = {}
    for table, meaning in zip(tables, meanings, strict=True):
        if not reading.columns:
            reading.columns.extend(meaning.columns)
        used = {place for places in meaning.assignment.places.values() for place in places}
        columns = enumerate(table.headings)
        unread |= {heading.text: None for at, heading in columns if heading.unexplained and at not in used}
        reading.note(*meaning.notes)
        for line in filter(_PRICE_SHAPE.search, filter(_ERRATUM.search, table.lines)):
            reading.note(
                f"a line beside the table tells of a correction, not made: {line[:_LONGEST_EXAMPLE]!r}"
            )
        if back := len(table.marked.get("superseded", ())):
            reading.note(f"{back} rows are lots taken back (void, credited), and those that take them back")
        if table.wide:
            reading.note(f"a wide table was made long: {table.wide}")
        if meaning.order.by_custom:
            reading.note(f"dates such as 05/03 can be read two ways; {meaning.order.how}")
    unknown = dict.fromkeys(text for item in tidy for text in item.unknown_remarks)
    for texts, what in (
        (unread, "columns were not understood, and not read"),
        (unknown, "remarks hold words that are no known trait, which were left out"),
    ):
        if texts:
            shown = ", ".join(map(repr, list(texts)[:_MOST_SHOWN]))
            reading.note(f"{len(texts)} {what}: {shown}")


def finished(reading: FileReading) -> FileReading:
    """Add the closing notes of a file; ask for the unit where all prices are by the head."""
    card = reading.card
    first = reading.spool.first()
    reading.note(*check_level(card, first, reading.name, unit_settled=reading.unit_settled))
    if card is not None and card.taught:
        reading.note(f"read as a file of the source {card.name!r}, by its card")
    if left := reading.residue.not_understood:
        shown = "; ".join(f"line {line}: {text[:_LONGEST_EXAMPLE]!r}" for line, text in left[:_MOST_EXAMPLES])
        lost = f"{len(left)} clauses with a weight or a price were not understood"
        if reading.residue.lost >= max(_FEWEST_LOST, _LOST_SHARE * reading.seen):
            raise RecordsError(
                f"{lost} beside {reading.seen} that were, too many to trust what was read: {shown}",
                where=reading.name,
                remedy="Write a table of date, place, class, head, weight and price, or one lot to a line.",
            )
        reading.note(f"{lost}: {shown}")
    check_strange(reading.spool.rows, reading.aside.reasons, reading.columns, reading.name)
    if len(first) and first["head"].isna().all():
        reading.note("no head counts are given; rows can't be weighed by the number of head")
    if not len(first):
        check_lost(reading.name, reading.aside.reasons, reading.columns)
        reading.note("no row of this file could be used as a sale of feeder calves")
    return reading
