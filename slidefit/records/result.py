"""ReadResult, FileAccount, ColumnMeaning; the spill buffer; rejected rows as CSV."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from slidefit.files import write_pieces
from slidefit.public_result import PublicResult
from slidefit.records.columns import COLUMN_NAMES, NUMBER_COLUMNS, TEXT_COLUMNS, IntArray

if TYPE_CHECKING:
    from slidefit.errors import QuestionError
    from slidefit.records.reading.source_card import SourceCard


@dataclass(frozen=True)
class ColumnMeaning:
    """One column for the account: heading, field, unit, and how it was decided."""

    heading: str
    field: str
    unit: str
    how: str


@dataclass(frozen=True)
class WordMeaning:
    """A word of a column: its rows, what it is read as (blank: not understood), and the words left over of it."""

    field: str
    heading: str
    text: str
    rows: int
    meaning: str
    left: str = ""


SPOOL_ROWS = 2_000_000
ASIDE_ROWS = 200_000
ASIDE_COLUMNS = ("file", "row", "reason", "text")


class Chunks:
    """Tables in the order in which they were put in; beyond ``most_rows`` they lie on the disk."""

    def __init__(self, most_rows: int) -> None:
        self._frames: list[pd.DataFrame] = []
        self._paths: list[Path] = []
        self._folder: Path | None = None
        self._most_rows = most_rows
        self.rows = 0

    def put(self, frame: pd.DataFrame) -> None:
        """Add a table."""
        self._frames.append(frame)
        self.rows += len(frame)
        if sum(map(len, self._frames)) > self._most_rows:
            self._spill()

    def _spill(self) -> None:
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="slidefit-"))
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        for frame in self._frames:
            path = self._folder / f"{len(self._paths):06d}.parquet"
            frame.to_parquet(path, index=False, compression="zstd")
            self._paths.append(path)
        self._frames.clear()

    def __iter__(self) -> Iterator[pd.DataFrame]:
        for path in self._paths:
            yield pd.read_parquet(path)
        yield from self._frames

    @property
    def on_disk(self) -> tuple[Path, ...]:
        """Return the files of the tables that lie on the disk; they come before those in memory."""
        return tuple(self._paths)

    def changed(self, change: Callable[[pd.DataFrame], pd.DataFrame]) -> None:
        """Put a changed table in the place of each."""
        self.rows = 0
        for path in self._paths:
            frame = change(pd.read_parquet(path))
            frame.to_parquet(path, index=False, compression="zstd")
            self.rows += len(frame)
        self._frames = [change(frame) for frame in self._frames]
        self.rows += sum(map(len, self._frames))


class SpillBuffer(Chunks):
    """Tables of tidy records, and the first and last day among them."""

    def __init__(self) -> None:
        super().__init__(SPOOL_ROWS)
        self.days: tuple[pd.Timestamp, pd.Timestamp] | None = None

    def first(self) -> pd.DataFrame:
        """Return the first filled table, or an empty one of the same columns."""
        filled = (frame for frame in self if len(frame))
        return next(filled) if self.rows else no_records()

    def put(self, frame: pd.DataFrame) -> None:
        """Add a table of tidy records."""
        if len(frame):
            low, high = frame["sale_date"].min(), frame["sale_date"].max()
            first, last = self.days or (low, high)
            self.days = min(low, first), max(high, last)
        super().put(frame)

    def drop(self, source_rows: IntArray) -> None:
        """Take out the records of some rows of the file."""
        self.changed(
            lambda frame: frame[~np.isin(frame["source_row"].to_numpy(), source_rows)].reset_index(drop=True)
        )


class RejectedRows:
    """The rows of one file that were set aside, in the file's own columns, with the reason and the row.

    Attributes
    ----------
    file : str
        The label of the file.
    reasons : Counter
        How many rows for each reason.
    columns : list of str
        Every column that a table of it has, in the order of first sight; ``reason`` and ``source_row`` left out.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self.reasons: Counter[str] = Counter()
        self.columns: list[str] = []
        self._pieces = Chunks(ASIDE_ROWS)
        self._widths: list[int] = []

    @property
    def rows(self) -> int:
        """Return how many rows were set aside."""
        return self._pieces.rows

    @property
    def on_disk(self) -> tuple[Path, ...]:
        """Return the files of the rows that lie on the disk."""
        return self._pieces.on_disk

    def put(self, cells: pd.DataFrame, extra: dict[str, str], reasons: Sequence[str], rows: IntArray) -> None:
        """Add rows: their cells, what titles said of all of them, their reasons and row numbers."""
        self.reasons.update(reasons)
        frame = cells.assign(**extra, reason=pd.Series(list(reasons), dtype="category"), source_row=rows)
        known = set(self.columns)
        self.columns += [name for name in frame.columns[:-2] if name not in known]
        self._widths.append(cells.shape[1])
        self._pieces.put(frame)

    def tables(self) -> Iterator[pd.DataFrame]:
        """Return the rows piece by piece in their own columns, with reason, file and row last."""
        for frame in self._pieces:
            last = frame["source_row"]
            yield frame.drop(columns="source_row").assign(source_file=self.file, source_row=last)

    def told(self) -> Iterator[pd.DataFrame]:
        """Return the rows piece by piece as file, row, reason and the text of their cells."""
        for frame, width in zip(self._pieces, self._widths, strict=True):
            cells = [frame.iloc[:, place] for place in range(width)]
            texts = [" | ".join(str(text) for text in row if text) for row in zip(*cells, strict=True)]
            told = {"file": self.file, "row": frame["source_row"], "reason": frame["reason"].astype("str")}
            yield pd.DataFrame({**told, "text": texts})


