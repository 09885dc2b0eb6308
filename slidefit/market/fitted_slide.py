"""Stage 1 whole: the slide chosen, fitted and given its errors."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.choose import Candidate, choose, ladder
from slidefit.market.design import Recipe
from slidefit.market.drift import DriftNow, drift_now, slide_drift
from slidefit.market.gates import GRADE_ROWS, Rung, recipe_for, rung_of, unseen_months
from slidefit.market.lots import SEXES, Lots, crop_year
from slidefit.market.slides import ErrorRule, SlideModel, Support
from slidefit.market.within import Spread, WithinFit, estimate_spread, fit_within

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]

YEAR_CLUSTERS = 6
SHORT_HISTORY_INFLATION = 3.0
CENTRAL_SHARE = 0.99
USUAL_SLIDE = {"steer": -0.10, "heifer": -0.08, "bull": -0.10}
USUAL_SLIDE_SD = 0.03
USUAL_HEIFER_DISCOUNT = (-0.10, 0.05)
USUAL_HEAD_SLOPE = (0.015, 0.015)


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
        Whether the data are so thin that the usual slide pulls.
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


def fit_slide(lots: Lots, *, recipe: Recipe | None = None, progress: Progress | None = None) -> FittedSlide:
    """Choose and fit the slide of a set of lots.

    Parameters
    ----------
    recipe : Recipe, optional
        The model, where it was chosen before; otherwise it is chosen on these lots.
    progress : callable, optional
        Told in a word or two what is being done.
    """
    tell = progress or (lambda _: None)
    tell("choosing the slide")
    rung = rung_of(lots)
    candidates: tuple[Candidate, ...] = ()
    if recipe is None:
        recipe, candidates = _choose(lots, rung)
    pulled = rung.curve == "pulled"
    tell("fitting the slide")
    within = fit_within(lots, recipe, usual_pull(recipe) if pulled else None)
    rule, covariance, rule_note = _errors(lots, within, pulled=pulled)
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
        notes=(*rung.reasons, *rule_note, *_cell_notes(lots, recipe), *_left_out_note(left_out)),
    )


def _choose(lots: Lots, rung: Rung) -> tuple[Recipe, tuple[Candidate, ...]]:
    if rung.curve == "pulled":
        return recipe_for(lots, kind="straight"), ()
    base = fit_within(lots, ladder(lots, rung)[-1][1])
    return choose(lots, rung, base)


def usual_pull(recipe: Recipe) -> tuple[FloatArray, FloatArray]:
    """Return the prior (target, sd) of thin data: the usual slide of 10 percent per cwt for steers, 8 for heifers.

    Common practice, no source: 8 to 12 percent between 450 and 650 lb; heifers below steers by about a tenth. The
    lots count for a ninth of their number (the prior is drawn in by `SHORT_HISTORY_INFLATION`), since lots of few
    sales share what moved the slide those days.
    """
    names = recipe.names()
    target, sd = np.zeros(len(names)), np.full(len(names), np.inf)
    for place, name in enumerate(names):
        sex = name.split(":")[0]
        if name.endswith(":weight0") and sex in USUAL_SLIDE:
            target[place], sd[place] = USUAL_SLIDE[sex], USUAL_SLIDE_SD
        elif name == "heifer":
            target[place], sd[place] = USUAL_HEIFER_DISCOUNT
        elif name == "ln head":
            target[place], sd[place] = USUAL_HEAD_SLOPE
    return target, sd / SHORT_HISTORY_INFLATION


def _errors(lots: Lots, within: WithinFit, *, pulled: bool) -> tuple[ErrorRule, FloatArray, tuple[str, ...]]:
    """Return the error rule, the covariance it goes with, and what to say of it."""
    if pulled:
        covariance = SHORT_HISTORY_INFLATION**2 * within.solution.bread
        return ErrorRule("lot and usual slide", len(lots), 1.0), covariance, ()
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
