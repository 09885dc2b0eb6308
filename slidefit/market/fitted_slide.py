"""Stage 1 whole: the slide chosen, fitted and given its errors."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.choose import Candidate, choose, ladder
from slidefit.market.design import Recipe
from slidefit.market.drift import DriftNow, drift_now, slide_drift
from slidefit.market.gates import GRADE_ROWS, Rung, rung_of, unseen_months
from slidefit.market.leaning import LOTS_COUNT_FOR, leaning_words, pull_of, thin_recipe
from slidefit.market.lots import SEXES, Lots, crop_year
from slidefit.market.outlook import Outlook
from slidefit.market.slides import ErrorRule, SlideModel, Support
from slidefit.market.within import Spread, WithinFit, estimate_spread, fit_within

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]

YEAR_CLUSTERS = 6
SHORT_HISTORY_INFLATION = 3.0
CENTRAL_SHARE = 0.99


@dataclass(frozen=True)
class FittedSlide:
    """The slide of a set of lots, with all that reading it takes.

    Attributes
    ----------
    within : WithinFit
    candidates : tuple of Candidate
        The models that were compared; empty where the records allow no choice.
    rule : ErrorRule
    cov : array, shape (k, k)
        Covariance of the coefficients that goes with ``rule``.
    spread : Spread
        Lot-to-lot and calf-to-calf spread of the standard grade.
    drift_cwt : float [log points per cwt]
    now : DriftNow
        Where the slide stands on the last day against the fitted one.
    support : mapping of sex to Support
    unseen_months : tuple of int
    left_out : int
        Gross errors.
    pulled : bool
        Whether the data are so thin that the usual slide, or a region's, pulls.
    notes : tuple of str
    """

    within: WithinFit
    candidates: tuple[Candidate, ...]
    rule: ErrorRule
    cov: FloatArray
    spread: Spread
    drift_cwt: float
    now: DriftNow
    support: Mapping[str, Support]
    unseen_months: tuple[int, ...]
    left_out: int
    pulled: bool
    notes: tuple[str, ...]

    def model(self, level_now: float) -> SlideModel:
        """Return the slide as it is read, given today's price level about the records' mean [log points]."""
        within = self.within
        return SlideModel(
            recipe=within.recipe,
            coef=within.solution.coef,
            cov=self.cov,
            rule=self.rule,
            level_mean=within.level_mean,
            level_now=level_now,
            level_range=(float(within.level.min()), float(within.level.max())),
            unseen_months=self.unseen_months,
            support=self.support,
            drift_now=self.now.slope,
            drift_now_sd=self.now.sd,
        )


def fit_slide(
    lots: Lots,
    *,
    recipe: Recipe | None = None,
    defaults: Outlook | None = None,
    progress: Progress | None = None,
) -> FittedSlide:
    """Choose and fit the slide of a set of lots.

    Parameters
    ----------
    recipe : Recipe, optional
        The model, where it was chosen before; otherwise it is chosen on these lots.
    defaults : Outlook, optional
        What lots too thin to stand alone lean on, such as that of a region's file; the usual slide without one.
    progress : callable, optional
        Told in a word or two what is being done.
    """
    tell = progress or (lambda _: None)
    tell("choosing the slide")
    rung = rung_of(lots)
    candidates: tuple[Candidate, ...] = ()
    if recipe is None:
        recipe, candidates = _choose(lots, rung, defaults)
    pulled = rung.curve == "pulled"
    tell("fitting the slide")
    within = fit_within(lots, recipe, pull_of(recipe, defaults) if pulled else None)
    rule, covariance, rule_note = _errors(lots, within, defaults, pulled=pulled)
    left_out = int((~within.kept).sum())
    return FittedSlide(
        within=within,
        candidates=candidates,
        rule=rule,
        cov=covariance,
        spread=_standard_spread(lots, within),
        drift_cwt=slide_drift(lots, within),
        now=drift_now(lots, within),
        support={sex: _support(lots, sex) for sex in recipe.sexes},
        unseen_months=unseen_months(lots),
        left_out=left_out,
        pulled=pulled,
        notes=(
            *_rung_notes(rung, defaults),
            *rule_note,
            *_cell_notes(lots, recipe),
            *_left_out_note(left_out),
        ),
    )


def _choose(lots: Lots, rung: Rung, defaults: Outlook | None) -> tuple[Recipe, tuple[Candidate, ...]]:
    if rung.curve == "pulled":
        return thin_recipe(lots, defaults), ()
    base = fit_within(lots, ladder(lots, rung)[-1][1])
    return choose(lots, rung, base)


def _rung_notes(rung: Rung, defaults: Outlook | None) -> tuple[str, ...]:
    if rung.curve == "pulled":
        return (f"{rung.reasons[0]}: {leaning_words(defaults)}", *rung.reasons[1:])
    unused = (
        (f"the lots are enough to stand alone: {defaults.basis.source} lends them no slide",)
        if defaults
        else ()
    )
    return (*rung.reasons, *unused)


def _errors(
    lots: Lots, within: WithinFit, defaults: Outlook | None, *, pulled: bool
) -> tuple[ErrorRule, FloatArray, tuple[str, ...]]:
    """Return the error rule, the covariance it goes with, and what to say of it."""
    if pulled:
        kind = "lot and usual slide" if defaults is None else "lot and region"
        return ErrorRule(kind, len(lots), 1.0), LOTS_COUNT_FOR * within.solution.bread, ()
    years = len(np.unique(crop_year(lots.sale_day[within.solution.sale])))
    if years >= YEAR_CLUSTERS:
        return ErrorRule("crop year", years, 1.0), within.cov_year, ()
    rule = ErrorRule("sale", len(within.solution.sale), SHORT_HISTORY_INFLATION)
    note = (
        f"the sales span {years} of the {YEAR_CLUSTERS} crop years (July to June) that it takes to see the slide "
        f"drift: errors are clustered by sale and widened {SHORT_HISTORY_INFLATION:.0f} times"
    )
    return rule, within.cov_sale, (note,)


def _support(lots: Lots, sex: str) -> Support:
    mine = lots.sex == SEXES.index(sex)
    weight, head = lots.weight_lb[mine], np.nan_to_num(lots.head[mine], nan=1.0)
    order = np.argsort(weight)
    share = np.cumsum(head[order]) / head.sum()
    tail = (1.0 - CENTRAL_SHARE) / 2.0
    low, high = (
        weight[order][min(int(np.searchsorted(share, q)), len(order) - 1)] for q in (tail, 1.0 - tail)
    )
    return Support(float(low), float(high), int(mine.sum()), int(np.nansum(lots.head[mine])))


def _standard_spread(lots: Lots, within: WithinFit) -> Spread:
    standard = within.kept & (np.array(within.recipe.grade_of)[lots.grade] == 0)
    return estimate_spread(within.residual[standard], lots.head[standard], lots.sale[standard], within.spread)


def _cell_notes(lots: Lots, recipe: Recipe) -> tuple[str, ...]:
    pooled = [
        grade or "no grade"
        for grade, place in zip(lots.grades, recipe.grade_of, strict=True)
        if recipe.grades[place] != grade
    ]
    notes = []
    if pooled:
        notes.append(f"grades with under {GRADE_ROWS} lots are pooled: {', '.join(pooled)}")
    if not recipe.head:
        notes.append("most lots have no head count: all lots weigh the same")
    return tuple(notes)


def _left_out_note(count: int) -> tuple[str, ...]:
    return (
        (f"{count:,} lots priced over eight standard deviations from their own sale were left out",)
        if count
        else ()
    )
