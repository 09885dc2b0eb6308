"""How good past forecasts were: error, bias, score, coverage and skill by months ahead, as a table and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import normal_cdf, normal_quantile
from slidefit.market.backtest import RIVALS, Backtest, month_day
from slidefit.market.months import MONTHS

FloatArray = NDArray[np.float64]

_SHARES_PCT = (50, 80, 95)
_GOOD_COVERAGE_PCT = (70.0, 90.0)
_SKILL_MARGIN_PCT = 2.0
_FEW_FORECASTS = 20


_PIT_FIFTHS = 5
_INTERVAL_DRAWS = 400
_INTERVAL_SEED = 20_026
WITH_INTERVAL = ("bias_pct", "rmse_pct", "crps_pct", "covered_80_pct", "walk_ratio")


def accuracy_rows(test: Backtest) -> list[dict[str, Any]]:
    """Return the record of past forecasts, a row for each number of months ahead.

        error = actual - forecast [log points x 100, about percent],   skill = 100 (1 - RMSE / RMSE of the simple one)

        CRPS of N(m, s) at x, z = (x - m) / s:   s (z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi))

    Returns
    -------
    list of dict
        ``months_ahead``, ``forecasts`` (their number: one for each sale of the month), ``bias_pct`` (positive: prices
        came in higher), ``rmse_pct``, ``crps_pct``,
        ``half_width_80_pct``, ``covered_50_pct``, ``covered_80_pct``, ``covered_95_pct``, ``pit_fifths`` (percent of
        prices in each fifth of their forecast, lowest first; 20 each where forecasts are honest), ``walk_ratio`` (RMSE
        of the month's mean with futures over that without; NaN without quotes), and ``skill_no_change_pct``,
        ``skill_last_year_pct``, ``skill_last_sale_pct``, ``skill_month_season_pct`` (positive: better than it, over
        the forecasts that both could make). ``_low`` and ``_high`` are 90 percent bounds from years drawn anew with
        replacement, for bias, RMSE, CRPS, coverage of 80 and the walk's ratio.

    Notes
    -----
    Sales of one month, and forecasts that start a month apart, share most of what came: their number overstates the
    evidence, and so do bounds from years, since one rise or fall can last for several.

    References
    ----------
    Gneiting and Raftery (2007), Strictly proper scoring rules, J. American Statistical Association 102(477).
    """
    return [_row(test, place) for place in range(test.actual.shape[1])]


def _row(test: Backtest, place: int) -> dict[str, Any]:
    """Return the row of one number of months ahead."""
    error, sd = test.actual[:, place] - test.forecast[:, place], test.sd[:, place]
    seen = np.isfinite(error)
    z = np.where(seen, error, 0.0) / np.where(seen, sd, 1.0)
    crps = sd * (z * (2.0 * normal_cdf(z) - 1.0) + np.sqrt(2.0 / np.pi) * np.exp(-0.5 * z**2) - np.pi**-0.5)
    row: dict[str, Any] = {"months_ahead": place + 1, "forecasts": int(seen.sum())}
    row["bias_pct"] = 100.0 * _mean(error[seen])
    row["rmse_pct"] = 100.0 * _rms(error[seen])
    row["crps_pct"] = 100.0 * _mean(crps[seen])
    row["half_width_80_pct"] = 100.0 * float(normal_quantile(0.9)) * _mean(sd[seen])
    for share in _SHARES_PCT:
        row[f"covered_{share}_pct"] = 100.0 * _mean(_inside(z, share)[seen])
    fifth = np.minimum((normal_cdf(z[seen]) * _PIT_FIFTHS).astype(int), _PIT_FIFTHS - 1)
    counts = np.bincount(fifth, minlength=_PIT_FIFTHS)
    row["pit_fifths"] = (100.0 * counts / max(int(seen.sum()), 1)).round(1).tolist()
    mine, plain = _monthly_error(test, test.forecast, place), _monthly_error(test, test.walk, place)
    row["walk_ratio"] = (
        _rms(mine[np.isfinite(mine)]) / _rms(plain[np.isfinite(plain)]) if test.has_futures else np.nan
    )
    for name in RIVALS:
        other = test.actual[:, place] - getattr(test, name)[:, place, None]
        both = seen & np.isfinite(other)
        base = _rms(other[both])
        row[f"skill_{name}_pct"] = 100.0 * (1.0 - _rms(error[both]) / base) if base > 0 else np.nan
    years = np.array([origin.month // MONTHS for origin in test.origins])
    return row | _bounds(years, error, crps, _inside(z, 80), mine, plain if test.has_futures else None)


def _inside(z: FloatArray, share: int) -> FloatArray:
    return np.asarray(np.abs(z) <= float(normal_quantile(0.5 + share / 200.0)), dtype=float)


def _monthly_error(test: Backtest, forecast: FloatArray, place: int) -> FloatArray:
    """Return the error of each month's mean, shape (n,); NaN where it had no sale."""
    error = test.actual[:, place] - forecast[:, place]
    seen = np.isfinite(error)
    total, count = np.where(seen, error, 0.0).sum(axis=1), seen.sum(axis=1)
    return np.asarray(np.divide(total, count, out=np.full(len(total), np.nan), where=count > 0))


def _bounds(
    years: NDArray[np.int64],
    error: FloatArray,
    crps: FloatArray,
    inside: FloatArray,
    mine: FloatArray,
    plain: FloatArray | None,
) -> dict[str, float]:
    """Return 90 percent bounds of the figures: the forecasts of whole calendar years drawn anew with replacement."""
    _, year = np.unique(years, return_inverse=True)
    count = int(year.max()) + 1
    seen = np.isfinite(error)

    def by_year(values: FloatArray, used: NDArray[np.bool_]) -> FloatArray:
        each = np.where(used, values, 0.0)
        return np.asarray(np.bincount(year, each.sum(axis=tuple(range(1, each.ndim))), count), dtype=float)

    sums = [by_year(v, seen) for v in (np.ones_like(error), error, error**2, crps, inside)]
    sums += [by_year(v**2, np.isfinite(v)) for v in (mine, mine if plain is None else plain)]
    draws = np.random.default_rng(_INTERVAL_SEED).multinomial(
        count, np.full(count, 1.0 / count), _INTERVAL_DRAWS
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        n, total, square, score, held, with_futures, without = (draws @ each for each in sums)
        figures = (
            100.0 * total / n,
            100.0 * np.sqrt(square / n),
            100.0 * score / n,
            100.0 * held / n,
            np.sqrt(with_futures / without) if plain is not None else np.full(len(n), np.nan),
        )
    found: dict[str, float] = {}
    for name, values in zip(WITH_INTERVAL, figures, strict=True):
        known = values[np.isfinite(values)]
        low, high = np.quantile(known, (0.05, 0.95)) if len(known) else (np.nan, np.nan)
        found |= {f"{name}_low": float(low), f"{name}_high": float(high)}
    return found


def _mean(values: FloatArray) -> float:
    return float(values.mean()) if len(values) else float("nan")


def _rms(values: FloatArray) -> float:
    return float(np.sqrt((values**2).mean())) if len(values) else float("nan")


def accuracy_notes(test: Backtest) -> tuple[str, ...]:
    """Return what the record of past forecasts says, in words, bad news first."""
    table = accuracy_rows(test)
    first, last = month_day(test.origins[0].month), month_day(test.origins[-1].month)
    notes = [
        f"{len(test.origins)} forecasts from {first:%Y-%m} to {last:%Y-%m}, each from the sales up to its month only; "
        "those a month apart share most of what came after them"
    ]
    if len(test.origins) < _FEW_FORECASTS:
        notes.append(f"{len(test.origins)} forecasts are few: a lucky or unlucky year decides the figures")
    low, high = _GOOD_COVERAGE_PCT
    held = {row["months_ahead"]: row["covered_80_pct"] for row in table}
    off = {months: share for months, share in held.items() if share < low or share > high}
    if off:
        told = ", ".join(f"{months} months: {share:.0f}" for months, share in off.items())
        notes.append(
            f"80 percent ranges that held fewer than {low:.0f} or more than {high:.0f} in 100 ({told})"
        )
    else:
        seen = [share for share in held.values() if np.isfinite(share)]
        notes.append(f"80 percent ranges held {min(seen):.0f} to {max(seen):.0f} times in 100")
    one_sided = [row for row in table if abs(row["bias_pct"]) > 0.5 * row["rmse_pct"]]
    if one_sided:
        way = "higher" if sum(row["bias_pct"] for row in one_sided) > 0 else "lower"
        notes.append(
            f"prices mostly came in {way} than forecast ({one_sided[-1]['bias_pct']:+.0f}% at "
            f"{one_sided[-1]['months_ahead']} months): the records are of a market that moved one way"
        )
    if test.has_futures:
        near = [row["walk_ratio"] for row in table[:3] if np.isfinite(row["walk_ratio"])]
        notes.append(
            f"with futures the error was {min(near):.2f} to {max(near):.2f} times that without at one to three "
            f"months; the next forecast gives them a share of {test.record.futures_share:.0%}"
        )
    notes.append(_skill_note(table, "skill_no_change_pct", "no change"))
    notes.append(_skill_note(table, "skill_last_sale_pct", "the last sale's price"))
    notes.append(_skill_note(table, "skill_month_season_pct", "last month's mean with the season"))
    notes.append(_skill_note(table, "skill_last_year_pct", "the same month last year"))
    return tuple(notes)


def _skill_note(table: Sequence[Mapping[str, Any]], column: str, other: str) -> str:
    skill = {row["months_ahead"]: row[column] for row in table if np.isfinite(row[column])}
    if not skill:
        return f"there is no year before to compare with {other}"
    better = [str(m) for m, s in skill.items() if s > _SKILL_MARGIN_PCT]
    worse = [str(m) for m, s in skill.items() if s < -_SKILL_MARGIN_PCT]
    parts = []
    if better:
        parts.append(
            f"beats {other} at {', '.join(better)} months ahead (by up to {max(skill.values()):.0f}%)"
        )
    if worse:
        parts.append(f"does worse than {other} at {', '.join(worse)} months ahead")
    return "the forecast " + " and ".join(parts) if parts else f"the forecast is no better than {other}"
