"""The lots that a fit uses: tidy records made into plain arrays, one row a lot, in order of sale."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.market.outlook import grade_key

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SEXES = ("steer", "heifer", "bull")
FIT_LOW_LB = 300.0
FIT_HIGH_LB = 900.0
CROP_YEAR_FIRST_MONTH = 7
MONTH_ONLY_SHIFT_DAYS = 14


@dataclass(frozen=True)
class Lots:
    """Arrays of the lots in a fit, all of shape (n,) unless said; sales ascend.

    Attributes
    ----------
    log_price : array [ln $/cwt]
    weight_lb : array [lb]
    head : array
        NaN where the source gave none.
    sex : array of int
        Index into `SEXES`.
    grade : array of int
        Index into ``grades``.
    traits : array of bool, shape (n, len(trait_names))
    sale : array of int
        Sale of the row: market and day (market and month where that is all there is).
    sale_market, sale_day : arrays, shape (s,)
        Market index and day (days since 1970-01-01) of each sale.
    """

    log_price: FloatArray
    weight_lb: FloatArray
    head: FloatArray
    sex: IntArray
    grade: IntArray
    traits: NDArray[np.bool_]
    sale: IntArray
    sale_market: IntArray
    sale_day: IntArray
    grades: tuple[str, ...]
    trait_names: tuple[str, ...]
    markets: tuple[str, ...]
    currency: str

    def __len__(self) -> int:
        return len(self.log_price)

    @property
    def sales(self) -> int:
        """Number of sales."""
        return len(self.sale_day)

    def take(self, rows: NDArray[np.bool_] | slice) -> Lots:
        """Return the marked rows or the slice; sales left without a row keep their number."""
        per_row = {f.name: getattr(self, f.name)[rows] for f in fields(self) if f.name in _PER_ROW}
        return replace(self, **per_row)

    def until(self, day: int) -> Lots:
        """Return what was known on a day (days since 1970-01-01): the sales up to it and nothing of later ones."""
        sales = int(np.searchsorted(self.sale_day, day, side="right"))
        past = self.take(slice(0, int(np.searchsorted(self.sale, sales))))
        return replace(past, sale_market=self.sale_market[:sales], sale_day=self.sale_day[:sales])


_PER_ROW = {"log_price", "weight_lb", "head", "sex", "grade", "traits", "sale"}


def crop_year(days: IntArray) -> IntArray:
    """Return the crop year (July to June, named by its first calendar year) of days since 1970.

    Examples
    --------
    >>> crop_year(np.array(["2026-06-30", "2026-07-01"], dtype="datetime64[D]").astype(int))
    array([2025, 2026])
    """
    month = np.asarray(days).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    return (month - (CROP_YEAR_FIRST_MONTH - 1)) // 12 + 1970


def day_of_year(days: IntArray) -> FloatArray:
    """Return days since the 1st of January of the same year."""
    stamp = np.asarray(days).astype("datetime64[D]")
    return np.asarray((stamp - stamp.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.float64))


def month_of_year(days: IntArray) -> IntArray:
    """Return the calendar month, 1 to 12."""
    return np.asarray(days).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12 + 1


def _one_currency(records: pd.DataFrame) -> str:
    currencies = sorted({c or "USD" for c in records["currency"].dropna().unique()})
    if len(currencies) > 1:
        counts = records["currency"].value_counts()
        told = ", ".join(f"{counts.get(c, 0):,} in {c}" for c in currencies)
        raise FitError(
            f"the records are in different currencies ({told})",
            remedy="Fit one currency at a time: narrow with --market, or undo the batch that does not belong.",
        )
    return currencies[0] if currencies else "USD"


def _trait_matrix(traits: pd.Series) -> tuple[NDArray[np.bool_], tuple[str, ...]]:
    spelled, code = np.unique(traits.fillna("").to_numpy(dtype=str), return_inverse=True)
    sets = [set(filter(None, (word.strip() for word in text.split(";")))) for text in spelled]
    names = tuple(sorted(set().union(*sets))) if sets else ()
    table = np.array([[name in found for name in names] for found in sets], dtype=bool)
    return table.reshape(len(spelled), len(names))[code], names


def lots_of(records: pd.DataFrame) -> Lots:
    """Return the lots that can carry a fit: steers, heifers and bulls of 300 to 900 lb.

    A record known by its month only is placed in the middle of that month.

    Parameters
    ----------
    records : DataFrame
        Tidy sale records, any order.

    Raises
    ------
    FitError
        No usable record, or more than one currency.
    """
    usable = (
        records["sex"].isin(SEXES)
        & records["weight_lb"].between(FIT_LOW_LB, FIT_HIGH_LB)
        & (records["price_cwt"] > 0)
        & records["sale_date"].notna()
    )
    rows = records.loc[usable]
    if rows.empty:
        raise FitError(
            f"none of the {len(records):,} records is a steer, heifer or bull of "
            f"{FIT_LOW_LB:.0f} to {FIT_HIGH_LB:.0f} lb with a date and a price",
            remedy="Add sale records of feeder calves, or widen --market, --since and --until.",
        )
    currency = _one_currency(rows)
    day = rows["sale_date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    day += np.where(rows["date_precision"].to_numpy(dtype=str) == "month", MONTH_ONLY_SHIFT_DAYS, 0)
    markets, market = np.unique(rows["market"].fillna("").to_numpy(dtype=str), return_inverse=True)
    keys, sale = np.unique(np.column_stack([day, market]), axis=0, return_inverse=True)
    sale = sale.reshape(-1)
    both = rows["frame"].fillna("").astype(str) + "|" + rows["muscle"].fillna("").astype(str)
    pairs, grade = np.unique(both.to_numpy(dtype=str), return_inverse=True)
    grades = [grade_key(*str(pair).split("|")) for pair in pairs]
    traits, trait_names = _trait_matrix(rows["traits"])
    order = np.argsort(sale, kind="stable")
    sex = pd.Categorical(rows["sex"], categories=list(SEXES)).codes.astype(np.int64)
    return Lots(
        log_price=np.log(rows["price_cwt"].to_numpy(dtype=float))[order],
        weight_lb=rows["weight_lb"].to_numpy(dtype=float)[order],
        head=rows["head"].to_numpy(dtype=float, na_value=np.nan)[order],
        sex=sex[order],
        grade=grade.astype(np.int64)[order],
        traits=traits[order],
        sale=sale.astype(np.int64)[order],
        sale_market=keys[:, 1],
        sale_day=keys[:, 0],
        grades=tuple(grades),
        trait_names=trait_names,
        markets=tuple(str(m) for m in markets),
        currency=currency,
    )
