"""What reading gives back: the records, the rows set aside, and an account that adds up."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from slidefit.records.columns import COLUMN_NAMES, NUMBER_COLUMNS, RECORD_COLUMNS, TEXT_COLUMNS
from slidefit.records.meaning import ColumnMeaning
from slidefit.records.spool import Aside, Spool, no_aside

if TYPE_CHECKING:
    from slidefit.records.layouts import Layout


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
    aside : rows set aside, file by file
    notes : sentences that the reader must know
    fingerprint : short hash of what was read
    layout : the reading rules, to be saved and used again
    """

    parts: tuple[ReadPart, ...]
    files: tuple[FileAccount, ...]
    aside: tuple[Aside, ...]
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
    def reasons(self) -> dict[str, int]:
        """Return the count of rows set aside for each reason."""
        total: Counter[str] = Counter()
        for file in self.aside:
            total.update(file.reasons)
        return dict(sorted(total.items()))

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
