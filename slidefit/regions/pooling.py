"""Several markets partially pooled, and their region files: each the market's own fit, leaning on the region's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.market.fit.constants import MARKETS_SLIDE_SD, SHARED_STRAY
from slidefit.market.fit.prior import PooledSlope, between_sd, curve_slope, parabola
from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.market.outlook import STANDARD_WEIGHT_LB, UNGRADED, SexCurve
from slidefit.regions.from_fit import Provenance, discounted, months_seen, price_of, region_of, with_spread
from slidefit.regions.region import Pool, Region, SexTable
from slidefit.regions.region_outlook import at_price, outlook_of_region, shifted, slide_error

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class PooledSlide:
    """One market's slide of one sex at 550 lb [percent per cwt]: its own, and pooled with the region's.

    Attributes
    ----------
    own, own_se : float. By its own lots, the error with the straying of the weeks that it was seen.
    own_share : float. Share of its own slide in the pooled one.
    """

    market: str
    sex: str
    own: float
    own_se: float
    pooled: float
    pooled_se: float
    own_share: float
    lots: int

    @classmethod
    def of(cls, market: str, slope: PooledSlope) -> PooledSlide:
        """Return a slope as percent per cwt."""
        own, pooled = (float(np.exp(log)) for log in (slope.own, slope.pooled))
        return cls(
            market, slope.sex, 100.0 * (1.0 - own), 100.0 * own * slope.total_sd, 100.0 * (1.0 - pooled),
            100.0 * pooled * slope.sd, slope.share, slope.lots,
        )  # fmt: skip


@dataclass(frozen=True)
class PooledRegions:
    """Regions made by pooling.

    Attributes
    ----------
    regions : tuple of Region. Where markets were pooled among themselves, that of all of them first.
    pool_slides : mapping of sex to the pool's slide at 550 lb [percent per cwt]
    left_out : tuple of str. Markets without a sale of two usable lots.
    """

    regions: tuple[Region, ...]
    slides: tuple[PooledSlide, ...]
    pool_slides: dict[str, float]
    left_out: tuple[str, ...]


def error_cov(slopes: Sequence[tuple[PooledSlope, MarketFit]]) -> FloatArray:
    """Return the covariance of the errors of several markets' own slopes, shape (j, j).

    Each errs by its own lots, and by its slide's straying over the weeks seen; strayings of two markets correlate .68
    in the same weeks, so over periods that overlap in part

        cov_jk = .68 v_j v_k x (weeks in common) / sqrt(weeks_j x weeks_k)
    """
    first, last = (
        np.array([getattr(fit.basis, end).toordinal() for _, fit in slopes], dtype=float)
        for end in ("first_sale", "last_sale")
    )
    weeks = (last - first) / 7.0 + 1.0
    common = (np.minimum.outer(last, last) - np.maximum.outer(first, first)) / 7.0 + 1.0
    stray = np.array([slope.prior.stray_sd for slope, _ in slopes])
    together = (
        SHARED_STRAY * np.outer(stray, stray) * np.clip(common, 0.0, None) / np.sqrt(np.outer(weeks, weeks))
    )
    np.fill_diagonal(together, [slope.total_sd**2 for slope, _ in slopes])
    return np.asarray(together)


def markets_apart(fits: Sequence[MarketFit]) -> dict[str, float]:
    """Return for each sex how far the slides of markets truly differ [points per cwt], see `between_sd`."""
    found: dict[str, list[tuple[PooledSlope, MarketFit]]] = {}
    for fit in fits:
        for slope in fit.slide_fit.slopes:
            found.setdefault(slope.sex, []).append((slope, fit))
    return {
        sex: round(100.0 * between_sd([s.own for s, _ in pairs], error_cov(pairs), MARKETS_SLIDE_SD), 2)
        for sex, pairs in found.items()
    }


def pooled_regions(
    region: Region, records: Mapping[str, pd.DataFrame], provenance: Mapping[str, Provenance]
) -> PooledRegions:
    """Return the region of all markets and one for each, its slide pooled with that of all by how little it knows.

    Parameters
    ----------
    region : Region. Made from all the records together.
    """
    fits, left_out = {}, []
    for market, rows in records.items():
        try:
            fits[market] = fit_market(rows, defaults=outlook_of_region(region))
        except FitError:
            left_out.append(market)
    between = markets_apart(list(fits.values()))
    whole = region.model_copy(
        update={"pool": Pool(name=region.name, markets=max(len(fits), 1), between_pct=between)}
    )
    made = [
        _pooled_region(whole, market or f"{region.name}, no name", (market,), fit, provenance[market])
        for market, fit in fits.items()
    ]
    slides = tuple(
        PooledSlide.of(market, slope) for market, fit in fits.items() for slope in _leaning(whole, fit)
    )
    return PooledRegions((whole, *made), slides, _pool_slides(whole), tuple(left_out))


def region_toward(region: Region, name: str, records: pd.DataFrame, provenance: Provenance) -> PooledRegions:
    """Return one market's region: its own fit with a region's file as its prior, as `fit_market` makes it.

    Raises
    ------
    FitError. No sale of the records has two lots to compare.
    """
    fit = fit_market(records, defaults=outlook_of_region(region))
    markets = tuple(sorted({str(market) for market in records["market"]}))
    made = _pooled_region(region, name, markets, fit, provenance)
    slides = tuple(PooledSlide.of(name, slope) for slope in _leaning(region, fit))
    return PooledRegions((made,), slides, _pool_slides(region), ())


def _leaning(region: Region, fit: MarketFit) -> list[PooledSlope]:
    """Return a fit's slopes pooled with the region's, markets being as far apart as its file says."""
    apart = {sex: curve.between_cwt for sex, curve in outlook_of_region(region).curves.items()}
    return [
        replace(s, prior=replace(s.prior, between_sd=apart[s.sex]))
        for s in fit.slide_fit.slopes
        if s.sex in apart
    ]


def _pooled_region(
    region: Region, name: str, markets: tuple[str, ...], fit: MarketFit, provenance: Provenance
) -> Region:
    """Return a market's file with its pooled slides.

    Records that stand alone make a file as any fit does; thin ones the region's, at their own price. A sex that the
    market lacks keeps the region's slide with the spread between markets in its error.
    """
    alone = bool(fit.slide_fit.candidates)
    made = region_of(fit, name, provenance) if alone else _at_own_price(region, name, fit, provenance)
    slopes = {slope.sex: slope for slope in _leaning(region, fit)}
    fitted = {slope.sex: slope.pooled for slope in fit.slide_fit.slopes}
    wide = outlook_of_region(region).curves
    tables: dict[str, SexTable] = {}
    for sex, table in made.sexes().items():
        slope = slopes.get(sex)
        lent = 0.0 if alone else 100.0 * (slope.sd if slope else wide[sex].between_cwt)
        points = (
            np.zeros(len(table.slide)) if alone or not slope else _departure(fit, slope, wide[sex], table)
        )
        points = points + (100.0 * (fitted[sex] - slope.pooled) if slope else 0.0)
        near = 100.0 * slide_error(table, STANDARD_WEIGHT_LB) if slope and not alone else 0.0
        tables[sex] = shifted(table, points.tolist(), lent, near)
    pool = Pool(
        name=region.name,
        markets=region.pool.markets if region.pool else len(region.markets),
        between_pct={sex: round(100.0 * wide[sex].between_cwt, 2) for sex in slopes},
    )
    return made.model_copy(update={"markets": markets, "pool": pool, **tables})


def _departure(fit: MarketFit, slope: PooledSlope, curve: SexCurve, table: SexTable) -> FloatArray:
    """Return how much steeper a thin fit is than the region's parabola, step by step of weight [points per cwt]."""
    middle = np.array([0.5 * (a + b) for a, b, _, _ in table.steps()])
    up, down = (fit.model.rows(slope.sex, middle + side, level=fit.model.level_now) for side in (25.0, -25.0))
    there = slope.prior.target + slope.prior.level_slope * fit.model.level_now
    bend = parabola(curve)[1] * (middle - STANDARD_WEIGHT_LB) / 100.0
    return np.asarray(100.0 * (there + 2.0 * bend - 2.0 * (up - down) @ fit.model.coef))


