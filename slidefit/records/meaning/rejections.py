"""Rows not kept: misprints, subtotals, the same sale twice (near and far)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd

from slidefit.records.columns import REASON_CODES, BoolArray, FloatArray, IntArray
from slidefit.records.meaning.interpret import totals_of_earlier
from slidefit.records.result import SpillBuffer

# what a rough market pays, in log points, only to put unlike calves of one sale side by side
ROUGH_SLIDE_CWT = -0.10
ROUGH_SEX = {"steer": 0.0, "mixed": -0.04, "heifer": -0.08, "bull": -0.10}
ROUGH_WEIGHTS_CWT = (2.0, 10.0)
FEWEST_NEIGHBOURS = 4
FEWEST_IN_FILE = 3
MOST_YEARS_TOGETHER = 2
WHOLE_FILE = 3  # place of the whole file among the neighbourhoods
TOO_HIGH = float(np.log(2.0))
TOO_LOW = float(np.log(1.0 / 3.0))
TOO_LOW_FOR_LOW_GRADES = float(np.log(1.0 / 15.0))
LOW_FRAMES = ("S", "MS")
LOW_MUSCLES = ("2-3", "3", "3-4", "4")
FAR = 0.45
DOUBTFUL = float(np.log(1.6))
FITS_OTHER_UNIT = 0.35


@dataclass(frozen=True)
class PriceVerdict:
    """Which prices can't be true, which fit another unit better, and which are only far off."""

    implausible: BoolArray
    unit_doubtful: BoolArray
    far: BoolArray


def leveled(weight_lb: FloatArray, sex: pd.Series) -> FloatArray:
    """Return what a rough market pays for weight and sex, in log points (zero for a 550-lb steer)."""
    coded = sex.astype("category").cat
    offsets = np.array([ROUGH_SEX.get(str(name), 0.0) for name in coded.categories])
    by_weight = ROUGH_SLIDE_CWT * (np.clip(weight_lb / 100.0, *ROUGH_WEIGHTS_CWT) - 5.5)
    return np.asarray(by_weight + offsets[coded.codes], dtype=np.float64)


def judge_prices(frame: pd.DataFrame, *, unit_said: bool) -> PriceVerdict:
    """Judge each price against the middle of its own sale, weight and sex taken into account.

    A sale with fewer than ``FEWEST_NEIGHBOURS`` other prices is judged by the month, then the year, of the same
    file. There is no fixed upper limit, since the level of prices has tripled within ten years. Calves of small
    frame or thin muscle really bring a fifth of what good ones do, so only far lower prices are disbelieved there.

    Parameters
    ----------
    frame : DataFrame of tidy rows
    unit_said : bool
        Whether the file names the unit; if not, a number that fits dollars a head or dollars a pound better is
        called doubtful.
    """
    weight, price = frame["weight_lb"].to_numpy(dtype=float), frame["price_cwt"].to_numpy(dtype=float)
    rough = leveled(weight, frame["sex"])
    gap = _gaps(frame, np.log(price) - rough)
    low_grade = frame["frame"].isin(LOW_FRAMES).to_numpy() | frame["muscle"].isin(LOW_MUSCLES).to_numpy()
    implausible = (gap > TOO_HIGH) | (gap < np.where(low_grade, TOO_LOW_FOR_LOW_GRADES, TOO_LOW))
    doubtful = np.zeros(len(frame), dtype=bool)
    if not unit_said:
        by_head = np.abs(gap + np.log(100.0 / weight)) < FITS_OTHER_UNIT
        by_pound = np.abs(gap + np.log(100.0)) < FITS_OTHER_UNIT
        doubtful = ((gap > DOUBTFUL) & by_head) | (implausible & by_pound)
    return PriceVerdict(implausible & ~doubtful, doubtful, (np.abs(gap) > FAR) & ~implausible & ~doubtful)


def _gaps(frame: pd.DataFrame, level: FloatArray) -> FloatArray:
    """Return each row's level less the middle level of its sale, or of the month, year or file when few sold."""
    days = frame["sale_date"].to_numpy().astype("datetime64[D]")
    market, currency = (
        frame["market"].astype("category").cat.codes,
        frame["currency"].astype("category").cat.codes,
    )
    money = currency.to_numpy().astype(np.int64)
    keys: tuple[IntArray, ...] = (
        (days.astype(np.int64) * 100_000 + market.to_numpy()) * 100 + money,
        days.astype("datetime64[M]").astype(np.int64) * 100 + money,
        days.astype("datetime64[Y]").astype(np.int64) * 100 + money,
        money,
    )
    gap = np.zeros(len(frame))
    open_rows = np.ones(len(frame), dtype=bool)
    if np.ptp(days.astype("datetime64[Y]").astype(np.int64)) > MOST_YEARS_TOGETHER:
        keys = keys[:-1]
    for place, key in enumerate(keys):
        if not open_rows.any():
            break
        fewest = FEWEST_NEIGHBOURS if place < WHOLE_FILE else FEWEST_IN_FILE
        middle, count = _middles(key, level)
        ready = open_rows & (count >= fewest)
        gap[ready] = level[ready] - middle[ready]
        open_rows &= ~ready
    return gap


