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


_MIX = np.uint64(0x9E3779B97F4A7C15)
_NOTHING = np.uint64(0x7FF8000000000000)


def _hashed(column: pd.Series) -> np.ndarray | np.uint64:
    """Return a number for each value of a column, one for all where all are the same; a text is hashed once."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        texts = column.cat.categories.to_numpy(dtype=object)
        hashed = pd.util.hash_array(texts) if len(texts) else np.zeros(1, dtype=np.uint64)
        return hashed[0] if len(hashed) == 1 else hashed[column.cat.codes.to_numpy()]
    if column.dtype.kind == "M":
        return column.to_numpy().astype("datetime64[s]").view(np.uint64)
    if column.dtype.kind not in "fi":
        return pd.util.hash_array(column.to_numpy(dtype=object))
    numbers = column.to_numpy(dtype=float) + 0.0  # so that minus zero is zero
    missing = np.isnan(numbers)
    if missing.all():
        return _NOTHING
    bits = numbers.view(np.uint64)
    if missing.any():
        bits[missing] = _NOTHING
    return bits


def row_keys(frame: pd.DataFrame, names: list[str]) -> np.ndarray:
    """Return a number for each row; equal rows (missing equals missing) have equal numbers, in other tables too."""
    keys = np.zeros(len(frame), dtype=np.uint64)
    for name in names:
        keys ^= _hashed(frame[name])
        keys *= _MIX
        keys ^= keys >> np.uint64(29)
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
    return again & whole_sales_again(keys, row_keys(frame, ["sale_date", "market"]), again)


def whole_sales_again(keys: np.ndarray, sales: np.ndarray, again: BoolArray) -> BoolArray:
    """Return the rows of sales all of whose rows come equally often, twice or more.

    Parameters
    ----------
    keys, sales : array of uint64, shape (n,)
        A number for each row, and for its sale.
    again : array of bool, shape (n,)
        Rows that stand above already.
    """
    touched = np.isin(sales, np.unique(sales[again]))
    counts = pd.DataFrame({"sale": sales[touched], "key": keys[touched]}).groupby(["sale", "key"]).size()
    by_sale = counts.groupby(level="sale").agg(["min", "max", "size"])
    whole = by_sale[
        (by_sale["min"] >= 2)
        & (by_sale["min"] == by_sale["max"])
        & (by_sale["size"] >= FEWEST_ROWS_OF_A_SALE)
    ]
    return np.isin(sales, whole.index.to_numpy())


def marked_preliminary(frame: pd.DataFrame) -> BoolArray:
    """Return the rows that their source called preliminary."""
    flags = frame["flags"].astype("category").cat
    marked = np.array(["preliminary" in str(flag) for flag in flags.categories], dtype=bool)
    return marked[flags.codes] if marked.any() else np.zeros(len(frame), dtype=bool)


def superseded(frame: pd.DataFrame) -> BoolArray:
    """Return the preliminary rows whose final row (same class, grade, head and weight) is in the same file."""
    preliminary = marked_preliminary(frame)
    if not preliminary.any():
        return preliminary
    keys = row_keys(frame, SAME_CLASS)
    return preliminary & np.isin(keys, keys[~preliminary])


def equal_lots(frame: pd.DataFrame) -> int:
    """Return how many rows equal another one above them, all told: in a list of single lots, lots of their own."""
    return int(pd.Series(row_keys(frame, SAME_ROW)).duplicated().sum())
