"""Every number of two files of a region: old, expected at the new price, new, and what a log point is worth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from slidefit.market.fit.slide_model import STEP_LB, usual_weights
from slidefit.market.months import MONTHS
from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.regions.moved.refits import NumberKey
from slidefit.regions.region import SEASON_AT_LB, Region, Sex, SexTable, spread_at
from slidefit.regions.region_outlook import at_price, level_rise, region_slide_rows, season_of, slide_error

SPREAD_MONTHS = (3, 6)
SINGLE_YEAR_MONTHS = 12
USUAL_SLIDE_MORE = 0.3
"""Points of slide for 10 percent of price: on real records it went from 11 to 14 while prices tripled."""
USUAL_GRADE_SE = 2.0
"""Points that a grade's discount errs by where a file tells no error: our judgment, no source."""
USUAL_HEAD_SE = 0.005
"""Log points that the price of twice the head errs by: our judgment, no source."""


@dataclass(frozen=True)
class FileNumber:
    """One number before it is judged.

    Attributes
    ----------
    key : NumberKey. ``at`` of a season is its month.
    values : (old, expected, new)
    worth : float. Dollars a head for one log point of change; negative where more is worse for the seller.
    log : float. Change from expected to new [log points].
    se : float. Its error by the files [log points].
    """

    key: NumberKey
    unit: str
    values: tuple[float, float, float]
    errors: tuple[float, float]
    worth: float
    log: float
    se: float


def shared_part(old_lots: float, new_lots: float, shared_lots: float) -> float:
    """Return the correlation of two estimates that share lots: n_shared / sqrt(n_old n_new), at most 1.

    All three are lots that the fits used, not rows of the book: of a book's rows a fit leaves out other classes and
    misprints, and counted in they make two files look as if they shared nearly everything.

    Examples
    --------
    >>> shared_part(100.0, 400.0, 100.0), shared_part(100.0, 100.0, 0.0)
    (0.5, 0.0)
    """
    if old_lots <= 0 or new_lots <= 0:
        return 0.0
    return float(min(shared_lots / np.sqrt(old_lots * new_lots), 1.0))


def change_error(old_se: float, new_se: float, shared: float) -> float:
    """Return the standard error of a change of two estimates that correlate."""
    variance = old_se**2 + new_se**2 - 2.0 * shared * old_se * new_se
    return float(np.sqrt(max(variance, 0.0)))


def numbers(old: Region, new: Region, shared: float) -> Iterator[FileNumber]:
    """Yield every number that both files hold, its error by the files where they share records (see `shared_part`)."""
    expected = at_price(old, new.price.standard_cwt)
    for sex in new.sexes():
        if sex in old.sexes():
            yield from _slides((old, expected, new), sex, shared)
            if sex != new.standard.sex:
                yield _discount((old, expected, new), sex, shared)
            yield from _levels(old, new, sex)
    yield from _slide_seasons(old, new)
    yield from _season(old, new, shared)
    yield from _grades(old, new, shared)
    yield from _noise(old, new, shared)
    yield from _spread(old, new, shared)


def _slides(regions: tuple[Region, Region, Region], sex: Sex, shared: float) -> Iterator[FileNumber]:
    tables = [region.sexes()[sex] for region in regions]
    weights = [w for w in usual_weights(*tables[2].seen_lb) if w in usual_weights(*tables[0].seen_lb)]
    if not weights:
        return
    rise = float(level_rise(regions[0], regions[2].price.standard_cwt))
    carried = rise * _slide_more_error(tables[0]) / 100.0
    each = [region_slide_rows(region, sexes=[sex], weights_lb=weights) for region in regions]
    for row, weight in enumerate(weights):
        old, expected, new = (rows[row]["percent_per_cwt"] for rows in each)
        left, left_before = 1.0 - new / 100.0, 1.0 - expected / 100.0
        errors = slide_error(tables[0], weight), slide_error(tables[2], weight)
        check = (weight + STEP_LB / 2) / 100.0 * each[2][row]["price_cwt"] * left
        yield FileNumber(
            NumberKey("slide", sex, weight), "percent per cwt", (old, expected, new),
            (100.0 * errors[0] * (1.0 - old / 100.0), 100.0 * errors[1] * left),
            check, 1.0 - left_before / left, float(np.hypot(change_error(*errors, shared), carried)),
        )  # fmt: skip


