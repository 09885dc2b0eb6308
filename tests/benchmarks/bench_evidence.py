"""The evidence behind the market model, worked out on sale records: the tables of docs/method.md.

    python -m tests.benchmarks.bench_evidence FILE.csv ...

The figures on the page are of the USDA AMS Market News reports of the Clovis, New Mexico, livestock auction, October
2017 to December 2023. Not part of the tests.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

import slidefit
from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.design import Recipe, calves_of, design, scaled_weight
from slidefit.market.fit.fixed_effects import FixedEffectsFit, fit_fixed_effects
from slidefit.market.fit.lots import Lots, crop_year
from tests.market.coded import sorted_lots

FloatArray = NDArray[np.float64]
Groups = NDArray[np.int64]
FOLDS = 10
HEAD_BINS = (1, 3, 6, 12, 25, 50, 100)


def demeaned(values: FloatArray, sale: Groups, weight: FloatArray) -> FloatArray:
    """Return columns less their weighted mean over the sale."""
    total = np.maximum(np.bincount(sale, weight), 1e-300)
    table = values.reshape(len(sale), -1)
    means = np.column_stack([np.bincount(sale, weight * column) / total for column in table.T])
    return np.asarray((table - means[sale]).reshape(values.shape))


def held_out(y: FloatArray, X: FloatArray, weight: FloatArray, group: Groups) -> FloatArray:
    """Return the errors of lots whose group was left out of the fit, everything already within sales."""
    root = np.sqrt(weight)
    error = np.full(len(y), np.nan)
    for each in np.unique(group):
        out = group == each
        coef, *_ = np.linalg.lstsq(X[~out] * root[~out, None], y[~out] * root[~out], rcond=None)
        error[out] = y[out] - X[out] @ coef
    return error


def rms(error: FloatArray) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.nanmean(error**2)))


def splits(lots: Lots) -> tuple[Groups, Groups]:
    """Return the fold of each lot by whole sales, and its crop year."""
    fold = np.random.default_rng(0).permutation(lots.sales) % FOLDS
    return fold[lots.sale], crop_year(lots.sale_day)[lots.sale]


def models(lots: Lots) -> Iterator[tuple[str, Recipe, Callable[[tuple[str, ...]], list[int]]]]:
    """Yield a name, a recipe and which of its columns are kept."""

    def keep(drop: Callable[[str], bool] = lambda name: False) -> Callable[[tuple[str, ...]], list[int]]:
        return lambda names: [place for place, name in enumerate(names) if not drop(name)]

    shapes = (
        ("straight line", "straight", 0),
        ("quadratic", "quadratic", 0),
        ("natural spline, 4 columns", "spline", 4),
    )
    for name, kind, columns in shapes:
        yield f"{name}, no season", recipe_for(lots, kind=kind, columns=columns), keep()
    one = recipe_for(lots, kind="spline", columns=4, harmonics=1)
    two = recipe_for(lots, kind="spline", columns=4, harmonics=2)
    full = recipe_for(lots, kind="spline", columns=4, harmonics=2, level=True)
    yield "spline 4, weight x 1 wave", one, keep(lambda n: n.endswith("1:weight^2"))
    yield "spline 4, (weight, weight^2) x 1 wave", one, keep()
    yield "spline 4, (weight, weight^2) x 2 waves", two, keep()
    yield "... and the price level", full, keep()
    yield "... without the size of the lot", full, keep(lambda n: n == "ln head")
    yield (
        "... without sex x weight",
        replace(full, sexes=full.sexes),
        keep(lambda n: ":weight" in n and "heifer" in n),
    )
    if len(full.grades) > 1:
        yield "... without grades", full, keep(lambda n: "grade " in n)


def curve_table(lots: Lots, base: FixedEffectsFit) -> None:
    """Print the error of each model, sales held out and crop years held out."""
    weight = 1.0 / base.spread.variance(lots.head)
    y = demeaned(lots.log_price, lots.sale, weight)
    fold, year = splits(lots)
    for name, recipe, keep in models(lots):
        X = design(recipe, calves_of(recipe, lots, base.level))[:, keep(recipe.names())]
        X = demeaned(X, lots.sale, weight)
        found = [rms(held_out(y, X, weight, group)) for group in (fold, year)]
        print(f"  {name:42s} {found[0]:.4f} {found[1]:.4f}", flush=True)


def log_or_dollars(lots: Lots, base: FixedEffectsFit) -> None:
    """Print the error in log points of a model of log price and of one of dollars, a crop year held out."""
    weight = 1.0 / base.spread.variance(lots.head)
    recipe = recipe_for(lots, kind="spline", columns=4, harmonics=2)
    X = demeaned(design(recipe, calves_of(recipe, lots, base.level)), lots.sale, weight)
    _, year = splits(lots)
    dollars = np.exp(lots.log_price)
    in_log = held_out(demeaned(lots.log_price, lots.sale, weight), X, weight, year)
    missed = held_out(demeaned(dollars, lots.sale, weight), X, weight, year)
    told = np.maximum(dollars - missed, 1.0)
    in_dollars = demeaned(lots.log_price - np.log(told), lots.sale, weight)
    print(f"  log {rms(in_log):.4f}, dollars {rms(in_dollars):.4f}")


def lot_sizes(lots: Lots, base: FixedEffectsFit) -> None:
    """Print the spread of lots about their sale by head."""
    recipe = base.recipe
    weight = 1.0 / base.spread.variance(lots.head)
    X = demeaned(design(recipe, calves_of(recipe, lots, base.level)), lots.sale, weight)
    error = held_out(demeaned(lots.log_price, lots.sale, weight), X, weight, splits(lots)[0])
    error[np.abs(error) > 8.0 / np.sqrt(weight)] = np.nan
    low = 0
    for high in HEAD_BINS:
        mine = (lots.head > low) & (lots.head <= high)
        print(f"  {low + 1} to {high} head: {rms(error[mine]):.3f} ({mine.sum():,} lots)")
        low = high


def grade_years(lots: Lots) -> None:
    """Print each grade's discount against the standard one by crop year."""
    recipe = replace(recipe_for(lots, kind="quadratic", harmonics=1))
    names = recipe.names()
    year = crop_year(lots.sale_day)[lots.sale]
    for grade in recipe.grades[1:]:
        at = names.index(f"grade {grade}")
        told = []
        for each in np.unique(year):
            part = lots.take(year == each)
            of = np.array(recipe.grade_of)[part.grade] == recipe.grades.index(grade)
            if of.sum() < 100:
                continue
            X = design(recipe, calves_of(recipe, part, np.zeros(part.sales)))
            X = demeaned(X, part.sale, np.ones(len(part)))
            y = demeaned(part.log_price, part.sale, np.ones(len(part)))
            coef, *_ = np.linalg.lstsq(X, y, rcond=None)
            told.append(f"{each}: {-100.0 * np.expm1(coef[at]):.1f}")
        print(f"  {grade}: {', '.join(told)}")