def no_aside() -> pd.DataFrame:
    """Return the table of rows set aside without a row."""
    return pd.DataFrame(
        {name: pd.Series(dtype="int64" if name == "row" else "str") for name in ASIDE_COLUMNS}
    )


_TYPES = {
    **dict.fromkeys(COLUMN_NAMES, "datetime64[s]"),
    **dict.fromkeys(TEXT_COLUMNS, "str"),
    **dict.fromkeys(NUMBER_COLUMNS, "float64"),
    "source_row": "int64",
}


def as_tidy(frame: pd.DataFrame) -> pd.DataFrame:
    """Return tidy records with the declared column types: text as text, numbers as float, rows as whole numbers."""
    columns = {name: _plain(frame[name].array, kind) for name, kind in _TYPES.items()}
    return pd.DataFrame(columns, columns=COLUMN_NAMES, index=pd.RangeIndex(len(frame)))


def _plain(values: Any, kind: str) -> Any:
    if isinstance(values, pd.Categorical):  # its few texts become plain once, and not once a row
        return values.categories.astype(kind).array.take(values.codes, allow_fill=True)
    return values.astype(kind)


def no_records() -> pd.DataFrame:
    """Return tidy records without a row."""
    return pd.DataFrame({name: pd.Series(dtype=_TYPES[name]) for name in COLUMN_NAMES})


@dataclass(frozen=True)
class FileAccount:
    """What became of one file: rows seen = accepted + set aside; ``other_lines`` were titles, notes and the like.

    In a text the clauses with a number of the shape of a weight or price are rows, ``not_sales`` (changes, other
    animals) or ``not_understood``: line and text. ``samples``: the rows of the first records, and what stands there.
    """

    name: str
    rows_seen: int
    accepted: int
    set_aside: int
    other_lines: int
    columns: tuple[ColumnMeaning, ...]
    notes: tuple[str, ...]
    not_sales: int = 0
    not_understood: tuple[tuple[int, str], ...] = ()
    words: tuple[WordMeaning, ...] = ()
    source: str = ""
    samples: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True)
class ReadPart:
    """The records of one file, in one or more tables of tidy columns."""

    file: str
    spool: SpillBuffer


