"""How much data is enough: a plain verdict on what a fit rests on, with the reason and what to add."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from slidefit.market.gates import (
    LEVEL_MONTHS,
    SPLINE_ROWS,
    THIN_ROWS,
    THIN_SALES,
    span_months,
    unseen_months,
)
from slidefit.market.lots import SEXES, LotSource, crop_year

GOOD, THIN, NOT_ENOUGH = "good", "thin", "not enough"
GOOD_CROP_YEARS = 6
NEEDED_ROWS = 50
NEEDED_SALES = 3
GOOD_WEIGHT_SD_LB = 60.0
NEEDED_WEIGHT_SD_LB = 25.0
MISSING_MONTHS = 3


@dataclass(frozen=True)
class Verdict:
    """What the records can carry.

    Attributes
    ----------
    word : str
        ``good``, ``thin`` or ``not enough``.
    reasons : tuple of str
        What holds it back; empty when good.
    add : tuple of str
        What to add, in the same order.
    """

    word: str
    reasons: tuple[str, ...]
    add: tuple[str, ...]

    def text(self) -> str:
        """Return the verdict in one sentence.

        >>> Verdict("thin", ("40 lots",), ("260 more lots",)).text()
        'thin: 40 lots (add 260 more lots)'
        """
        told = [f"{why} (add {more})" for why, more in zip(self.reasons, self.add, strict=True)]
        return f"{self.word}: {'; '.join(told)}" if told else self.word


def verdict_of(lots: LotSource) -> Verdict:
    """Return the verdict from the number of lots and sales, the spread of weights within sales, and the months.

    Notes
    -----
    ``good`` speaks of the amount of data, not of their quality, and of the past: no amount of it tells next year.
    The thresholds are those of the gates (docs/method.md), and six crop years for errors clustered by crop year.
    """
    faults: list[tuple[str, str, str]] = []
    rows, sales, months = len(lots), lots.sales, span_months(lots)
    _short(faults, rows, "lots", NEEDED_ROWS, THIN_ROWS, SPLINE_ROWS)
    _short(faults, sales, "sales", NEEDED_SALES, THIN_SALES, 2 * THIN_SALES)
    sexes = np.flatnonzero(lots.tally.sex_rows).tolist()
    for sex in sexes:
        spread = weight_spread_lb(lots, sex)
        if spread < GOOD_WEIGHT_SD_LB:
            word = NOT_ENOUGH if spread < NEEDED_WEIGHT_SD_LB and len(sexes) == 1 else THIN
            what = f"{SEXES[sex]}s of one sale differ by {spread:.0f} lb only (standard deviation)"
            faults.append((word, what, "sales with light and heavy calves side by side"))
    if months < LEVEL_MONTHS - 1.0:
        what = f"the sales span {max(months, 0.0):.0f} months, which can't tell a season from a trend"
        faults.append((THIN, what, f"{LEVEL_MONTHS - months:.0f} more months of sales"))
    else:
        years = len(np.unique(crop_year(lots.sale_day)))
        if years < GOOD_CROP_YEARS:
            what = f"{years} crop years can't show how the slide drifts from year to year"
            faults.append((THIN, what, f"{GOOD_CROP_YEARS - years} more years"))
    unseen = unseen_months(lots)
    if len(unseen) >= MISSING_MONTHS:
        what = f"{len(unseen)} calendar months were never seen"
        faults.append((THIN, what, "sales of those months"))
    words = [word for word, _, _ in faults]
    word = NOT_ENOUGH if NOT_ENOUGH in words else THIN if faults else GOOD
    return Verdict(word, tuple(what for _, what, _ in faults), tuple(more for _, _, more in faults))


def _short(
    faults: list[tuple[str, str, str]], count: int, name: str, needed: int, thin: int, good: int
) -> None:
    if count < good:
        word = NOT_ENOUGH if count < needed else THIN
        goal = good if count >= thin else thin
        faults.append((word, f"{count:,} {name}", f"{goal - count:,} more {name}"))


def weight_spread_lb(lots: LotSource, sex: int) -> float:
    """Return the standard deviation of weight within sales for one sex [lb]: what the slide is read from."""
    square, spare = float(lots.tally.weight_square[sex]), int(lots.tally.spare[sex])
    return float(np.sqrt(square / spare)) if spare > 0 else 0.0
