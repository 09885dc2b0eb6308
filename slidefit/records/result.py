"""What reading gives back: the records, the rows set aside, and an account that adds up."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from slidefit.records.columns import COLUMN_NAMES, NUMBER_COLUMNS, RECORD_COLUMNS, TEXT_COLUMNS
from slidefit.records.meaning import ColumnMeaning

if TYPE_CHECKING:
    from slidefit.records.layouts import Layout

ASIDE_COLUMNS = ("file", "row", "reason", "text")
SPOOL_ROWS = 2_000_000


def as_tidy(frame: pd.DataFrame) -> pd.DataFrame:
    """Return tidy records with the declared column types: text as text, numbers as float, rows as whole numbers."""
    plain = frame[list(COLUMN_NAMES)].reset_index(drop=True)
    types: dict[str, str] = {
        **dict.fromkeys(TEXT_COLUMNS, "str"),
        **dict.fromkeys(NUMBER_COLUMNS, "float64"),
        "source_row": "int64",
    }
    plain = plain.astype(types)
    plain["sale_date"] = plain["sale_date"].astype("datetime64[s]")
    return plain


def no_records() -> pd.DataFrame:
    """Return tidy records without a row."""
    return as_tidy(
        pd.DataFrame(
            {
                column.name: pd.Series(dtype="datetime64[s]" if column.kind == "date" else "object")
                for column in RECORD_COLUMNS
            }
        )
    )


class Spool:
    """Tables of records kept in memory while they are few, and in a temporary folder once they are many."""

    def __init__(self) -> None:
        self._frames: list[pd.DataFrame] = []
        self._paths: list[Path] = []
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self.rows = 0
        self.days: tuple[pd.Timestamp, pd.Timestamp] | None = None

    def put(self, frame: pd.DataFrame) -> None:
        """Add a table."""
        self._frames.append(frame)
        self.rows += len(frame)
        if len(frame):
            low, high = frame["sale_date"].min(), frame["sale_date"].max()
            self.days = (
                (low, high) if self.days is None else (min(low, self.days[0]), max(high, self.days[1]))
            )
        if sum(map(len, self._frames)) > SPOOL_ROWS:
            self._spill()

    def _spill(self) -> None:
        """Write the tables held in memory to the temporary folder."""
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="slidefit-")
        for frame in self._frames:
            path = Path(self._folder.name) / f"{len(self._paths):06d}.parquet"
            frame.to_parquet(path, index=False, compression="zstd")
            self._paths.append(path)
        self._frames.clear()

    def __iter__(self) -> Iterator[pd.DataFrame]:
        for path in self._paths:
            yield pd.read_parquet(path)
        yield from self._frames


@dataclass(frozen=True)
class FileAccount:
    """What became of one file: rows seen = accepted + set aside; ``other_lines`` were titles, notes and the like."""

    name: str
    rows_seen: int
    accepted: int
    set_aside: int
    other_lines: int
    columns: tuple[ColumnMeaning, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class ReadPart:
    """The records of one file, in one or more tables of tidy columns."""

    file: str
    spool: Spool


@dataclass(frozen=True)
class ReadResult:
    """Everything that was read from one or more files.

    Attributes
    ----------
    parts : records file by file, in the order of reading
    files : the account of each file
    aside_tables : rows set aside in the input's own columns, with file, row and reason
    notes : sentences that the reader must know
    fingerprint : short hash of what was read
    layout : the reading rules, to be saved and used again
    """

    parts: tuple[ReadPart, ...]
    files: tuple[FileAccount, ...]
    aside_tables: tuple[pd.DataFrame, ...]
    aside: pd.DataFrame
    notes: tuple[str, ...]
    fingerprint: str
    layout: Layout | None = field(default=None)

    @property
    def records(self) -> pd.DataFrame:
        """Return all records as one table of tidy columns."""
        frames = [as_tidy(frame) for part in self.parts for frame in part.spool]
        return pd.concat(frames, ignore_index=True) if frames else no_records()

    @property
    def set_aside(self) -> pd.DataFrame:
        """Return the rows set aside: file, row, reason and text."""
        return self.aside

    @property
    def rows_seen(self) -> int:
        """Return how many rows were seen in all files."""
        return sum(account.rows_seen for account in self.files)

    @property
    def accepted(self) -> int:
        """Return how many rows became records."""
        return sum(account.accepted for account in self.files)

    @property
    def reasons(self) -> dict[str, int]:
        """Return the count of rows set aside for each reason."""
        return dict(sorted(Counter(self.aside["reason"].astype(str)).items()))

    @property
    def columns(self) -> tuple[ColumnMeaning, ...]:
        """Return how the columns of the first file were read."""
        return self.files[0].columns if self.files else ()

    def first_rows(self, count: int = 5) -> pd.DataFrame:
        """Return the first records, as read."""
        for part in self.parts:
            for frame in part.spool:
                if len(frame):
                    return as_tidy(frame.head(count))
        return no_records()


def joined_aside(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Return the rows set aside of several tables as one."""
    filled = [frame for frame in frames if len(frame)]
    if filled:
        return pd.concat(filled, ignore_index=True)
    return pd.DataFrame(
        {name: pd.Series(dtype="int64" if name == "row" else "str") for name in ASIDE_COLUMNS}
    )


def counted(frame: pd.DataFrame) -> Mapping[str, int]:
    """Return the count of each reason in a table of rows set aside."""
    return Counter(frame["reason"].astype(str))