@dataclass(frozen=True, repr=False)
class ReadResult(PublicResult):
    """Everything that was read from one or more files.

    Attributes
    ----------
    parts : records file by file, in the order of reading
    files : the account of each file
    aside : rows set aside, file by file
    notes : sentences that the reader must know
    fingerprint : short hash of what was read
    cards : the cards of the sources, with what this reading added to them
    questions : what was asked of files that were left out, while others were read
    """

    parts: tuple[ReadPart, ...]
    files: tuple[FileAccount, ...]
    aside: tuple[RejectedRows, ...]
    notes: tuple[str, ...]
    fingerprint: str
    cards: tuple[SourceCard, ...] = ()
    questions: tuple[QuestionError, ...] = ()

    @property
    def records(self) -> pd.DataFrame:
        """Return all records as one table of tidy columns."""
        frames = [as_tidy(frame) for part in self.parts for frame in part.spool]
        return pd.concat(frames, ignore_index=True) if frames else no_records()

    @property
    def set_aside(self) -> pd.DataFrame:
        """Return all rows set aside as one table: file, row, reason and text."""
        told = [frame for file in self.aside for frame in file.told()]
        return pd.concat(told, ignore_index=True) if told else no_aside()

    def first_aside(self, count: int) -> pd.DataFrame:
        """Return the first rows set aside: file, row, reason and text."""
        found = next((frame for file in self.aside for frame in file.told()), None)
        whole = found is None or (len(found) < count and self.set_aside_rows > len(found))
        return (self.set_aside if found is None or whole else found).head(count)

    @property
    def set_aside_rows(self) -> int:
        """Return how many rows were set aside."""
        return sum(file.rows for file in self.aside)

    @property
    def rows_seen(self) -> int:
        """Return how many rows were seen in all files."""
        return sum(account.rows_seen for account in self.files)

    @property
    def accepted(self) -> int:
        """Return how many rows became records."""
        return sum(account.accepted for account in self.files)

    @property
    def not_sales(self) -> int:
        """Return how many clauses of the texts with a weight or price are no sales of calves."""
        return sum(account.not_sales for account in self.files)

    @property
    def not_understood_count(self) -> int:
        """Return how many clauses of the texts with a weight or price were not understood."""
        return sum(len(account.not_understood) for account in self.files)

    @property
    def reasons(self) -> dict[str, int]:
        """Return the count of rows set aside for each reason."""
        return dict(sorted(sum((file.reasons for file in self.aside), Counter[str]()).items()))

    @property
    def columns(self) -> tuple[ColumnMeaning, ...]:
        """Return how the columns of the first file were read."""
        return self.files[0].columns if self.files else ()

    def first_rows(self, count: int = 5) -> pd.DataFrame:
        """Return the first records, as read."""
        filled = (frame for part in self.parts for frame in part.spool if len(frame))
        return as_tidy(next(filled, no_records()).head(count))


LAST_COLUMNS = ("reason", "source_file", "source_row")


def set_aside_tables(files: Sequence[RejectedRows]) -> Iterator[pd.DataFrame]:
    """Return the rows set aside piece by piece, all with the same columns; what titles said stands in some of its own.

    The reason, file and row come last; they are passed over when the mended file is added.
    """
    own = dict.fromkeys(name for file in files for name in file.columns if name not in LAST_COLUMNS)
    columns = [*own, *LAST_COLUMNS]
    yield pd.DataFrame({name: pd.Series(dtype="str") for name in columns})
    for file in files:
        for table in file.tables():
            yield table.reindex(columns=columns)


def set_aside_table(read: ReadResult) -> pd.DataFrame:
    """Return all rows set aside as one table in the columns of their files."""
    first, *filled = set_aside_tables(read.aside)
    return pd.concat(filled, ignore_index=True) if filled else first


def write_set_aside(files: Sequence[RejectedRows], path: str | Path) -> int:
    """Write the rows set aside to a CSV file, whole or not at all; return how many.

    Raises
    ------
    OutputError
        The file can't be written.
    """
    write_pieces(Path(path), _as_csv(set_aside_tables(files)))
    return sum(file.rows for file in files)


def _as_csv(tables: Iterator[pd.DataFrame]) -> Iterator[bytes]:
    for number, table in enumerate(tables):
        yield table.to_csv(index=False, header=number == 0).encode()
