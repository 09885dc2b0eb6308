"""The same sale told twice inside one file: repeated class averages, whole sales again, preliminary before final."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.records.coded import BoolArray

SAME_ROW = [
    "sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "weight_low_lb", "weight_high_lb",
    "price_cwt", "price_low_cwt", "price_high_cwt", "traits", "currency",
]  # fmt: skip
SAME_CLASS = ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "traits", "currency"]
AVERAGES_SHARE = 0.02
FEWEST_ROWS_OF_A_SALE = 5


def _hashed(column: pd.Series) -> np.ndarray:
    """Return a hash of each value of a column; a text is hashed once for each category."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        if not len(column.cat.categories):
            return np.zeros(len(column), dtype=np.uint64)
        return pd.util.hash_array(column.cat.categories.to_numpy(dtype=object))[column.cat.codes.to_numpy()]
    if column.dtype.kind == "M":
        return pd.util.hash_array(column.to_numpy().astype("datetime64[s]").astype(np.int64))
    return pd.util.hash_array(column.to_numpy(dtype=float) + 0.0)


def row_keys(frame: pd.DataFrame, names: list[str]) -> np.ndarray:
    """Return a number for each row; equal rows (missing equals missing) have equal numbers."""
    keys = np.zeros(len(frame), dtype=np.uint64)
    for name in names:
        hashed = _hashed(frame[name])
        keys = (keys * np.uint64(0x9E3779B97F4A7C15)) ^ (
            hashed + (keys << np.uint64(6)) + (keys >> np.uint64(2))
        )
    return keys


def holds_averages(frame: pd.DataFrame) -> bool:
    """Tell whether rows are reported classes (a range of prices behind the mean, or no head), not single lots."""
    if not len(frame):
        return False
    if frame["head"].isna().all():
        return True
    return bool((frame["price_low_cwt"] < frame["price_high_cwt"]).mean() > AVERAGES_SHARE)


def repeated(frame: pd.DataFrame) -> BoolArray:
    """Return the rows that say again what the same file already said.

    In a file of class averages a row repeated to the letter is one report. In a list of single lots equal rows
    are two lots, unless a whole sale comes again: then every row of it comes equally often.
    """
    keys = row_keys(frame, SAME_ROW)
    again = pd.Series(keys).duplicated().to_numpy()
    if not again.any() or holds_averages(frame):
        return again
    sales = row_keys(frame, ["sale_date", "market"])
    touched = np.isin(sales, np.unique(sales[again]))
    counts = pd.DataFrame({"sale": sales[touched], "key": keys[touched]}).groupby(["sale", "key"]).size()
    by_sale = counts.groupby(level="sale").agg(["min", "max", "size"])
    whole = by_sale[
        (by_sale["min"] >= 2)
        & (by_sale["min"] == by_sale["max"])
        & (by_sale["size"] >= FEWEST_ROWS_OF_A_SALE)
    ]
    return again & np.isin(sales, whole.index.to_numpy())


def superseded(frame: pd.DataFrame) -> BoolArray:
    """Return the preliminary rows whose final row (same class, grade, head and weight) is in the same file."""
    flags = frame["flags"].astype("category").cat
    marked = np.array(["preliminary" in str(flag) for flag in flags.categories], dtype=bool)
    preliminary = marked[flags.codes] if len(marked) else np.zeros(len(frame), dtype=bool)
    if not preliminary.any():
        return preliminary
    keys = row_keys(frame, SAME_CLASS)
    return preliminary & np.isin(keys, keys[~preliminary])


def equal_lots(frame: pd.DataFrame) -> int:
    """Return how many rows equal another one above them, all told: in a list of single lots, lots of their own."""
    return int(pd.Series(row_keys(frame, SAME_ROW)).duplicated().sum())
