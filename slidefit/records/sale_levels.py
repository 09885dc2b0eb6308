"""The level of each sale beside the sales around it: a sale in another unit stands out by more than a factor of two."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import cast

import duckdb
import numpy as np
import pandas as pd

from slidefit.records.book.book_file import opened
from slidefit.records.columns import BoolArray, FloatArray, IntArray, TextColumn, middles, numbered

# what a rough market pays, only to put unlike calves of one sale side by side (common practice, no source): log points
# for each hundredweight, and beside steers
ROUGH_SLIDE_CWT = -0.10
ROUGH_SEX = {"steer": 0.0, "mixed": -0.04, "heifer": -0.08, "bull": -0.10}
ROUGH_WEIGHTS_CWT = (2.0, 10.0)
# calves of small frame or thin muscle bring a fraction of what good ones do
LOW_FRAMES = ("S", "MS")
LOW_MUSCLES = ("2-3", "3", "3-4", "4")
# In 1,642 sales of real and of demonstration records the widest gap to the sales around was .17 log points, a factor
# of 1.2; the mildest slip of a unit (dollars a head of the lightest calves read as $/cwt) is a factor of three.
MOST_FACTOR = 2.0
NEIGHBORS_A_SIDE = 6
FEWEST_NEIGHBORS = 3
FARTHEST_DAYS = 400  # within a year a market has gone up by half at most; over ten years it has tripled
MANY_ALIKE = 6  # as many as one side's neighbors: then nobody can tell which side is right
SALE = ("sale_date", "market", "currency")
_SLIPS = (
    (0.01, "dollars a pound"),
    (2.20462262, "a price per kilogram"),
    (0.1, "a lost decimal point"),
    (10.0, "a lost decimal point"),
    (100.0, "cents"),
)
ALIKE = 0.35  # log points


@dataclass(frozen=True)
class OffSale:
    """A sale whose level is ``factor`` times that of the sales around it; ``like`` is the slip that it looks like."""

    day: date
    market: str
    currency: str
    rows: int
    factor: float
    like: str

    def told(self) -> str:
        """Return the sale and how far it is off, in words."""
        where, like = (
            f" at {self.market}" if self.market else "",
            f", as {self.like} would be" if self.like else "",
        )
        return (
            f"the sale of {self.day}{where} ({self.rows} rows): its prices are {self.factor:.3g} times those of the "
            f"sales around it{like}"
        )


def hold_two_units(off: Sequence[OffSale]) -> bool:
    """Tell whether so many sales are off, or some too high and some too low, that no one can tell which are right."""
    return len(off) >= MANY_ALIKE or len({sale.factor > 1.0 for sale in off}) > 1


def leveled(weight_lb: FloatArray, sex: pd.Series) -> FloatArray:
    """Return what a rough market pays for weight and sex, in log points (zero for a 550-lb steer)."""
    by_weight = ROUGH_SLIDE_CWT * (np.clip(weight_lb / 100.0, *ROUGH_WEIGHTS_CWT) - 5.5)
    return by_weight + TextColumn.held(sex).floats(lambda name: ROUGH_SEX.get(name, 0.0))


def unusual(frame: pd.DataFrame) -> BoolArray:
    """Return the rows of small frame or thin muscle."""
    small = TextColumn.held(frame["frame"]).bools(LOW_FRAMES.__contains__)
    return small | TextColumn.held(frame["muscle"]).bools(LOW_MUSCLES.__contains__)


def sales_of(frame: pd.DataFrame) -> tuple[IntArray, IntArray]:
    """Return the number of each row's sale (day, market and money), and the first row of each sale."""
    days = frame["sale_date"].to_numpy().astype("datetime64[s]").astype(np.int64) // 86_400
    texts = [TextColumn.held(frame[name]) for name in SALE[1:]]
    first = int(days.min()) if len(days) else 0
    sizes = [int(np.ptp(days)) + 1 if len(days) else 1, *(len(column.values) for column in texts)]
    return numbered([days - first, *(column.codes for column in texts)], sizes)