def beyond_the_data(lots: Lots, base: FixedEffectsFit) -> None:
    """Print the error at 800 to 850 lb of curves fitted to lots of 400 to 700 lb of the same sales."""
    x = scaled_weight(lots.weight_lb)
    knots = recipe_for(lots, kind="spline", columns=4).curves[0]
    shapes: dict[str, Callable[[FloatArray], FloatArray]] = {
        "straight": lambda v: v[:, None],
        "quadratic": lambda v: np.column_stack([v, v**2]),
        "natural spline": knots.rows,
        "log-quadratic": lambda v: np.column_stack([np.log(1 + v / 5.5), np.log(1 + v / 5.5) ** 2]),
    }
    seen = (lots.weight_lb >= 400) & (lots.weight_lb <= 700) & (lots.sex == 0)
    far = (lots.weight_lb >= 800) & (lots.weight_lb <= 850) & (lots.sex == 0)
    weight = np.where(seen, 1.0 / base.spread.variance(lots.head), 0.0)
    both = np.bincount(lots.sale, weight)[lots.sale] > 0
    weight = np.where(both, np.maximum(weight, 1e-12), 1.0)
    y = demeaned(lots.log_price, lots.sale, weight)
    for name, rows in shapes.items():
        X = demeaned(rows(x), lots.sale, weight)
        root = np.sqrt(weight[seen])
        coef, *_ = np.linalg.lstsq(X[seen] * root[:, None], y[seen] * root, rcond=None)
        miss = pd.Series((y - X @ coef)[far & both]).groupby(lots.sale[far & both]).mean()
        print(
            f"  {name}: {100 * rms(miss.to_numpy()):.1f}% (bias {100 * miss.mean():+.1f}, {len(miss)} sales)"
        )


def season(records: pd.DataFrame) -> None:
    """Print the season against October."""
    index = slidefit.fit(records).season().set_index("month")["index"]
    told = ", ".join(f"{month}: {100 * (index[month] / index[10] - 1):+.1f}%" for month in index.index)
    print(f"  {told}")


def main(files: list[str]) -> None:
    """Print every table."""
    read = [slidefit.read(file).records for file in files]
    records = pd.concat(read, ignore_index=True).assign(market="Clovis")
    one = records[
        (records["frame"] == "ML") & (records["muscle"] == "1") & records["sex"].isin(["steer", "heifer"])
    ]
    one = one[one["weight_lb"].between(300, 900)]
    for name, frame in (("medium and large 1, 300 to 900 lb", one), ("all grades", records)):
        lots = sorted_lots(frame)
        base = fit_fixed_effects(lots, recipe_for(lots, kind="spline", columns=4, harmonics=2, level=True))
        kept = np.ones(len(lots), dtype=bool)
        kept[base.dropped] = False
        lots = lots.take(kept)
        print(
            f"{name}: {len(lots):,} lots, {lots.sales} sales; error of a held-out lot in its sale: sales | crop years"
        )
        curve_table(lots, base)
        print("log price against dollars, a crop year held out (log points)")
        log_or_dollars(lots, base)
        print("spread of a lot in its sale by head")
        lot_sizes(lots, base)
        print("beyond the data: fitted to steers of 400 to 700 lb, error of a sale's mean at 800 to 850")
        beyond_the_data(lots, base)
    print("discount of grades by crop year, percent")
    grade_years(lots)
    print("season against October")
    season(records)


if __name__ == "__main__":
    main(sys.argv[1:])
