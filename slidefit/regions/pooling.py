"""Several markets partially pooled, and their region files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from slidefit.errors import FitError
from slidefit.market.months import month_weights
from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.regions.from_fit import Provenance, with_spread
from slidefit.regions.region import Pool, Price, Region, SexTable
from slidefit.regions.region_outlook import season_of, shifted
from slidefit.regions.slope_difference import OwnMarket, Tilt, own_market

FloatArray = NDArray[np.float64]

USUAL_BETWEEN = 1.5
USUAL_MARKETS = 2.0
SHARED_STRAY = 0.68
"""Correlation of how two barns' slides stray in one year, measured on real records of two states."""
DAYS_PER_WEEK = 7.0


@dataclass(frozen=True)
class Pooled:
    """One quantity of several markets, pooled; arrays have shape (j,), all in the unit of the estimates.

    Attributes
    ----------
    mean, mean_se : float
        Of the markets' distribution, and its standard error.
    between : float
        Standard deviation of the true values from market to market.
    own_share : array
        Share of each market's own estimate in its pooled one, 0 to 1.
    estimate, se : array
    """

    mean: float
    mean_se: float
    between: float
    own_share: FloatArray
    estimate: FloatArray
    se: FloatArray


def between_sd(own: ArrayLike, error_cov: ArrayLike) -> float:
    """Return how far markets truly differ, by Paule and Mandel's equation, settled with a usual value.

    The tau^2 at which (y - mean)' (C + tau^2 I)^-1 (y - mean) = J - 1, zero where even tau = 0 leaves less; then

        tau^2 = ((J - 1) tau_PM^2 + 2 x 1.5^2) / (J - 1 + 2)

    since a few markets can look alike by luck. 1.5 points per cwt is our judgement, no source: barns of three states
    differ by more, barns of one state by less.

    Parameters
    ----------
    own : array-like, shape (j,) [points per cwt]
    error_cov : array-like, shape (j, j)
        Covariance C of their errors.

    References
    ----------
    Paule and Mandel (1982), Consensus values and weighting factors, J. Research NBS 87(5);
    DerSimonian and Kacker (2007), Contemporary Clinical Trials 28(2), sec. 2.
    """
    from scipy.optimize import brentq

    y, cov = np.asarray(own, dtype=float), np.asarray(error_cov, dtype=float)
    spare = len(y) - 1

    def excess(variance: float) -> float:
        inverse = np.linalg.inv(cov + variance * np.eye(len(y)))
        left = y - inverse.sum(axis=0) @ y / inverse.sum()
        return float(left @ inverse @ left - spare)

    moment = 0.0
    if spare > 0 and excess(0.0) > 0.0:
        top = float(np.ptp(y) ** 2 + 1e-12)
        while excess(top) > 0.0:
            top *= 2.0
        moment = float(brentq(excess, 0.0, top, xtol=1e-12))
    return float(np.sqrt((spare * moment + USUAL_MARKETS * USUAL_BETWEEN**2) / (spare + USUAL_MARKETS)))


def pool(own: ArrayLike, error_cov: ArrayLike, between: float | None = None) -> Pooled:
    """Return each market's estimate pooled toward the mean of all, by the best linear unbiased prediction.

        S = C + tau^2 I,   mean = 1'S^-1 y / 1'S^-1 1,   pooled = mean + tau^2 S^-1 (y - mean)
        var of pooled_j = tau^2 - tau^4 (S^-1)_jj + (1 - tau^2 (S^-1 1)_j)^2 var(mean)

    With independent errors this is b_j y_j + (1 - b_j) mean, b_j = tau^2 / (tau^2 + se_j^2). Where errors go together
    the mean does not get surer with every market, as it would if they were independent.

    Parameters
    ----------
    own : array-like, shape (j,) [points per cwt]
    error_cov : array-like, shape (j, j), or (j,) for the variances of independent errors
    between : float, optional
        tau, where it is known from elsewhere; by default `between_sd` of these.

    Notes
    -----
    tau is taken as known in the standard errors: with under five markets they are a little too small.

    References
    ----------
    Efron and Morris (1975), Data analysis using Stein's estimator, JASA 70; Robinson (1991), That BLUP is a good thing,
    Statistical Science 6(1).

    Examples
    --------
    A market that knows nothing takes the mean of the others; one that knows all keeps its own.

    >>> pool([8.0, 12.0, 30.0], [0.25, 0.25, 1e12]).estimate.round(1)[2]
    np.float64(10.0)
    >>> pool([8.0, 12.0], [1e-18, 1e-18]).estimate.round(3)
    array([ 8., 12.])
    """
    y, cov = np.asarray(own, dtype=float), np.asarray(error_cov, dtype=float)
    cov = np.diag(cov) if cov.ndim == 1 else cov
    tau = between_sd(y, cov) if between is None else between
    inverse = np.linalg.inv(cov + tau**2 * np.eye(len(y)))
    weight = inverse.sum(axis=0)
    mean, mean_var = float(weight @ y / weight.sum()), float(1.0 / weight.sum())
    share = tau**2 * np.diag(inverse)
    variance = tau**2 * (1.0 - share) + (1.0 - tau**2 * weight) ** 2 * mean_var
    estimate = mean + tau**2 * inverse @ (y - mean)
    return Pooled(mean, float(np.sqrt(mean_var)), tau, share, estimate, np.sqrt(np.maximum(variance, 0.0)))


