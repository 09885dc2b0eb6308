"""Files of several markets at once, or of one toward another's: estimated, pooled, written as regions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from slidefit.errors import FitError
from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.regions.drawn import DrawnSlide, drawn_region, drawn_slides, pool_tilts, slide_at, tilts_toward
from slidefit.regions.from_fit import Provenance
from slidefit.regions.pooling import Pooled
from slidefit.regions.region import Pool, Region
from slidefit.regions.tilt import OwnMarket, own_market


@dataclass(frozen=True)
class PooledRegions:
    """Regions made by pooling.

    Attributes
    ----------
    regions : tuple of Region
        Where markets were pooled among themselves, that of all of them first.
    slides : tuple of DrawnSlide
    pool_slides : mapping of sex to the pool's slide at 550 lb [percent per cwt]
    left_out : tuple of str
        Markets without a sale of two usable lots.
    """

    regions: tuple[Region, ...]
    slides: tuple[DrawnSlide, ...]
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
        files.append(drawn_region(region, name, (market,), mine, tilts, pool, provenance[market]))
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
    made = drawn_region(region, name, markets, own, tilts, pool, provenance)
    pooled: dict[str, tuple[list[str], Pooled]] = {sex: ([name], result) for sex, result in found.items()}
    return PooledRegions((made,), tuple(drawn_slides(region, {name: own}, pooled)), _at_standard(region), ())


def _at_standard(region: Region) -> dict[str, float]:
    return {sex: slide_at(table, STANDARD_WEIGHT_LB)[0] for sex, table in region.sexes().items()}
