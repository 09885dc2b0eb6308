"""Write the rows set aside to a CSV in the input's own columns, so that they can be mended and added again."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from slidefit.output import write_whole
from slidefit.records.result import ReadResult

LAST_COLUMNS = ("reason", "source_file", "source_row")


def set_aside_table(read: ReadResult) -> pd.DataFrame:
    """Return the rows set aside in the columns of their files; what titles said stands in columns of its own."""
    if not read.aside_tables:
        return pd.DataFrame({name: pd.Series(dtype="str") for name in LAST_COLUMNS})
    table = pd.concat(read.aside_tables, ignore_index=True)
    ordered = [name for name in table.columns if name not in LAST_COLUMNS]
    return table[[*ordered, *LAST_COLUMNS]]


def write_set_aside(read: ReadResult, path: str | Path) -> int:
    """Write the rows set aside to a CSV file, whole or not at all; return how many.

    The reason, file and row come last; they are passed over when the mended file is added.

    Raises
    ------
    OutputError
        The file can't be written.
    """
    table = set_aside_table(read)
    write_whole(Path(path), table.to_csv(index=False))
    return len(table)