def error_cov(tilts: Sequence[Tilt]) -> FloatArray:
    """Return the covariance of the errors of several markets' tilts [points^2], shape (j, j).

    Each tilt errs by its own lots, and by its slide's straying over the weeks seen; strayings of two markets correlate
    .68 in the same weeks, so over periods that overlap in part

        cov_jk = .68 s_j s_k x (weeks in common) / sqrt(weeks_j x weeks_k)
    """
    weeks = np.array([(t.last_day - t.first_day + DAYS_PER_WEEK) / DAYS_PER_WEEK for t in tilts], dtype=float)
    first, last = (
        np.array([getattr(t, side) for t in tilts], dtype=float) for side in ("first_day", "last_day")
    )
    common = np.minimum.outer(last, last) - np.maximum.outer(first, first) + DAYS_PER_WEEK
    share = np.clip(common, 0.0, None) / DAYS_PER_WEEK / np.sqrt(np.outer(weeks, weeks))
    stray = np.array([t.stray for t in tilts])
    together = SHARED_STRAY * np.outer(stray, stray) * share
    np.fill_diagonal(together, [t.se**2 for t in tilts])
    return np.asarray(together)


def pool_toward(own: ArrayLike, se: ArrayLike, mean: float, mean_se: float, between: float) -> Pooled:
    """Return estimates drawn toward a mean that is already known, as `pool` does.

    Raises
    ------
    ValueError
        A standard error is not above zero while markets don't differ either.
    """
    y, error = np.asarray(own, dtype=float), np.asarray(se, dtype=float)
    total = between**2 + error**2
    if (total <= 0.0).any():
        raise ValueError("a standard error and the spread between markets are both zero")
    share = between**2 / total
    estimate = share * y + (1.0 - share) * mean
    return Pooled(
        mean, mean_se, between, share, estimate, np.sqrt(share * error**2 + (1.0 - share) ** 2 * mean_se**2)
    )


@dataclass(frozen=True)
class PooledSlide:
    """One market's slide of one sex at 550 lb [percent per cwt]: its own, and drawn toward the pool.

    Attributes
    ----------
    market, sex : str
    own, own_se : float
    drawn, drawn_se : float
    own_share : float
        Share of its own estimate in the drawn one.
    lots : int
    """

    market: str
    sex: str
    own: float
    own_se: float
    drawn: float
    drawn_se: float
    own_share: float
    lots: int


def pool_tilts(markets: Mapping[str, OwnMarket]) -> dict[str, tuple[list[str], Pooled]]:
    """Return for each sex the markets that have a tilt, and their tilts pooled."""
    sexes = list(dict.fromkeys(sex for own in markets.values() for sex in own.tilts))
    pooled = {}
    for sex in sexes:
        names = [name for name, own in markets.items() if sex in own.tilts]
        tilts = [markets[name].tilts[sex] for name in names]
        pooled[sex] = names, pool([t.points for t in tilts], error_cov(tilts))
    return pooled


def tilts_toward(region: Region, own: OwnMarket) -> dict[str, Pooled]:
    """Return one market's tilts drawn toward no tilt: the region's file as it stands.

    How far markets differ is read from the file's own [pool], 1.5 points per cwt where it has none.
    """
    known = region.pool.between_pct if region.pool else {}
    return {
        sex: pool_toward([tilt.points], [tilt.se], 0.0, 0.0, known.get(sex, USUAL_BETWEEN))
        for sex, tilt in own.tilts.items()
    }


def pooled_region(
    region: Region,
    name: str,
    market: tuple[str, ...],
    own: OwnMarket,
    tilts: Mapping[str, tuple[float, float]],
    pool_of: Pool,
    provenance: Provenance,
) -> Region:
    """Return a market's file: its own price, the region's season, spread and curve, the slide tilted.

    Parameters
    ----------
    tilts : mapping of sex to (points, standard error)
        Added to every step of that sex [points per cwt]; a sex without one keeps the region's slide with the spread
        between markets in its error.
    """
    season_log, _ = season_of(region)
    level = float(np.exp(own.log_level + month_weights([own.as_of])[0] @ season_log))
    price = Price(
        as_of=own.as_of,
        standard_cwt=round(level, 2),
        se_pct=round(100.0 * own.level_sd, 2),
        seen_cwt=region.price.seen_cwt,
    )
    sexes: dict[str, SexTable] = {
        sex: shifted(table, [points] * len(table.slide), se)
        for sex, table in region.sexes().items()
        for points, se in [tilts.get(sex, (0.0, pool_of.between_pct.get(sex, USUAL_BETWEEN)))]
    }
    source = region.source.model_copy(
        update={
            "first_sale": own.first_sale, "last_sale": own.as_of, "lots": own.lots, "head": own.head,
            "sales": own.sales, "months": own.months, "batches_sha256": provenance.batches_sha256,
            "made": provenance.made, "method": f"{region.source.method}; drawn toward {pool_of.name}",
            "verdict": "",
        }
    )  # fmt: skip
    return region.model_copy(
        update={
            "name": name, "markets": market, "price": price, "source": source, "pool": pool_of,
            "forecast": with_spread(price, region.forecast), **sexes,
            "noise": region.noise.model_copy(update={"slide_now_pct": 0.0, "slide_week_share": 0.0}),
        }
    )  # fmt: skip