def _level_untold(table: SexTable) -> bool:
    """Return whether a file tells nothing of what the price level does: its records were too short for that."""
    return table.slide_more == (0.0, 0.0) and table.slide_more_se == 0.0 == table.discount_more


def _slide_more_error(table: SexTable) -> float:
    """Return the error of what the price level does to the slide; a usual one where the file tells nothing of it."""
    return USUAL_SLIDE_MORE if _level_untold(table) else table.slide_more_se


def _discount(regions: tuple[Region, Region, Region], sex: Sex, shared: float) -> FileNumber:
    old, expected, new = (region.sexes()[sex] for region in regions)
    check = new.discount_at_lb / 100.0 * regions[2].price.standard_cwt
    errors = (old.discount_se, new.discount_se)
    carried = float(level_rise(regions[0], regions[2].price.standard_cwt)) * USUAL_SLIDE_MORE
    return FileNumber(
        NumberKey("discount", sex, new.discount_at_lb), "percent",
        (old.discount_pct, expected.discount_pct, new.discount_pct), errors,
        check * (1.0 - new.discount_pct / 100.0),
        _log(new.discount_pct) - _log(expected.discount_pct),
        float(np.hypot(change_error(*errors, shared), carried)) / 100.0,
    )  # fmt: skip


def _log(discount_pct: float) -> float:
    return float(np.log1p(-discount_pct / 100.0))


def _check(region: Region, weight_lb: float = STANDARD_WEIGHT_LB) -> float:
    """Return what a calf of the standard price brings at a weight [$ per head]."""
    return weight_lb / 100.0 * region.price.standard_cwt


def _levels(old: Region, new: Region, sex: Sex) -> Iterator[FileNumber]:
    """Yield what prices do to slide and discount; what only one file tells can be anything as large by the files."""
    before, after = old.sexes()[sex], new.sexes()[sex]
    one_tells = _level_untold(before) != _level_untold(after)
    for place, weight in enumerate(SEASON_AT_LB):
        values = before.slide_more[place], before.slide_more[place], after.slide_more[place]
        errors = _slide_more_error(before), _slide_more_error(after)
        unknown = abs(values[2] - values[0]) if one_tells else 0.0
        yield FileNumber(
            NumberKey("slide level", sex, weight), "points per cwt for 10% of price", values, errors,
            _check(new, weight), -(values[2] - values[0]) / 100.0, float(np.linalg.norm([*errors, unknown])) / 100.0,
        )  # fmt: skip
    if sex != new.standard.sex:
        values = before.discount_more, before.discount_more, after.discount_more
        unknown = abs(values[2] - values[0]) if one_tells else 0.0
        yield FileNumber(
            NumberKey("discount level", sex, after.discount_at_lb), "points for 10% of price", values, (0.0, 0.0),
            _check(new), -(values[2] - values[0]) / 100.0, float(np.hypot(USUAL_SLIDE_MORE, unknown)) / 100.0,
        )  # fmt: skip


def _slide_seasons(old: Region, new: Region) -> Iterator[FileNumber]:
    """Yield the points added to the slide by month; without records each errs as the slide itself does."""
    for place, weight in enumerate(SEASON_AT_LB):
        for month, (before, after) in enumerate(
            zip(old.slide_season.months(), new.slide_season.months(), strict=True), start=1
        ):
            values = before[place], before[place], after[place]
            error = np.hypot(old.noise.slide_pct, new.noise.slide_pct) / 100.0
            yield FileNumber(
                NumberKey("slide season", "", weight, month), "points per cwt", values, (0.0, 0.0),
                _check(new, weight), -(values[2] - values[0]) / 100.0, float(error),
            )  # fmt: skip


