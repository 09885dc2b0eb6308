"""What a large file tells twice, however far apart: the rules of ``repeats`` over all pieces of a file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd

from slidefit.records.coded import BoolArray, IntArray
from slidefit.records.repeats import (
    AVERAGES_SHARE,
    SAME_CLASS,
    SAME_ROW,
    marked_preliminary,
    row_keys,
    whole_sales_again,
)
from slidefit.records.spool import Spool


class FarRepeat(NamedTuple):
    """Rows of the file that a reason holds for."""

    reason: str
    source_rows: IntArray


@dataclass
class KeysSeen:
    """One number for each record of the pieces seen so far; equal records have equal numbers."""

    keys: list[np.ndarray] = field(default_factory=list)
    ranged: int = 0
    headless: bool = True
    preliminary: bool = False

    def see(self, frame: pd.DataFrame) -> None:
        """Take in the records of the next piece."""
        self.keys.append(row_keys(frame, SAME_ROW))
        self.ranged += int((frame["price_low_cwt"] < frame["price_high_cwt"]).sum())
        self.headless &= bool(frame["head"].isna().all())
        self.preliminary |= bool(marked_preliminary(frame).any())

    def repeats(self, spool: Spool) -> Iterator[FarRepeat]:
        """Return the preliminary rows whose final ones are in the file, then the rows told twice.

        Parameters
        ----------
        spool : Spool
            The records seen, in the same order; those returned must be dropped from it before the next step.
        """
        if self.preliminary:
            yield FarRepeat("superseded", self._superseded(spool))
        keys = np.concatenate(self.keys) if self.keys else np.zeros(0, dtype=np.uint64)
        if not _any_equal(keys):
            return
        if self.preliminary:  # the records have changed since they were seen
            keys = np.concatenate([row_keys(frame, SAME_ROW) for frame in spool])
        again = pd.Series(keys).duplicated().to_numpy()
        if not (self.headless or self.ranged > AVERAGES_SHARE * len(keys)):
            again = again & _whole_sales(spool, keys, again)
        yield FarRepeat("duplicate", _rows_of(spool, again))

    def _superseded(self, spool: Spool) -> IntArray:
        """Return the preliminary rows whose final row is anywhere in the file."""
        keys = np.concatenate([row_keys(frame, SAME_CLASS) for frame in spool])
        early = np.concatenate([marked_preliminary(frame) for frame in spool])
        return _rows_of(spool, early & np.isin(keys, keys[~early]))


def _any_equal(keys: np.ndarray) -> bool:
    """Tell whether two numbers are equal."""
    ordered = np.sort(keys)
    return bool((ordered[1:] == ordered[:-1]).any())


def _whole_sales(spool: Spool, keys: np.ndarray, again: BoolArray) -> BoolArray:
    """Return the rows of sales that come again as a whole."""
    sales = np.concatenate([row_keys(frame, ["sale_date", "market"]) for frame in spool])
    return whole_sales_again(keys, sales, again)


def _rows_of(spool: Spool, chosen: BoolArray) -> IntArray:
    """Return the rows of the file behind the chosen records."""
    rows, start = [], 0
    for frame in spool:
        rows.append(frame["source_row"].to_numpy()[chosen[start : start + len(frame)]])
        start += len(frame)
    return np.concatenate(rows).astype(np.int64)