def slide_at(table: SexTable, weight_lb: float) -> tuple[float, float]:
    """Return the slide of the step that holds a weight, and its standard error; the nearest step outside them."""
    steps = table.steps()
    inside = [step for step in steps if step[0] <= weight_lb <= step[1]]
    nearest = inside or [min(steps, key=lambda s: min(abs(s[0] - weight_lb), abs(s[1] - weight_lb)))]
    shares = [(slide, error) for _, _, slide, error in nearest]
    return sum(s for s, _ in shares) / len(shares), sum(e for _, e in shares) / len(shares)


def drawn_slides(
    region: Region, markets: Mapping[str, OwnMarket], pooled: Mapping[str, tuple[list[str], Pooled]]
) -> list[PooledSlide]:
    """Return each market's slide at 550 lb, its own and drawn toward the pool."""
    rows = []
    for sex, table in region.sexes().items():
        names, result = pooled.get(sex, ([], None))
        for place, name in enumerate(names):
            if result is None:
                continue
            left = 1.0 - slide_at(table, STANDARD_WEIGHT_LB)[0] / 100.0
            tilt = markets[name].tilts[sex]
            own, drawn = (left * float(np.exp(-p / 100.0)) for p in (tilt.points, result.estimate[place]))
            rows.append(
                PooledSlide(
                    name, sex, 100.0 * (1.0 - own), tilt.se * own, 100.0 * (1.0 - drawn),
                    float(result.se[place]) * drawn, float(result.own_share[place]), tilt.lots,
                )
            )  # fmt: skip
    return rows


@dataclass(frozen=True)
class PooledRegions:
    """Regions made by pooling.

    Attributes
    ----------
    regions : tuple of Region
        Where markets were pooled among themselves, that of all of them first.
    slides : tuple of PooledSlide
    pool_slides : mapping of sex to the pool's slide at 550 lb [percent per cwt]
    left_out : tuple of str
        Markets without a sale of two usable lots.
    """

    regions: tuple[Region, ...]
    slides: tuple[PooledSlide, ...]
    pool_slides: dict[str, float]
    left_out: tuple[str, ...]


def pooled_regions(
    region: Region, records: Mapping[str, pd.DataFrame], provenance: Mapping[str, Provenance]
) -> PooledRegions:
    """Return the region of all markets and one for each, its slide drawn toward all by how little it knows.

    Parameters
    ----------
    region : Region
        Made from all the records together.
    records, provenance : mappings of market to its records, and to what its file says of its making
    """
    own, left_out = {}, []
    for market, rows in records.items():
        try:
            own[market] = own_market(region, rows)
        except FitError:
            left_out.append(market)
    pooled = pool_tilts(own)
    between = {sex: round(result.between, 2) for sex, (_, result) in pooled.items()}
    pool = Pool(name=region.name, markets=max(len(own), 1), between_pct=between)
    files = [region.model_copy(update={"pool": pool})]
    for market, mine in own.items():
        tilts = {}
        for sex, (names, result) in pooled.items():
            if market in names:
                place = names.index(market)
                tilts[sex] = (float(result.estimate[place]), float(result.se[place]))
        name = market or f"{region.name}, no name"
        files.append(pooled_region(region, name, (market,), mine, tilts, pool, provenance[market]))
    slides = drawn_slides(region, own, pooled)
    return PooledRegions(tuple(files), tuple(slides), _at_standard(region), tuple(left_out))


def region_toward(region: Region, name: str, records: pd.DataFrame, provenance: Provenance) -> PooledRegions:
    """Return one market's region, its slide drawn toward a region's file.

    Raises
    ------
    FitError
        No sale of the records has two lots that the file can price.
    """
    own: OwnMarket = own_market(region, records)
    found = tilts_toward(region, own)
    tilts = {sex: (float(pooled.estimate[0]), float(pooled.se[0])) for sex, pooled in found.items()}
    between = {sex: round(pooled.between, 2) for sex, pooled in found.items()}
    pool = Pool(name=region.name, markets=region.pool.markets if region.pool else 1, between_pct=between)
    markets = tuple(sorted({str(market) for market in records["market"]}))
    made = pooled_region(region, name, markets, own, tilts, pool, provenance)
    pooled: dict[str, tuple[list[str], Pooled]] = {sex: ([name], result) for sex, result in found.items()}
    return PooledRegions((made,), tuple(drawn_slides(region, {name: own}, pooled)), _at_standard(region), ())


def _at_standard(region: Region) -> dict[str, float]:
    return {sex: slide_at(table, STANDARD_WEIGHT_LB)[0] for sex, table in region.sexes().items()}
