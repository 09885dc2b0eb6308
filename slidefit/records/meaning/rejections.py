"""Rows not kept: misprints, subtotals, the same sale twice (near and far)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from slidefit.records.columns import (
    COLUMN_NAMES,
    REASON_CODES,
    BoolArray,
    FloatArray,
    IntArray,
    TextColumn,
    middles,
)
from slidefit.records.meaning.interpret import recaps, totals_of_others
from slidefit.records.reading.tables import Table
from slidefit.records.sale_levels import leveled, sales_of, unusual
from slidefit.records.words.fields import normal
from slidefit.records.words.numerals import is_missing

FEWEST_NEIGHBORS = 4
FEWEST_IN_FILE = 3
MOST_YEARS_TOGETHER = 2
WHOLE_FILE = 3  # place of the whole file among the neighborhoods
TOO_HIGH = float(np.log(2.0))
TOO_LOW = float(np.log(1.0 / 3.0))
TOO_LOW_FOR_LOW_GRADES = float(np.log(1.0 / 15.0))
FAR = 0.45
DOUBTFUL = float(np.log(1.6))
FITS_OTHER_UNIT = 0.35


@dataclass(frozen=True)
class PriceVerdict:
    """Which prices can't be true, which fit another unit better, and which are only far off."""

    implausible: BoolArray
    unit_doubtful: BoolArray
    far: BoolArray


