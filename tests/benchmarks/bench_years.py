"""Would grade discounts of their own for each crop year, pooled, price a fall better?

    python -m tests.benchmarks.bench_years SALES.csv [SALES.csv ...]

Year-out error of the fitted columns with and without an effect of each grade and crop year (normal around zero, its
spread by expectation and maximization; lots of a sale move together, so that errors by crop year are three times those
of independent lots, and the lots count for a ninth), on records and in simulated markets. The figures stand in
docs/method.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
import pandas as pd

import slidefit
from slidefit.market.fit.design import calves_of, design
from slidefit.market.fit.lots import crop_year
from slidefit.market.fit.slide_fit import fit_slide
from tests.market.coded import sorted_lots
from tests.market.simulate import Truth, simulate

COUNT_FOR = 9.0
GRADES = (("ML 1", 0.0, 0.6), ("ML 1-2", -0.04, 0.25), ("ML 2", -0.12, 0.15))


@dataclass
class Columns:
    """Columns and log prices less the mean of their sale, with row weights, crop year and grade."""

    names: tuple[str, ...]
    x: np.ndarray
    y: np.ndarray
    weight: np.ndarray
    sale: np.ndarray
    year: np.ndarray
    grade: np.ndarray


def less_sale_mean(values: np.ndarray, weight: np.ndarray, sale: np.ndarray) -> np.ndarray:
    """Return columns less their weighted mean in each sale."""
    total = np.maximum(np.bincount(sale, weight), 1e-300)
    means = [np.bincount(sale, weight * column) / total for column in values.T]
    return values - np.array(means).T[sale]


def columns_of(records: pd.DataFrame) -> Columns:
    """Return what the chosen model is fitted to."""
    lots = sorted_lots(records)
    within = fit_slide(lots).within
    calves = calves_of(within.recipe, lots, within.level)
    kept = calves.sex >= 0
    kept[within.dropped] = False
    weight = 1.0 / within.spread.variance(np.nan_to_num(lots.head, nan=15.0))[kept]
    sale = lots.sale[kept]
    both = np.column_stack([design(within.recipe, calves)[kept], lots.log_price[kept]])
    both = less_sale_mean(both, weight, sale)
    year, names = crop_year(lots.sale_day)[sale], within.recipe.names()
    return Columns(names, both[:, :-1], both[:, -1], weight, sale, year, calves.grade[kept])


def coefficients(given: Columns, rows: np.ndarray, *, by_year: bool) -> np.ndarray:
    """Return the coefficients of some rows, with an effect of each grade and year beside them or without."""
    x, y, weight, sale = given.x[rows], given.y[rows], given.weight[rows], given.sale[rows]
    fixed, years = x.shape[1], np.unique(given.year[rows])
    if by_year:
        cells = [(g, year) for g in range(1, given.grade.max() + 1) for year in years]
        own = np.column_stack([(given.grade[rows] == g) & (given.year[rows] == u) for g, u in cells])
        x = np.hstack([x, less_sale_mean(own.astype(float), weight, sale)])
    known, score = (x.T * weight) @ x / COUNT_FOR, (x.T * weight) @ y / COUNT_FOR
    variance, found = 0.02**2, np.zeros(x.shape[1])
    for _ in range(30 if by_year else 1):
        prior = np.r_[np.full(fixed, 1e-9), np.full(x.shape[1] - fixed, 1.0 / variance)]
        cov = np.linalg.pinv(known + np.diag(prior))
        found = cov @ score
        variance = float(np.mean(found[fixed:] ** 2 + np.diag(cov)[fixed:])) if by_year else variance
    return found[:fixed]


def year_out(given: Columns, *, by_year: bool, forward: bool) -> float:
    """Return the error of lots of a crop year that was not seen; ``forward`` learns from the years before it alone."""
    lost = total = 0.0
    for year in np.unique(given.year)[3 if forward else 0 :]:
        seen = given.year < year if forward else given.year != year
        coef, mine = coefficients(given, seen, by_year=by_year), given.year == year
        error = given.y[mine] - given.x[mine] @ coef
        lost, total = lost + given.weight[mine] @ error**2, total + given.weight[mine].sum()
    return float(np.sqrt(lost / total))


def simulated(seed: int, reporting: float, moves: tuple[float, float]) -> pd.DataFrame:
    """Return a market whose grades stray from year to year by ``reporting``, and move with the level by ``moves``."""
    truth = Truth(walk_sd_month=0.035, trend_year=0.08, grades=GRADES)
    market = simulate(seed, truth=truth, sales=225, lots=40, days_between=10)
    records, rng = market.records.copy(), np.random.default_rng(1000 + seed)
    day = records["sale_date"].to_numpy("datetime64[D]").astype(int)
    level, year = np.interp(day, market.day, market.level), crop_year(day)
    for muscle, move in zip(("1-2", "2"), moves, strict=True):
        strayed = rng.normal(0.0, reporting, int(np.ptp(year)) + 1)[year - year.min()]
        mine = (records["muscle"] == muscle).to_numpy()
        records.loc[mine, "price_cwt"] *= np.exp(strayed + move * (level - level.mean()))[mine]
    return records


def main() -> None:
    """Print both."""
    given = columns_of(slidefit.read(*sys.argv[1:], market="the barn").records)
    every = np.ones(len(given.y), dtype=bool)
    for by_year in (False, True):
        errors = [year_out(given, by_year=by_year, forward=forward) for forward in (False, True)]
        terms = dict(zip(given.names, coefficients(given, every, by_year=by_year).round(3), strict=True))
        print("by year" if by_year else "now", *(f"{each:.5f}" for each in errors))
        print({name: float(term) for name, term in terms.items() if name.startswith("level:grade")})
    for reporting, moves in ((0.03, (-0.1, -0.2)), (0.0, (-0.1, -0.2)), (0.03, (0.0, 0.0))):
        for by_year in (False, True):
            rows, misses = [], []
            for seed in range(6):
                market = columns_of(simulated(seed, reporting, moves))
                found = coefficients(market, np.ones(len(market.y), dtype=bool), by_year=by_year)
                rows.append([year_out(market, by_year=by_year, forward=forward) for forward in (False, True)])
                at = [market.names.index(f"level:grade ML {muscle}") for muscle in ("1-2", "2")]
                misses.append(found[at] - moves)
            print(
                reporting,
                moves,
                by_year,
                np.mean(rows, axis=0).round(5),
                np.sqrt(np.mean(np.square(misses))).round(4),
            )


if __name__ == "__main__":
    main()
