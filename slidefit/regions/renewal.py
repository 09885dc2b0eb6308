"""A region fitted anew to the records of its markets, and what moved beyond noise."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import pandas as pd

from slidefit.errors import BookError, SlidefitError
from slidefit.market.marketfit import fit_market
from slidefit.regions.change import Change, changes, shared_part
from slidefit.regions.folder import batches_sha256
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.pooled_regions import region_toward
from slidefit.regions.region import Region


@dataclass(frozen=True)
class Renewal:
    """A region as it stands, as the records would have it now, and each number old against new."""

    old: Region
    new: Region
    changes: tuple[Change, ...]


def renewed(
    old: Region,
    records: pd.DataFrame,
    made: date,
    progress: Callable[[str], None] | None = None,
    pool: Region | None = None,
) -> Renewal:
    """Return a region fitted anew, its name, remarks and selling terms kept.

    Parameters
    ----------
    records : DataFrame
        Tidy sale records; those of the region's markets are taken.
    progress : callable, optional
        Is told each step in words.
    pool : Region, optional
        The region that it is drawn toward again; needed where it was drawn toward one.

    Raises
    ------
    BookError
        No record is of its markets.
    FitError
        The records can't carry a fit.
    SlidefitError
        It was drawn toward a region that isn't given.
    """
    if pool is None and old.pool is not None and old.pool.name != old.name:
        raise SlidefitError(
            f"was drawn toward {old.pool.name}; fitted alone it would be another thing",
            where=old.name,
            remedy="Name that region's file: slidefit region update FILE --pool FILE",
        )
    own = records[records["market"].isin(old.markets)]
    if not len(own):
        raise BookError(
            f"holds no record of {', '.join(old.markets)}",
            where="the sale book",
            remedy="Add their sales first: slidefit add FILE.",
        )
    tell = progress or (lambda _: None)
    tell(
        f"reading {len(own):,} rows of {len(old.markets)} {'market' if len(old.markets) == 1 else 'markets'}"
    )
    provenance = Provenance(made, batches_sha256(own))
    if pool is not None:
        tell(f"drawing the slide toward {pool.name}")
        (new,) = region_toward(pool, old.name, own, provenance).regions
    else:
        new = region_of(fit_market(own, progress=progress), old.name, provenance)
        new = new.model_copy(update={"pool": old.pool})
    new = new.model_copy(update={"selling": old.selling, "remarks": old.remarks})
    tell("comparing old with new")
    known = int((own["sale_date"] <= pd.Timestamp(old.source.last_sale)).sum())
    shared = shared_part(old.source.lots, new.source.lots, known)
    return Renewal(old, new, tuple(changes(old, new, shared)))