def sale_levels(frame: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each sale: its key, the middle level of its usual calves [log $/cwt], mean weight, rows.

    Calves of small frame or thin muscle bring a fraction of what good ones do, so they say nothing of a sale's level.
    """
    odd = unusual(frame)
    part = frame[~odd] if odd.any() else frame
    weight = part["weight_lb"].to_numpy(dtype=float)
    groups, first = sales_of(part)
    middle, rows = middles(
        groups, np.log(part["price_cwt"].to_numpy(dtype=float)) - leveled(weight, part["sex"])
    )
    texts = {
        name: pd.array(TextColumn.held(part[name]).take(first).texts(), dtype="str") for name in SALE[1:]
    }
    numbers = {"level": middle, "weight_lb": np.bincount(groups, weight) / rows, "rows": rows}
    return pd.DataFrame({"sale_date": part["sale_date"].to_numpy()[first], **texts, **numbers})


_LIGHT, _HEAVY = ROUGH_WEIGHTS_CWT
_BY_SEX = " ".join(f"WHEN '{sex}' THEN {offset}" for sex, offset in ROUGH_SEX.items())
# the same rough market as `leveled`, in SQL
_BY_WEIGHT = f"{ROUGH_SLIDE_CWT} * (least(greatest(weight_lb / 100, {_LIGHT}), {_HEAVY}) - 5.5)"
_ROUGH = f"({_BY_WEIGHT} + CASE sex {_BY_SEX} ELSE 0 END)"
_LOW = " OR ".join(
    f"{name} IN ({', '.join(map(repr, codes))})"
    for name, codes in (("frame", LOW_FRAMES), ("muscle", LOW_MUSCLES))
)


def book_levels(
    connection: duckdb.DuckDBPyConnection, days: tuple[pd.Timestamp, pd.Timestamp]
) -> pd.DataFrame:
    """Return the same table of the sales in a book that are near some days."""
    reach = pd.Timedelta(days=FARTHEST_DAYS)
    found = connection.execute(
        f"SELECT sale_date, market, currency, median(ln(price_cwt) - {_ROUGH}) AS level, avg(weight_lb) AS weight_lb, "
        f"count(*) AS rows FROM sales WHERE sale_date BETWEEN ? AND ? AND NOT ({_LOW}) GROUP BY ALL",
        [days[0] - reach, days[1] + reach],
    ).df()
    return found.astype({"market": "str", "currency": "str", "sale_date": "datetime64[s]"})


def off_sales(sales: pd.DataFrame, around: pd.DataFrame | None = None) -> list[OffSale]:
    """Return the sales whose level is more than twice, or less than half, the middle of those around them.

    Parameters
    ----------
    sales : DataFrame
        As from `sale_levels`.
    around : DataFrame, optional
        The sales to hold them against, as from `book_levels`; by default each other.

    Examples
    --------
    >>> days = pd.to_datetime([f"2026-10-{day:02d}" for day in (1, 8, 15, 22)])
    >>> levels = pd.DataFrame({"sale_date": days, "market": "Fen", "currency": "USD", "rows": 9, "weight_lb": 500.0})
    >>> [(sale.day.day, round(sale.factor, 3), sale.like) for sale in off_sales(levels.assign(level=[6.0, 6, 1.4, 6]))]
    [(15, 0.01, 'dollars a pound')]
    """
    found = []
    for currency, own in sales.groupby("currency", sort=True):
        others = own if around is None else around[around["currency"] == currency]
        gaps = _gaps(own, others.sort_values("sale_date", kind="stable"), itself=around is None)
        for place in np.flatnonzero(np.abs(gaps) > np.log(MOST_FACTOR)):
            sale = own.iloc[int(place)]
            gap, weight = float(gaps[place]), float(sale["weight_lb"])
            found.append(
                OffSale(
                    sale["sale_date"].date(), sale["market"], str(currency), int(sale["rows"]), float(np.exp(gap)),
                    _like(gap, weight),
                )
            )  # fmt: skip
    return sorted(found, key=lambda sale: (sale.day, sale.market))


def _gaps(own: pd.DataFrame, others: pd.DataFrame, *, itself: bool) -> FloatArray:
    """Return the level of each sale less the middle of its neighbors; zero where there are too few."""
    if others.empty:
        return np.zeros(len(own))
    days, levels = _days(others), others["level"].to_numpy(dtype=float)
    own_days, own_levels = _days(own), own["level"].to_numpy(dtype=float)
    middle = np.searchsorted(days, own_days)[:, None]
    near: list[FloatArray] = []
    for steps in (-1 - np.arange(NEIGHBORS_A_SIDE + 1), np.arange(NEIGHBORS_A_SIDE + 1)):
        at = middle + steps  # one more than are wanted, since the sale itself may be among them
        there = (at >= 0) & (at < len(days))
        at = np.clip(at, 0, len(days) - 1)
        if itself:
            there &= others.index.to_numpy()[at] != own.index.to_numpy()[:, None]
        there &= np.cumsum(there, axis=1) <= NEIGHBORS_A_SIDE
        there &= np.abs(days[at] - own_days[:, None]) <= FARTHEST_DAYS
        near.append(np.where(there, levels[at], np.inf))
    ordered = np.sort(np.hstack(near), axis=1)
    count = np.isfinite(ordered).sum(axis=1)
    rows, last = np.arange(len(own)), np.maximum(count - 1, 0)
    enough = count >= FEWEST_NEIGHBORS
    ordered[~enough] = 0.0
    middles = 0.5 * (ordered[rows, last // 2] + ordered[rows, (last + 1) // 2])
    return np.where(enough, own_levels - middles, 0.0)


def _days(sales: pd.DataFrame) -> IntArray:
    return sales["sale_date"].to_numpy().astype("datetime64[D]").astype(np.int64)


def _like(gap: float, weight_lb: float) -> str:
    slips = [*_SLIPS, (weight_lb / 100.0, "dollars a head")]
    factor, like = min(slips, key=lambda slip: abs(gap - np.log(slip[0])))
    return like if abs(gap - np.log(factor)) < ALIKE else ""


class LevelsSeen:
    """The sales of a file, gathered piece by piece; a sale cut by the end of a piece counts by its larger part."""

    def __init__(self) -> None:
        self.levels: list[pd.DataFrame] = []

    def see(self, frame: pd.DataFrame) -> None:
        """Take in the next records."""
        if len(frame):
            self.levels.append(sale_levels(frame))

    def off(self, around: pd.DataFrame | None = None) -> list[OffSale]:
        """Return the sales that are off, beside those of a book if given."""
        if not self.levels:
            return []
        every = pd.concat(self.levels, ignore_index=True).sort_values("rows", kind="stable")
        return off_sales(every.drop_duplicates(list(SALE), keep="last").reset_index(drop=True), around)


def rows_of_sales(frames: Iterable[pd.DataFrame], sales: Sequence[OffSale]) -> BoolArray:
    """Return which of the records belong to some sales."""
    wanted = pd.MultiIndex.from_tuples(
        [(pd.Timestamp(s.day), s.market, s.currency) for s in sales], names=SALE
    )
    found = [np.zeros(0, dtype=bool)]
    for frame in frames:
        days = pd.to_datetime(frame["sale_date"].to_numpy().astype("datetime64[s]"))
        keys = pd.MultiIndex.from_arrays(
            [days, frame["market"].astype("str"), frame["currency"].astype("str")]
        )
        found.append(keys.isin(wanted))
    return np.concatenate(found)


@dataclass(frozen=True)
class WeightPrices:
    """Prices [$/cwt] of one hundred pounds of weight: how many rows, the middle, and the range of nine in ten.

    ``book_rows`` and the book's range are of the same weight and money within ``FARTHEST_DAYS``; zero rows where the
    book has none.
    """

    low_lb: int
    currency: str
    rows: int
    middle: float
    low: float
    high: float
    book_rows: int = 0
    book_low: float = float("nan")
    book_high: float = float("nan")


_MOST_OF = (0.05, 0.95)  # nine in ten: the range that a person would call usual


def prices_by_weight(frame: pd.DataFrame, book: str | Path) -> tuple[WeightPrices, ...]:
    """Return the prices of new records by weight beside those of a book: a wrong unit is seen before it is added."""
    if frame.empty:
        return ()
    held: dict[tuple[int, str], tuple[int, float, float]] = {}
    if Path(book).exists():
        reach = pd.Timedelta(days=FARTHEST_DAYS)
        with opened(Path(book), write=False) as connection:
            found = connection.execute(
                f"SELECT CAST(floor(weight_lb / 100) AS INTEGER) * 100, currency, count(*), "
                f"quantile_cont(price_cwt, {list(_MOST_OF)}) FROM sales WHERE sale_date BETWEEN ? AND ? GROUP BY ALL",
                [frame["sale_date"].min() - reach, frame["sale_date"].max() + reach],
            ).fetchall()
        held = {(low, money): (rows, *ends) for low, money, rows, ends in found}
    classes = (frame["weight_lb"] // 100 * 100).astype(int)
    groups = frame["price_cwt"].groupby([classes, frame["currency"].astype("str")])
    return tuple(
        WeightPrices(
            low, money, len(prices), float(prices.median()),
            float(prices.quantile(_MOST_OF[0])), float(prices.quantile(_MOST_OF[1])),
            *held.get((low, money), (0, np.nan, np.nan)),
        )
        for (low, money), prices in cast("Iterable[tuple[tuple[int, str], pd.Series[float]]]", groups)
    )  # fmt: skip