def judge_prices(frame: pd.DataFrame, *, unit_said: bool) -> PriceVerdict:
    """Judge each price against the middle of its own sale, weight and sex taken into account.

    A sale with fewer than ``FEWEST_NEIGHBORS`` other prices is judged by the month, then the year, of the same
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
    lowest = np.where(unusual(frame), TOO_LOW_FOR_LOW_GRADES, TOO_LOW)
    implausible = (gap > TOO_HIGH) | (gap < lowest)
    doubtful = np.zeros(len(frame), dtype=bool)
    if not unit_said:
        by_head = np.abs(gap + np.log(100.0 / weight)) < FITS_OTHER_UNIT
        by_pound = np.abs(gap + np.log(100.0)) < FITS_OTHER_UNIT
        doubtful = ((gap > DOUBTFUL) & by_head) | (implausible & by_pound)
    return PriceVerdict(implausible & ~doubtful, doubtful, (np.abs(gap) > FAR) & ~implausible & ~doubtful)


def _gaps(frame: pd.DataFrame, level: FloatArray) -> FloatArray:
    """Return the level of each row less the middle of its sale, else of its month, its year or the file."""
    days = frame["sale_date"].to_numpy().astype("datetime64[D]")
    sales, first = sales_of(frame)
    money = TextColumn.held(frame["currency"]).codes[first].astype(np.int64)
    months, years = (days[first].astype(f"datetime64[{unit}]").astype(np.int64) for unit in "MY")
    keys: tuple[IntArray | None, ...] = (None, months * 100 + money, years * 100 + money, money)
    gap = np.zeros(len(frame))
    open_rows = np.ones(len(frame), dtype=bool)
    if np.ptp(years) > MOST_YEARS_TOGETHER:
        keys = keys[:-1]
    for place, key in enumerate(keys):
        groups = sales if key is None else np.unique(key, return_inverse=True)[1][sales]
        middle, count = middles(groups, level)
        fewest = FEWEST_NEIGHBORS if place < WHOLE_FILE else FEWEST_IN_FILE
        ready = open_rows & (count >= fewest)[groups]
        gap[ready] = level[ready] - middle[groups][ready]
        open_rows &= ~ready
        if not open_rows.any():
            break
    return gap


SAME_LOT = [
    "sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "weight_low_lb", "weight_high_lb",
]  # fmt: skip
_BESIDE = ["price_cwt", "price_low_cwt", "price_high_cwt", "traits", "currency"]
SAME_ROW = [*SAME_LOT, *_BESIDE]
SAME_CLASS = ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "traits", "currency"]
AVERAGES_SHARE = 0.02
FEWEST_ROWS_OF_A_SALE = 5
_MIX = np.uint64(0x9E3779B97F4A7C15)
_SALTS = dict(zip(COLUMN_NAMES, np.arange(1, 2 * len(COLUMN_NAMES), 2, dtype=np.uint64) * _MIX, strict=True))
_NOTHING = np.uint64(0x7FF8000000000000)


def _hashed(column: pd.Series, salt: np.uint64) -> np.ndarray:
    """Return a number for each value of a column, one for all where all are the same; a text is hashed once."""
    if column.dtype.kind not in "Mfi":
        texts = TextColumn.held(column)
        hashed = pd.util.hash_array(np.array(texts.values, dtype=object), categorize=False)
        hashed = _mixed(hashed, salt)
        return hashed if len(hashed) == 1 else hashed[texts.codes]
    if column.dtype.kind == "M":
        return _mixed(column.to_numpy().astype("datetime64[s]").view(np.uint64).copy(), salt)
    numbers = column.to_numpy(dtype=float) + 0.0  # so that minus zero is zero
    missing = np.isnan(numbers)
    bits = numbers.view(np.uint64)
    if missing.any():
        bits[missing] = _NOTHING
    return _mixed(bits[:1] if missing.all() else bits, salt)


def _mixed(bits: np.ndarray, salt: np.uint64) -> np.ndarray:
    """Return numbers each of whose digits depends on every digit of the given ones and of an odd salt; in place."""
    for factor in (salt, _MIX):
        bits ^= bits >> np.uint64(32)  # a whole number as float has its digits at the upper end
        bits *= factor
    bits ^= bits >> np.uint64(32)
    return bits


def row_keys(frame: pd.DataFrame, names: list[str], first: np.ndarray | None = None) -> np.ndarray:
    """Return a number for each row; equal rows (missing equals missing) have equal numbers, in other tables too.

    ``first`` are the keys of the names that go before.
    """
    keys = np.zeros(len(frame), dtype=np.uint64) if first is None else first.copy()
    for name in names:
        keys += _hashed(frame[name], _SALTS[name])
    return keys


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
    even = (by_sale["min"] >= 2) & (by_sale["min"] == by_sale["max"])
    whole = by_sale.index[even & (by_sale["size"] >= FEWEST_ROWS_OF_A_SALE)]
    return np.isin(sales, whole.to_numpy())


def pages_again(keys: np.ndarray) -> BoolArray:
    """Return the rows of a run of rows that stands above in the same order, as where a page was printed twice.

    >>> page = [1, 2, 3, 4, 5]
    >>> pages_again(np.array([*page, *page, 9, 9])).sum(), pages_again(np.array([7] * 12)).sum()
    (np.int64(5), np.int64(0))
    """
    places = pd.Series(np.arange(len(keys)))
    back = (places - places.groupby(keys).shift()).fillna(0).to_numpy()
    runs = np.cumsum(np.r_[True, back[1:] != back[:-1]]) - 1
    long = np.bincount(runs)[runs] >= FEWEST_ROWS_OF_A_SALE
    return np.asarray(long & (back >= FEWEST_ROWS_OF_A_SALE), dtype=bool)


def marked(frame: pd.DataFrame, flag: str) -> BoolArray:
    """Return the rows that carry a flag: their source called them preliminary, or corrected."""
    return TextColumn.held(frame["flags"]).bools(lambda text: flag in text.split(";"))


def equal_lots(frame: pd.DataFrame) -> int:
    """Return how many rows equal another one above them, all told: in a list of single lots, lots of their own."""
    return int(pd.Series(row_keys(frame, SAME_ROW)).duplicated().sum())


FEWEST_OF_ONE_LOT = 5.0  # head, from which an equal mean weight is no chance


def other_prices(frame: pd.DataFrame) -> list[tuple[int, int]]:
    """Return the rows, two by two, of lots of some head that are equal but for the price.

    In a file of single lots only: reports by class hold such rows for classes that differ in words left out.
    """
    if (frame["price_low_cwt"] < frame["price_high_cwt"]).any():
        return []
    part = frame[frame["head"] >= FEWEST_OF_ONE_LOT]
    keys = row_keys(part, [*SAME_CLASS, "weight_low_lb", "weight_high_lb"])
    if len(np.unique(keys)) == len(keys):
        return []
    rows = part.groupby(keys).agg(
        first=("source_row", "first"), last=("source_row", "last"), prices=("price_cwt", "nunique")
    )
    found = rows[rows["prices"] > 1]
    return [(int(first), int(last)) for first, last in zip(found["first"], found["last"], strict=True)]


def set_sums_aside(frame: pd.DataFrame, reason: np.ndarray, table: np.ndarray) -> None:
    """Find the rows still kept that sum up other tables, or all rows above them; reasons are written in place.

    Parameters
    ----------
    reason : array of int8, shape (n,)
        Codes of ``REASON_CODES``, zero for rows still kept.
    table : array of int, shape (n,)
        The number of the table that each row comes from.
    """
    kept = np.flatnonzero(reason == 0)
    part = frame.iloc[kept]
    group = pd.factorize(row_keys(part, ["sale_date", "market", "sex"]))[0]
    numbers = [part[name].to_numpy(dtype=float) for name in ("head", "weight_lb", "price_cwt")]
    sums = totals_of_others(numbers[0], numbers[1], numbers[2], group, table[kept])
    sums |= recaps(numbers[0], numbers[1], numbers[2], group)
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


def set_repeats_aside(frame: pd.DataFrame, reason: np.ndarray, lots: TextColumn) -> str:
    """Find what the rows still kept tell twice; reasons are written in place, and what is to be told is returned."""
    kept = np.flatnonzero(reason == 0)
    part = frame.iloc[kept]
    twice = ToldTwice()
    twice.see(part, lots.take(kept))
    for name, rows in twice.found([part]):
        reason[kept[rows]] = REASON_CODES[name]
    return twice.note


_LOT_NUMBERS = frozenset(["lot", "lot no", "lotno", "lot number", "lot id", "lot num", "ticket", "ticket no"])
_NUMBERED_SHARE = 0.5  # of lot numbers that stand once in their sale: below it they number something else
_NUMBERED_ROWS = 20_000


def lot_numbers(table: Table) -> TextColumn:
    """Return the number of the lot in each row; blank where no column, or more than one, has them."""
    lots = [at for at, heading in enumerate(table.headings) if normal(heading.text) in _LOT_NUMBERS]
    return table.columns[lots[0]] if len(lots) == 1 else TextColumn.constant("", len(table.rows))


@dataclass
class ToldTwice:
    """What a file tells twice, found over all its records, however far apart they stand.

    A preliminary row gives way to its final one, a row told before to the one that is called corrected (same class,
    grade, head and weight, or the same number of the lot), and a lot to the last of the same number, sale, class, head
    and weight with another price: without lot numbers nothing shows that two lots are one. In a file of class averages
    (a range of prices behind the mean, or no head) a row repeated to the letter is one report. In a list of single
    lots equal rows are two lots, unless a whole sale comes again: then every row of it comes equally often.
    """

    keys: list[np.ndarray] = field(default_factory=list)
    same_lot: list[np.ndarray] = field(default_factory=list)
    early: list[BoolArray] = field(default_factory=list)
    corrected: list[BoolArray] = field(default_factory=list)
    lots: list[TextColumn] = field(default_factory=list)
    numbered: bool = False
    ranged: int = 0
    headless: bool = True
    note: str = ""

    def see(self, frame: pd.DataFrame, lots: TextColumn) -> None:
        """Take in the next records, with the number of the lot of each."""
        self.same_lot.append(row_keys(frame, SAME_LOT))
        self.keys.append(row_keys(frame, _BESIDE, self.same_lot[-1]))
        self.numbered = self.numbered or (len(lots.values) > 1 and _number_lots(frame, lots))
        self.lots.append(lots if self.numbered else TextColumn.constant("", len(frame)))
        self.early.append(marked(frame, "preliminary"))
        self.corrected.append(marked(frame, "corrected"))
        self.ranged += int((frame["price_low_cwt"] < frame["price_high_cwt"]).sum())
        self.headless &= bool(frame["head"].isna().all())

    def found(self, frames: Iterable[pd.DataFrame]) -> Iterator[tuple[str, BoolArray]]:
        """Return each reason with the rows that it holds for, among all records seen.

        Parameters
        ----------
        frames : the records seen, in the same order; they are gone through anew when it is needed
        """
        if not self.keys:
            return
        gathered = (self.keys, self.early, self.corrected, self.same_lot)
        keys, early, corrected, same_lot = (np.concatenate(each) for each in gathered)
        alike = _twins(same_lot)
        gone = self._other_price(frames, same_lot, alike) | self._corrected_lots(frames, corrected)
        if early.any() or corrected.any():
            names = [name for name in SAME_CLASS if not (corrected.any() and name == "traits")]
            classes = np.concatenate([row_keys(frame, names) for frame in frames])
            gone |= early & np.isin(classes, classes[~early])
            gone |= ~corrected & np.isin(classes, classes[corrected])
        left = ~gone
        if gone.any():
            yield "superseded", gone
        again = np.zeros(len(keys), dtype=bool)
        again[left & alike] = _twins(keys[left & alike])
        if not again.any():
            return
        again[again] = pd.Series(keys[again]).duplicated().to_numpy()
        if not (self.headless or self.ranged > AVERAGES_SHARE * len(keys)):
            sales = np.concatenate([row_keys(frame, ["sale_date", "market"]) for frame in frames])
            again[left] &= whole_sales_again(keys[left], sales[left], again[left]) | pages_again(keys[left])
        yield "duplicate", again

    def _corrected_lots(self, frames: Iterable[pd.DataFrame], corrected: BoolArray) -> BoolArray:
        """Return the lots that come again as corrected by their number, which one other row of the sale has."""
        if not corrected.any() or not self.numbered:
            return np.zeros(len(corrected), dtype=bool)
        lots = np.concatenate([part.texts() for part in self.lots])
        sales = np.concatenate([row_keys(frame, SAME_LOT[:2]) for frame in frames])
        rows = pd.DataFrame({"lot": lots, "sale": sales, "late": corrected})
        rows["late_rows"] = rows.groupby(["lot", "sale"])["late"].transform("sum")
        rows["all"] = rows.groupby(["lot", "sale"])["late"].transform("size")
        one = (rows["all"] - rows["late_rows"] == 1) & (rows["late_rows"] > 0) & ~rows["late"]
        return (one & ~rows["lot"].map(is_missing)).to_numpy(dtype=bool)

    def _other_price(
        self, frames: Iterable[pd.DataFrame], same_lot: np.ndarray, alike: BoolArray
    ) -> BoolArray:
        """Return the lots that stand again further down by the same number with another price."""
        gone = np.zeros(len(alike), dtype=bool)
        if not self.numbered or not alike.any():
            return gone
        cuts = np.cumsum([len(part) for part in self.lots])[:-1]
        texts = [part.take(rows).texts() for part, rows in zip(self.lots, np.split(alike, cuts), strict=True)]
        price = np.concatenate([frame["price_cwt"].to_numpy(dtype=float) for frame in frames])[alike]
        same = pd.DataFrame({"lot": np.concatenate(texts), "key": same_lot[alike], "price": price})
        last = same.groupby(["lot", "key"])["price"].transform("last").to_numpy()
        gone[alike] = (price != last) & ~same["lot"].map(is_missing).to_numpy(dtype=bool)
        if gone.any():
            lots = "1 lot stands" if gone.sum() == 1 else f"{gone.sum()} lots stand"
            self.note = (
                f"{lots} again further down by the same number with another price; the last one counts"
            )
        return gone


def _number_lots(frame: pd.DataFrame, lots: TextColumn) -> bool:
    """Tell whether most numbers stand once in their sale: else they number something else, such as consignors."""
    texts = lots.take(np.arange(min(len(frame), _NUMBERED_ROWS))).texts()
    sales = row_keys(frame.head(_NUMBERED_ROWS), SAME_LOT[:2])
    distinct = pd.DataFrame({"lot": texts, "sale": sales}).drop_duplicates()
    return len(distinct) >= _NUMBERED_SHARE * len(texts)


def _twins(keys: np.ndarray) -> BoolArray:
    """Return the rows whose key stands more than once."""
    ordered = np.sort(keys)
    again = ordered[1:][ordered[1:] == ordered[:-1]]
    return pd.Series(keys).isin(again).to_numpy()


def rows_of(frames: Iterable[pd.DataFrame], chosen: BoolArray) -> IntArray:
    """Return the rows of the file behind the chosen records."""
    rows, start = [np.zeros(0, dtype=np.int64)], 0
    for frame in frames:
        rows.append(frame["source_row"].to_numpy()[chosen[start : start + len(frame)]])
        start += len(frame)
    return np.concatenate(rows).astype(np.int64)
