"""Tables kept in memory while they are few, and in a temporary folder once they are many."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from slidefit.records.coded import IntArray

SPOOL_ROWS = 2_000_000
ASIDE_ROWS = 200_000
ASIDE_COLUMNS = ("file", "row", "reason", "text")


class Pieces:
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
        """Write the tables held in memory to the temporary folder."""
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

    @property
    def in_memory(self) -> tuple[pd.DataFrame, ...]:
        """Return the tables that lie in memory."""
        return tuple(self._frames)

    def changed(self, change: Callable[[pd.DataFrame], pd.DataFrame]) -> None:
        """Put a changed table in the place of each."""
        self.rows = 0
        for path in self._paths:
            frame = change(pd.read_parquet(path))
            frame.to_parquet(path, index=False, compression="zstd")
            self.rows += len(frame)
        self._frames = [change(frame) for frame in self._frames]
        self.rows += sum(map(len, self._frames))


class Spool(Pieces):
    """Tables of tidy records, and the first and last day among them."""

    def __init__(self) -> None:
        super().__init__(SPOOL_ROWS)
        self.days: tuple[pd.Timestamp, pd.Timestamp] | None = None

    def put(self, frame: pd.DataFrame) -> None:
        """Add a table of tidy records."""
        if len(frame):
            low, high = frame["sale_date"].min(), frame["sale_date"].max()
            self.days = (
                (low, high) if self.days is None else (min(low, self.days[0]), max(high, self.days[1]))
            )
        super().put(frame)

    def drop(self, source_rows: IntArray) -> None:
        """Take out the records of some rows of the file."""
        self.changed(
            lambda frame: frame[~np.isin(frame["source_row"].to_numpy(), source_rows)].reset_index(drop=True)
        )


class Aside:
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
        self._pieces = Pieces(ASIDE_ROWS)
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

    def named(self, file: str) -> Aside:
        """Return the same rows under another label of their file."""
        other = Aside(file)
        other.reasons, other.columns = self.reasons, self.columns
        other._pieces, other._widths = self._pieces, self._widths
        return other

    def tables(self) -> Iterator[pd.DataFrame]:
        """Return the rows piece by piece in their own columns, with reason, file and row last."""
        for frame in self._pieces:
            last = frame.pop("source_row")
            yield frame.assign(source_file=self.file, source_row=last)

    def told(self) -> Iterator[pd.DataFrame]:
        """Return the rows piece by piece as file, row, reason and the text of their cells."""
        for frame, width in zip(self._pieces, self._widths, strict=True):
            cells = [frame.iloc[:, place] for place in range(width)]
            texts = [" | ".join(text for text in row if text) for row in zip(*cells, strict=True)]
            yield pd.DataFrame(
                {
                    "file": self.file,
                    "row": frame["source_row"],
                    "reason": frame["reason"].astype("str"),
                    "text": texts,
                }
            )


def no_aside() -> pd.DataFrame:
    """Return the table of rows set aside without a row."""
    return pd.DataFrame(
        {name: pd.Series(dtype="int64" if name == "row" else "str") for name in ASIDE_COLUMNS}
    )