def _season(old: Region, new: Region, shared: float) -> Iterator[FileNumber]:
    (before, before_cov), (after, after_cov) = season_of(old), season_of(new)
    for month in range(MONTHS):
        errors = float(np.sqrt(before_cov[month, month])), float(np.sqrt(after_cov[month, month]))
        indices = old.season.months()[month][0], new.season.months()[month][0]
        yield FileNumber(
            NumberKey("season", "", 0.0, month + 1), "year mean = 100", (indices[0], *indices),
            (100.0 * errors[0], 100.0 * errors[1]),
            _check(new), float(after[month] - before[month]), change_error(*errors, shared),
        )  # fmt: skip


def _grades(old: Region, new: Region, shared: float) -> Iterator[FileNumber]:
    for name, after in new.grades.items():
        before = old.grades.get(name)
        if before is None or name == new.standard.grade:
            continue
        errors = before.discount_se, after.discount_se
        yield FileNumber(
            NumberKey("grade", name, 0.0), "percent",
            (before.discount_pct, before.discount_pct, after.discount_pct), errors,
            _check(new) * (1.0 - after.discount_pct / 100.0),
            _log(after.discount_pct) - _log(before.discount_pct),
            _grade_error(errors, shared) / 100.0,
        )  # fmt: skip
        yield FileNumber(
            NumberKey("grade slide", name, 0.0), "points per cwt",
            (before.slide_more, before.slide_more, after.slide_more),
            (0.0, 0.0), _check(new, STANDARD_WEIGHT_LB + STEP_LB), _log(after.slide_more) - _log(before.slide_more),
            _grade_error(errors, shared) / 100.0,
        )  # fmt: skip


def _grade_error(errors: tuple[float, float], shared: float) -> float:
    return change_error(errors[0] or USUAL_GRADE_SE, errors[1] or USUAL_GRADE_SE, shared)


def _noise(old: Region, new: Region, shared: float) -> Iterator[FileNumber]:
    """Yield the spreads of lots, calves, sales and the slide, and the price of more head.

    Without records a spread of n sales errs by 1 / sqrt(2 n) of itself.
    """
    for of in ("lot", "calf", "sale", "slide"):
        spreads = getattr(old.noise, f"{of}_pct"), getattr(new.noise, f"{of}_pct")
        counts = [max(region.source.sales, SINGLE_YEAR_MONTHS) for region in (old, new)]
        errors = spreads[0] / (2.0 * counts[0]) ** 0.5, spreads[1] / (2.0 * counts[1]) ** 0.5
        yield FileNumber(
            NumberKey("noise", of), "points per cwt" if of == "slide" else "percent", (spreads[0], *spreads),
            errors, _check(new), (spreads[1] - spreads[0]) / 100.0, change_error(*errors, shared) / 100.0,
        )  # fmt: skip
    more = old.noise.head_pct, new.noise.head_pct
    yield FileNumber(
        NumberKey("head"), "percent for twice the head", (more[0], *more), (0.0, 0.0),
        _check(new), float(np.log1p(more[1] / 100.0) - np.log1p(more[0] / 100.0)), USUAL_HEAD_SE,
    )  # fmt: skip


def _spread(old: Region, new: Region, shared: float) -> Iterator[FileNumber]:
    """Yield changes of the spread; one of h months, from n months of sales, errs by 1 / sqrt(2 n / h) of itself."""
    for ahead in SPREAD_MONTHS:
        spreads = (spread_at(old.price, old.forecast, ahead), spread_at(new.price, new.forecast, ahead))
        errors = [
            spread / float(np.sqrt(2.0 * max(region.source.months, SINGLE_YEAR_MONTHS) / ahead))
            for spread, region in zip(spreads, (old, new), strict=True)
        ]
        yield FileNumber(
            NumberKey("spread", "", float(ahead)), "percent", (spreads[0], *spreads), (errors[0], errors[1]),
            _check(new), (spreads[1] - spreads[0]) / 100.0, change_error(errors[0], errors[1], shared) / 100.0,
        )  # fmt: skip
