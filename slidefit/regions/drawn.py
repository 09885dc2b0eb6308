"""The file of one market, its slide drawn toward a region's by how little its own records know."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from slidefit.market.outlook import STANDARD_WEIGHT_LB, month_weights
from slidefit.regions.from_fit import Provenance, with_spread
from slidefit.regions.pooling import USUAL_BETWEEN, Pooled, draw_toward, pool
from slidefit.regions.region import Pool, Price, Region, SexTable
from slidefit.regions.shift import shifted
from slidefit.regions.tilt import OwnMarket
from slidefit.regions.to_outlook import season_of


@dataclass(frozen=True)
class DrawnSlide:
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
        pooled[sex] = names, pool([t.points for t in tilts], [t.se for t in tilts])
    return pooled


def tilts_toward(region: Region, own: OwnMarket) -> dict[str, Pooled]:
    """Return one market's tilts drawn toward no tilt: the region's file as it stands.

    How far markets differ is read from the file's own [pool], 1.5 points per cwt where it has none.
    """
    known = region.pool.between_pct if region.pool else {}
    return {
        sex: draw_toward([tilt.points], [tilt.se], 0.0, 0.0, known.get(sex, USUAL_BETWEEN))
        for sex, tilt in own.tilts.items()
    }


def drawn_region(
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
) -> list[DrawnSlide]:
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
                DrawnSlide(
                    name, sex, 100.0 * (1.0 - own), tilt.se * own, 100.0 * (1.0 - drawn),
                    float(result.se[place]) * drawn, float(result.own_share[place]), tilt.lots,
                )
            )  # fmt: skip
    return rows
