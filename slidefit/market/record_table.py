"""Tidy records where DuckDB can read them: a sale book hands itself over, a frame is laid beside an empty database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    import duckdb

NUMBERS = ("head", "weight_lb", "weight_low_lb", "weight_high_lb", "price_cwt")
WORDS = ("date_precision", "market", "sex", "frame", "muscle", "traits", "currency", "flags")
MEMORY_LIMIT = "1500MB"


class RecordTable(Protocol):
    """A table of tidy records."""

    @property
    def order(self) -> str:
        """SQL that puts the rows of one sale in order, the same every time."""
        ...

    def opened(self) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        """Give a connection that holds the records as ``tidy``, under their usual column names."""
        ...


@dataclass(frozen=True)
class FrameTable:
    """A frame of tidy records as a table; rows of one sale stay in the frame's order."""

    frame: pd.DataFrame
    order: str = "place"

    @contextmanager
    def opened(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Give a connection to an empty database with the frame laid beside it as ``tidy``."""
        import duckdb

        connection = duckdb.connect(":memory:", config={"memory_limit": MEMORY_LIMIT})
        try:
            connection.register("tidy", arrow_table(self.frame))
            yield connection
        finally:
            connection.close()


def arrow_table(frame: pd.DataFrame) -> Any:
    """Return the columns of tidy records that a fit needs, and ``place``, as an Arrow table; missing ones are empty."""
    import pyarrow as pa

    nothing = pd.Series(np.nan, index=frame.index)
    columns = {
        name: pa.array(
            frame.get(name, nothing).to_numpy(dtype=float, na_value=np.nan), pa.float64(), from_pandas=True
        )
        for name in NUMBERS
    }
    for name in WORDS:
        told = frame.get(name, nothing)
        columns[name] = pa.array(told.astype(object).where(told.notna(), None).astype(object), pa.string())
    days = pd.to_datetime(frame["sale_date"]).to_numpy().astype("datetime64[D]")
    columns["sale_date"] = pa.array(days, pa.date32(), from_pandas=True)
    columns["place"] = pa.array(np.arange(len(frame)))
    return pa.table(columns)
