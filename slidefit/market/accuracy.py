"""How good past forecasts were: error, bias, coverage and skill by months ahead, as a table and in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from slidefit.market.backtest import Backtest, month_day

FloatArray = NDArray[np.float64]

SHARES_PCT = (50, 80, 95)
GOOD_COVERAGE_PCT = (70.0, 90.0)
SKILL_MARGIN_PCT = 2.0
FEW_FORECASTS = 20


def accuracy_table(test: Backtest) -> pd.DataFrame:
    """Return the record of past forecasts, a row for each number of months ahead.

        error = actual - forecast [log points x 100, about percent],   skill = 100 (1 - RMSE / RMSE of the simple one)

    Returns
    -------
    DataFrame
        ``months_ahead``, ``forecasts`` (their number: one for each sale of the month), ``bias_pct`` (positive: prices
        came in higher), ``rmse_pct``,
        ``half_width_80_pct``, ``covered_50_pct``, ``covered_80_pct``, ``covered_95_pct``, ``skill_no_change_pct``
        and ``skill_last_year_pct`` (positive: better than it, over the forecasts that both could make).

    Notes
    -----
    Sales of one month, and forecasts that start a month apart, share most of what came: their number overstates the
    evidence.
    """
    error = test.actual - test.forecast
    rows = []
    for place in range(error.shape[1]):
        mine, sd = error[:, place], test.sd[:, place]
        seen = np.isfinite(mine)
        row: dict[str, float] = {"months_ahead": place + 1, "forecasts": int(seen.sum())}
        row["bias_pct"] = 100.0 * _mean(mine[seen])
        row["rmse_pct"] = 100.0 * _rms(mine[seen])
        row["half_width_80_pct"] = 100.0 * float(ndtri(0.9)) * _mean(sd[seen])
        for share in SHARES_PCT:
            reach = float(ndtri(0.5 + share / 200.0))
            row[f"covered_{share}_pct"] = 100.0 * _mean(
                (np.abs(mine[seen]) <= reach * sd[seen]).astype(float)
            )
        for name, simple in (("no_change", test.no_change), ("last_year", test.last_year)):
            other = test.actual[:, place] - simple[:, place, None]
            both = seen & np.isfinite(other)
            row[f"skill_{name}_pct"] = _skill(mine[both], other[both])
        rows.append(row)
    return pd.DataFrame(rows).astype({"months_ahead": int, "forecasts": int})


def _mean(values: FloatArray) -> float:
    return float(values.mean()) if len(values) else float("nan")


def _rms(values: FloatArray) -> float:
    return float(np.sqrt((values**2).mean())) if len(values) else float("nan")


def _skill(mine: FloatArray, other: FloatArray) -> float:
    base = _rms(other)
    return 100.0 * (1.0 - _rms(mine) / base) if base > 0 else float("nan")


def accuracy_notes(test: Backtest) -> tuple[str, ...]:
    """Return what the record of past forecasts says, in words, bad news first."""
    table = accuracy_table(test).set_index("months_ahead")
    first, last = month_day(test.origins[0].month), month_day(test.origins[-1].month)
    notes = [
        f"{len(test.origins)} forecasts from {first:%Y-%m} to {last:%Y-%m}, each from the sales up to its month only; "
        "those a month apart share most of what came after them"
    ]
    if len(test.origins) < FEW_FORECASTS:
        notes.append(f"{len(test.origins)} forecasts are few: a lucky or unlucky year decides the figures")
    low, high = GOOD_COVERAGE_PCT
    off = table[(table["covered_80_pct"] < low) | (table["covered_80_pct"] > high)]
    if len(off):
        told = ", ".join(f"{m} months: {c:.0f}" for m, c in off["covered_80_pct"].items())
        notes.append(
            f"80 percent ranges that held fewer than {low:.0f} or more than {high:.0f} in 100 ({told})"
        )
    else:
        seen = table["covered_80_pct"]
        notes.append(f"80 percent ranges held {seen.min():.0f} to {seen.max():.0f} times in 100")
    one_sided = table[np.abs(table["bias_pct"]) > 0.5 * table["rmse_pct"]]
    if len(one_sided):
        way = "higher" if one_sided["bias_pct"].mean() > 0 else "lower"
        notes.append(
            f"prices mostly came in {way} than forecast ({one_sided['bias_pct'].iloc[-1]:+.0f}% at "
            f"{one_sided.index[-1]} months): the records are of a market that moved one way"
        )
    notes.append(_skill_note(table, "skill_no_change_pct", "no change"))
    notes.append(_skill_note(table, "skill_last_year_pct", "the same month last year"))
    return tuple(notes)


def _skill_note(table: pd.DataFrame, column: str, other: str) -> str:
    skill = table[column].dropna()
    if skill.empty:
        return f"there is no year before to compare with {other}"
    better = [str(m) for m, s in skill.items() if s > SKILL_MARGIN_PCT]
    worse = [str(m) for m, s in skill.items() if s < -SKILL_MARGIN_PCT]
    parts = []
    if better:
        parts.append(f"beats {other} at {', '.join(better)} months ahead (by up to {skill.max():.0f}%)")
    if worse:
        parts.append(f"does worse than {other} at {', '.join(worse)} months ahead")
    return "the forecast " + " and ".join(parts) if parts else f"the forecast is no better than {other}"