def _middles(key: IntArray, level: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the median level and the count of the group of each row."""
    groups, _ = pd.factorize(key)
    middle = np.asarray(pd.Series(level).groupby(groups).median(), dtype=np.float64)
    counts = np.bincount(groups).astype(np.int64)
    return middle[groups], counts[groups]


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


def marked(frame: pd.DataFrame, flag: str) -> BoolArray:
    """Return the rows that carry a flag: their source called them preliminary, or corrected."""
    flags = frame["flags"].astype("category").cat
    marked = np.array([flag in str(text).split(";") for text in flags.categories], dtype=bool)
    return marked[flags.codes] if marked.any() else np.zeros(len(frame), dtype=bool)


def superseded(frame: pd.DataFrame) -> BoolArray:
    """Return the rows that a later word of the same file replaces: same class, grade, head and weight.

    A preliminary row gives way to its final one, a row told before to the one that is called corrected.
    """
    preliminary, corrected = marked(frame, "preliminary"), marked(frame, "corrected")
    if not (preliminary.any() or corrected.any()):
        return preliminary
    keys = row_keys(
        frame, [name for name in SAME_CLASS if name != "traits"] if corrected.any() else SAME_CLASS
    )
    return (preliminary & np.isin(keys, keys[~preliminary])) | (~corrected & np.isin(keys, keys[corrected]))


def equal_lots(frame: pd.DataFrame) -> int:
    """Return how many rows equal another one above them, all told: in a list of single lots, lots of their own."""
    return int(pd.Series(row_keys(frame, SAME_ROW)).duplicated().sum())


def set_sums_aside(frame: pd.DataFrame, reason: np.ndarray, table: np.ndarray) -> None:
    """Find the rows still kept that sum up earlier tables of the file; reasons are written in place.

    Parameters
    ----------
    reason : array of int8, shape (n,)
        Codes of ``reasons.REASON_CODES``, zero for rows still kept.
    table : array of int, shape (n,)
        The number of the table that each row comes from.
    """
    kept = np.flatnonzero(reason == 0)
    part = frame.iloc[kept]
    group = pd.factorize(row_keys(part, ["sale_date", "market", "sex"]))[0]
    numbers = [part[name].to_numpy(dtype=float) for name in ("head", "weight_lb", "price_cwt")]
    sums = totals_of_earlier(numbers[0], numbers[1], numbers[2], group, table[kept])
    reason[kept[sums]] = REASON_CODES["summary_row"]


def set_misprints_aside(frame: pd.DataFrame, reason: np.ndarray, *, unit_said: bool) -> None:
    """Find implausible prices among the rows still kept; reasons and flags are written in place."""
    kept = np.flatnonzero(reason == 0)
    if not len(kept):
        return
    verdict = judge_prices(frame if len(kept) == len(frame) else frame.iloc[kept], unit_said=unit_said)
    reason[kept[verdict.implausible]] = REASON_CODES["implausible_price"]
    reason[kept[verdict.unit_doubtful]] = REASON_CODES["unit_doubtful"]
    far = kept[verdict.far]
    if len(far):
        flags = frame["flags"].astype("str").to_numpy(dtype=object)
        flags[far] = [";".join(sorted({*filter(None, text.split(";")), "price_far"})) for text in flags[far]]
        frame["flags"] = pd.Categorical(flags)


def set_repeats_aside(frame: pd.DataFrame, reason: np.ndarray) -> None:
    """Find preliminary rows with their final ones, and repeats, among the rows still kept; reasons in place."""
    for name, test in (("superseded", superseded), ("duplicate", repeated)):
        kept = np.flatnonzero(reason == 0)
        if len(kept):
            reason[kept[test(frame.iloc[kept])]] = REASON_CODES[name]


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
        self.preliminary |= bool(marked(frame, "preliminary").any())

    def repeats(self, spool: SpillBuffer) -> Iterator[FarRepeat]:
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

    def _superseded(self, spool: SpillBuffer) -> IntArray:
        """Return the preliminary rows whose final row is anywhere in the file."""
        keys = np.concatenate([row_keys(frame, SAME_CLASS) for frame in spool])
        early = np.concatenate([marked(frame, "preliminary") for frame in spool])
        return _rows_of(spool, early & np.isin(keys, keys[~early]))


def _any_equal(keys: np.ndarray) -> bool:
    """Tell whether two numbers are equal."""
    ordered = np.sort(keys)
    return bool((ordered[1:] == ordered[:-1]).any())


def _whole_sales(spool: SpillBuffer, keys: np.ndarray, again: BoolArray) -> BoolArray:
    """Return the rows of sales that come again as a whole."""
    sales = np.concatenate([row_keys(frame, ["sale_date", "market"]) for frame in spool])
    return whole_sales_again(keys, sales, again)


def _rows_of(spool: SpillBuffer, chosen: BoolArray) -> IntArray:
    """Return the rows of the file behind the chosen records."""
    rows, start = [], 0
    for frame in spool:
        rows.append(frame["source_row"].to_numpy()[chosen[start : start + len(frame)]])
        start += len(frame)
    return np.concatenate(rows).astype(np.int64)
