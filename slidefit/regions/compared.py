"""Several regions side by side: what can be told apart, and what is within noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from slidefit.market.fit.slide_model import usual_weights
from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.regions.moved.verdicts import FALSE_MOVED
from slidefit.regions.region import Region, Sex
from slidefit.regions.region_outlook import slide_error, year_curve


@dataclass(frozen=True)
class ComparedNumber:
    """One number of several regions.

    Attributes
    ----------
    kind : str
        ``level`` ($/cwt), ``slide`` (percent per cwt), ``discount`` (percent) or ``season`` (year mean = 100).
    at : float. Weight [lb], or month for a season.
    values, errors : tuple of float or None
        Of each region in the order given, one standard error; None where a file does not tell it.
    p : float. Of all being alike, by Cochran's Q; 1 where fewer than two tell it.
    apart : bool. Whether they can be told apart: p at most .05.
    """

    kind: str
    sex: str
    at: float
    values: tuple[float | None, ...]
    errors: tuple[float | None, ...]
    p: float

    @property
    def apart(self) -> bool:
        """Whether the regions can be told apart on this number."""
        return self.p <= FALSE_MOVED


def compared(regions: Sequence[Region], months: Sequence[int] = (1, 4, 7, 10)) -> tuple[ComparedNumber, ...]:
    """Return level, slides, discounts and season of several regions.

    Notes
    -----
    Q takes regions as independent; barns that share buyers move together, so that a small p is still a careful one.

    References
    ----------
    Cochran (1954), The combination of estimates from different experiments, Biometrics 10(1).
    """
    rows = [_number("level", "", 0.0, [_level(region) for region in regions])]
    sexes: list[Sex] = [s for s in ("steer", "heifer") if any(s in r.sexes() for r in regions)]
    for sex in sexes:
        tables = [region.sexes().get(sex) for region in regions]
        weights = sorted({w for t in tables if t for w in usual_weights(*t.seen_lb)})
        rows += [_number("slide", sex, w, [_slide(region, sex, w) for region in regions]) for w in weights]
    for sex in sexes[1:]:
        tables = [region.sexes().get(sex) for region in regions]
        pairs = [(t.discount_pct, t.discount_se) if t else None for t in tables]
        rows.append(_number("discount", sex, STANDARD_WEIGHT_LB, pairs))
    season = [region.season.months() for region in regions]
    rows += [_number("season", "", float(m), [months_of[m - 1] for months_of in season]) for m in months]
    return tuple(rows)


def _level(region: Region) -> tuple[float, float]:
    return region.price.standard_cwt, region.price.standard_cwt * region.price.se_pct / 100.0


def _slide(region: Region, sex: Sex, weight: float) -> tuple[float, float] | None:
    table = region.sexes().get(sex)
    if table is None or weight not in usual_weights(*table.seen_lb):
        return None
    ends = year_curve(table, np.array([weight - 50.0, weight + 50.0]))
    left = float(np.exp(ends[1] - ends[0]))
    return 100.0 * (1.0 - left), 100.0 * left * slide_error(table, weight)


def _number(kind: str, sex: str, at: float, pairs: Sequence[tuple[float, float] | None]) -> ComparedNumber:
    from scipy.special import chdtrc

    known = np.array([pair for pair in pairs if pair is not None and pair[1] > 0]).reshape(-1, 2)
    p = 1.0
    if len(known) >= 2:
        weight = 1.0 / known[:, 1] ** 2
        mean = float(np.average(known[:, 0], weights=weight))
        p = float(chdtrc(len(known) - 1, float((weight * (known[:, 0] - mean) ** 2).sum())))
    values, errors = (tuple(pair[side] if pair else None for pair in pairs) for side in (0, 1))
    return ComparedNumber(kind, sex, at, values, errors, p)
