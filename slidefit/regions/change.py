"""Old against new; a region fitted anew."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from slidefit.errors import BookError, SlidefitError
from slidefit.facts import Setting, Text
from slidefit.market.fit.slide_model import STEP_LB
from slidefit.market.market_fit import fit_market
from slidefit.market.months import MONTHS
from slidefit.market.outlook import NORMAL_975, STANDARD_WEIGHT_LB
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.pooling import region_toward
from slidefit.regions.region import Region, Sex, SexTable, spread_at
from slidefit.regions.region_folder import batches_sha256
from slidefit.regions.region_outlook import (
    at_price,
    level_rise,
    region_slides,
    season_of,
    slide_error,
    usual_weights,
)

ROUNDING = 0.0002
SPREAD_MONTHS = (3, 6)
SINGLE_YEAR_MONTHS = 12
USUAL_SLIDE_MORE = 0.3
"""Points of slide for 10 percent of price: on real records it went from 11 to 14 while prices tripled."""


@dataclass(frozen=True)
class Change:
    """One number of the file, old against new.

    Attributes
    ----------
    kind : str
        ``slide``, ``discount``, ``season``, ``spread`` or ``price``.
    sex : str
        Empty where it is of the standard calf.
    at : float
        Weight in the middle of the step [lb], month of the year, or months ahead; 0 for a price.
    unit : str
    old, new : float
        As in the files.
    old_now : float
        The old value at the new file's price level, by the old file's own rule for that: what it said to expect.
    old_se, new_se : float
        Standard errors, in the same unit.
    head : float
        Worth of the change from ``old_now`` to ``new`` to a typical calf [$ per head], at the new price;
        positive in the seller's favour, for a spread the added dollars of one standard error.
    head_low, head_high : float
        95 percent interval of it.
    moved : bool or None
        Whether the interval leaves zero out; None for a price, which moves with the market.
    """

    kind: str
    sex: str
    at: float
    unit: str
    old: float
    old_now: float
    new: float
    old_se: float
    new_se: float
    head: float
    head_low: float
    head_high: float
    moved: bool | None


def changes(old: Region, new: Region, shared: float) -> list[Change]:
    """Return what changed, and whether it is more than noise.

    With standard errors s_o and s_n of two estimates that share records, the change errs with

        s^2 = s_o^2 + s_n^2 - 2 r s_o s_n + c^2,   r = n_shared^2 / (n_old n_new)

    and moved means |change| > 1.96 s; c is the error of carrying the old slide to the new price level
    (``slide_more_se``). Two means that share n_shared observations have r = n_shared / sqrt(n_old n_new); it is
    squared here since today's slide leans on late sales, which the old file hasn't seen (docs/regions.md has the
    rate of false alarms in simulation).

    Parameters
    ----------
    shared : float
        r, 0 to 1; see `shared_part`.

    Notes
    -----
    One row in twenty looks moved by chance alone. A slide also steepens when prices rise; the old file says by how
    much, and only what goes beyond that counts as a move.
    """
    found: list[Change] = []
    expected = at_price(old, new.price.standard_cwt)
    for sex in new.sexes():
        if sex in old.sexes():
            found += _slides((old, expected, new), sex, shared)
            if sex != new.standard.sex:
                found.append(_discount((old, expected, new), sex, shared))
    found += _season(old, new, shared)
    found += _spread(old, new, shared)
    found.append(_price(old, new))
    return found


def shared_part(old_lots: float, new_lots: float, shared_lots: float) -> float:
    """Return the correlation of two estimates that share lots: n_shared^2 / (n_old n_new), at most 1.

    Examples
    --------
    >>> shared_part(100.0, 400.0, 100.0), shared_part(100.0, 100.0, 0.0)
    (0.25, 0.0)
    """
    if old_lots <= 0 or new_lots <= 0:
        return 0.0
    return min(shared_lots**2 / (old_lots * new_lots), 1.0)


def change_error(old_se: float, new_se: float, shared: float) -> float:
    """Return the standard error of a change, never below what rounding in the file adds."""
    variance = old_se**2 + new_se**2 - 2.0 * shared * old_se * new_se
    return float(np.sqrt(max(variance, 0.0)))


def _change(
    kind: str,
    sex: str,
    at: float,
    unit: str,
    values: tuple[float, float, float],
    errors: tuple[float, float],
    worth: tuple[float, float],
) -> Change:
    """Return a change; ``values`` are old, old at the new price, new; ``worth`` dollars per head and their error."""
    head, se = worth
    reach = NORMAL_975 * se
    return Change(
        kind, sex, at, unit, *values, *errors, head, head - reach, head + reach, abs(head) > reach
    )  # fmt: skip


def _slides(regions: tuple[Region, Region, Region], sex: Sex, shared: float) -> Iterator[Change]:
    tables = [region.sexes()[sex] for region in regions]
    weights = [w for w in usual_weights(tables[2]) if w in usual_weights(tables[0])]
    if not weights:
        return
    rise = float(level_rise(regions[0], regions[2].price.standard_cwt))
    carried = rise * _slide_more_error(tables[0]) / 100.0
    frames = [region_slides(region, sexes=[sex], weights_lb=weights) for region in regions]
    for row, weight in enumerate(weights):
        old, expected, new = (float(frame["percent_per_cwt"].iloc[row]) for frame in frames)
        left, left_before = 1.0 - new / 100.0, 1.0 - expected / 100.0
        errors = slide_error(tables[0], weight), slide_error(tables[2], weight)
        check = (weight + STEP_LB / 2) / 100.0 * float(frames[2]["price_cwt"].iloc[row]) * left
        noise = max(float(np.hypot(change_error(*errors, shared), carried)), ROUNDING)
        yield _change(
            "slide", sex, weight, "percent per cwt", (old, expected, new),
            (100.0 * errors[0] * (1.0 - old / 100.0), 100.0 * errors[1] * left),
            (check * (1.0 - left_before / left), check * noise),
        )  # fmt: skip


def _slide_more_error(table: SexTable) -> float:
    """Return the error of what the price level does to the slide; a usual one where the file tells nothing of it."""
    untold = table.slide_more == (0.0, 0.0) and table.slide_more_se == 0.0
    return USUAL_SLIDE_MORE if untold else table.slide_more_se


def _discount(regions: tuple[Region, Region, Region], sex: Sex, shared: float) -> Change:
    old, expected, new = (region.sexes()[sex] for region in regions)
    check = new.discount_at_lb / 100.0 * regions[2].price.standard_cwt
    noise = max(change_error(old.discount_se, new.discount_se, shared), 100.0 * ROUNDING)
    gained = check * (expected.discount_pct - new.discount_pct) / 100.0
    return _change(
        "discount", sex, new.discount_at_lb, "percent",
        (old.discount_pct, expected.discount_pct, new.discount_pct), (old.discount_se, new.discount_se),
        (gained, check * noise / 100.0),
    )  # fmt: skip


def _season(old: Region, new: Region, shared: float) -> Iterator[Change]:
    check = STANDARD_WEIGHT_LB / 100.0 * new.price.standard_cwt
    (before, before_cov), (after, after_cov) = season_of(old), season_of(new)
    for month in range(MONTHS):
        errors = (float(np.sqrt(before_cov[month, month])), float(np.sqrt(after_cov[month, month])))
        noise = max(change_error(errors[0], errors[1], shared), ROUNDING)
        indices = (old.season.months()[month][0], new.season.months()[month][0])
        yield _change(
            "season", "", month + 1.0, "year mean = 100", (indices[0], *indices),
            (100.0 * errors[0], 100.0 * errors[1]),
            (check * float(after[month] - before[month]), check * noise),
        )  # fmt: skip


def _spread(old: Region, new: Region, shared: float) -> Iterator[Change]:
    """Yield changes of the spread; one of h months, from n months of sales, errs by 1 / sqrt(2 n / h) of itself."""
    check = STANDARD_WEIGHT_LB / 100.0 * new.price.standard_cwt
    for ahead in SPREAD_MONTHS:
        spreads = (
            spread_at(old.price, old.forecast, ahead),
            spread_at(new.price, new.forecast, ahead),
        )
        errors = [
            spread / float(np.sqrt(2.0 * max(region.source.months, SINGLE_YEAR_MONTHS) / ahead))
            for spread, region in zip(spreads, (old, new), strict=True)
        ]
        noise = max(change_error(errors[0], errors[1], shared), 100.0 * ROUNDING)
        yield _change(
            "spread", "", float(ahead), "percent", (spreads[0], *spreads), (errors[0], errors[1]),
            (check * (spreads[1] - spreads[0]) / 100.0, check * noise / 100.0),
        )  # fmt: skip


def _price(old: Region, new: Region) -> Change:
    """Return the change of the standard calf's price from the old file's day to the new one's."""
    cwt = STANDARD_WEIGHT_LB / 100.0
    prices = (old.price.standard_cwt, new.price.standard_cwt)
    errors = (prices[0] * old.price.se_pct / 100.0, prices[1] * new.price.se_pct / 100.0)
    reach = NORMAL_975 * cwt * float(np.hypot(*errors))
    head = cwt * (prices[1] - prices[0])
    return Change(
        "price", "", 0.0, "$/cwt", prices[0], *prices, *errors, head, head - reach, head + reach, None
    )


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
            remedy=Text("Name that region's file with ", Setting("pool"), "."),
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
