"""Write the rows set aside to a CSV in the input's own columns, so that they can be mended and added again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from slidefit.output import write_pieces
from slidefit.records.result import ReadResult

LAST_COLUMNS = ("reason", "source_file", "source_row")


def set_aside_tables(read: ReadResult) -> Iterator[pd.DataFrame]:
    """Return the rows set aside piece by piece, all with the same columns; what titles said stands in some of its own.

    The reason, file and row come last; they are passed over when the mended file is added.
    """
    own = dict.fromkeys(name for file in read.aside for name in file.columns if name not in LAST_COLUMNS)
    columns = [*own, *LAST_COLUMNS]
    yield pd.DataFrame({name: pd.Series(dtype="str") for name in columns})
    for file in read.aside:
        for table in file.tables():
            yield table.reindex(columns=columns)


def set_aside_table(read: ReadResult) -> pd.DataFrame:
    """Return all rows set aside as one table in the columns of their files."""
    first, *filled = set_aside_tables(read)
    return pd.concat(filled, ignore_index=True) if filled else first


def write_set_aside(read: ReadResult, path: str | Path) -> int:
    """Write the rows set aside to a CSV file, whole or not at all; return how many.

    Raises
    ------
    OutputError
        The file can't be written.
    """
    write_pieces(Path(path), _as_csv(set_aside_tables(read)))
    return read.set_aside_rows


def _as_csv(tables: Iterator[pd.DataFrame]) -> Iterator[bytes]:
    """Return tables as the pieces of one CSV file: the heading once."""
    for number, table in enumerate(tables):
        yield table.to_csv(index=False, header=number == 0).encode()