def _at_own_price(region: Region, name: str, fit: MarketFit, provenance: Provenance) -> Region:
    """Return the region's file at a thin market's own price, with its own discounts of grades as far as it knows."""
    outlook, wide = fit.outlook(), outlook_of_region(region)
    sex, grade = fit.model.recipe.sexes[0], fit.model.recipe.grades[0]
    apart = wide.grades[grade].log_offset if grade in wide.grades else 0.0
    if sex in wide.curves:  # of the calf that the fit's price is for, against the region's standard one
        curve = wide.curves[sex]
        apart += float(np.interp(STANDARD_WEIGHT_LB, curve.weights_lb, curve.log_relative.mean(axis=0)))
    price = price_of(outlook, -apart, region.price.seen_cwt)
    basis = fit.basis
    source = region.source.model_copy(
        update={
            "first_sale": basis.first_sale, "last_sale": basis.last_sale, "lots": basis.lots, "head": basis.head,
            "sales": basis.sales, "months": months_seen(fit), "batches_sha256": provenance.batches_sha256,
            "made": provenance.made, "method": f"{region.source.method}; leans on {region.name}", "verdict": "",
        }
    )  # fmt: skip
    keys = {name: "" if name == UNGRADED else name for name in region.grades}
    sold = [name for name, key in keys.items() if key in fit.grade_place and key != grade]
    same = (grade or UNGRADED) == region.standard.grade
    own = {name: discounted(fit, keys[name], region.grades[name].slide_more) for name in sold if same}
    return at_price(region, price.standard_cwt).model_copy(
        update={
            "name": name, "price": price, "source": source, "grades": {**region.grades, **own},
            "forecast": with_spread(price, region.forecast),
            "noise": region.noise.model_copy(update={"slide_now_pct": 0.0, "slide_week_share": 0.0}),
        }
    )  # fmt: skip


def _pool_slides(region: Region) -> dict[str, float]:
    curves = outlook_of_region(region).curves
    return {sex: -100.0 * float(np.expm1(curve_slope(curve))) for sex, curve in curves.items()}
