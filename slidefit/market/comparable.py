"""Past lots made comparable with today's prices, to be laid beside a fitted curve."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.market.outlook import STANDARD_HEAD, Outlook, grade_key
from slidefit.market.record_table import FrameTable, RecordTable

FloatArray = NDArray[np.float64]

RECENT_DAYS = 365
MOST_LOTS = 20_000
DRAW_SEED = 20_002


@dataclass(frozen=True)
class Comparable:
    """Recent lots at today's level.

    Attributes
    ----------
    lots : DataFrame
        ``sale_date``, ``market``, ``sex``, ``weight_lb``, ``head``, ``price_cwt`` [$/cwt].
    drawn : bool
        Whether whole sales were drawn at random, since the recent lots are too many to show.
    """

    lots: pd.DataFrame
    drawn: bool


def _recent(table: RecordTable, outlook: Outlook, days: int, most: int) -> tuple[pd.DataFrame, bool]:
    """Return the records of the last days, or of whole sales drawn among them, the same every time; and whether so."""
    since, until = outlook.as_of - timedelta(days=days), outlook.as_of
    recent = f"FROM tidy WHERE sale_date > DATE '{since}' AND sale_date <= DATE '{until}'"
    with table.opened() as connection:
        sales = connection.execute(
            f"SELECT sale_date, coalesce(market, '') AS barn, count(*) AS lots {recent} GROUP BY ALL ORDER BY ALL"
        ).df()
        share = most / max(float(sales["lots"].sum()), 1.0)
        if share < 1.0:
            sales = sales[np.random.default_rng(DRAW_SEED).random(len(sales)) < share]
        connection.register("shown", sales)
        found = connection.execute(
            "SELECT tidy.sale_date, tidy.market, sex, frame, muscle, head, weight_lb, price_cwt FROM tidy "
            "JOIN shown ON tidy.sale_date = shown.sale_date AND coalesce(market, '') = barn "
            f"ORDER BY tidy.sale_date, tidy.market, {table.order}"
        ).df()
    return found, share < 1.0


def comparable_prices(
    outlook: Outlook,
    records: pd.DataFrame | RecordTable,
    *,
    days: int = RECENT_DAYS,
    most: int = MOST_LOTS,
) -> Comparable:
    """Return recent lots at today's price level, in today's month, as the standard grade in a lot of 15.

    price today = curve today x exp(residual), the residual being the lot's distance from the curve of its own
    month, grade and lot size, with the median of its sale (market and day) taken off.

    Parameters
    ----------
    outlook : Outlook
    records : DataFrame or RecordTable
        Tidy sale records.
    days : int
        How far back from ``outlook.as_of``.
    most : int
        About as many lots are taken; of more, whole sales are drawn at random, always the same ones.

    Returns
    -------
    Comparable
        Lots of a sex, grade or weight that the outlook doesn't know are left out, as are sales of one lot.

    Notes
    -----
    The level of each sale is taken from its own lots, so the cloud shows the scatter within sales, not the
    uncertainty of the price level. The curve is in the points: they are not independent evidence of it.
    """
    table = FrameTable(records) if isinstance(records, pd.DataFrame) else records
    recent, drawn = _recent(table, outlook, days, most)
    fitted = replace(outlook, drift_slope=0.0)
    grades = [grade_key(*pair) for pair in zip(recent["frame"], recent["muscle"], strict=True)]
    known = recent["sex"].isin(list(outlook.curves)) & np.isin(grades, list(outlook.grades))
    usable = recent[known & (recent["price_cwt"] > 0) & recent["weight_lb"].notna()].reset_index(drop=True)
    inside = np.zeros(len(usable), dtype=bool)
    expected, today = np.full(len(usable), np.nan), np.full(len(usable), np.nan)
    heads = usable["head"].fillna(STANDARD_HEAD).clip(lower=1.0)
    for keys, lots in usable.groupby(["sale_date", "sex", "frame", "muscle"], sort=False):
        day, sex, frame, muscle = keys
        at = lots.index.to_numpy()
        weight = lots["weight_lb"].to_numpy(dtype=float)
        curve = outlook.curves[str(sex)]
        inside[at] = (weight >= curve.low_lb) & (weight <= curve.high_lb)
        then = fitted.log_relative(
            str(sex), weight, pd.Timestamp(str(day)).date(), frame=str(frame), muscle=str(muscle)
        )
        expected[at] = then + outlook.head_slope * np.log(heads.to_numpy()[at] / STANDARD_HEAD)
        today[at] = outlook.log_index([outlook.as_of])[0] + outlook.log_relative(
            str(sex), weight, outlook.as_of
        )
    residual = pd.Series(np.log(usable["price_cwt"].to_numpy(dtype=float)) - expected)
    sales = residual.groupby([usable["market"], usable["sale_date"]])
    kept = inside & (sales.transform("size") > 1).to_numpy()
    residual = residual - sales.transform("median")
    out = usable[["sale_date", "market", "sex", "weight_lb", "head"]].copy()
    out["price_cwt"] = np.exp(today + residual.to_numpy())
    return Comparable(out[kept].reset_index(drop=True), drawn)
