"""Stage 1 whole: the slide chosen, fitted and given its errors."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.choose import Candidate, choose
from slidefit.market.design import Recipe
from slidefit.market.drift import DriftNow, drift_now, slide_drift
from slidefit.market.engines import Engine
from slidefit.market.gates import GRADE_ROWS, Rung, rung_of, unseen_months
from slidefit.market.leaning import LOTS_COUNT_FOR, leaning_words, pull_of, thin_recipe
from slidefit.market.lot_spread import Spread
from slidefit.market.lots import SEXES, LotSource, crop_year
from slidefit.market.outlook import Outlook
from slidefit.market.slides import ErrorRule, SlideModel, Support
from slidefit.market.tally import Tally, tallied_weights
from slidefit.market.within import WithinFit, fit_within

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
            drift_week_share=float(np.nan_to_num(self.now.week_ar)),
        )


def fit_slide(
    lots: LotSource,
    *,
    recipe: Recipe | None = None,
    defaults: Outlook | None = None,
    engine: Engine | None = None,
    progress: Progress | None = None,
) -> FittedSlide:
    """Choose and fit the slide of a set of lots.

    Parameters
    ----------
    recipe : Recipe, optional
        The model, where it was chosen before; otherwise it is chosen on these lots.
    defaults : Outlook, optional
        What lots too thin to stand alone lean on, such as that of a region's file; the usual slide without one.
    engine : Engine, optional
        Where the chunks of lots are worked on; here by default.
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
    pull = pull_of(recipe, defaults) if pulled else None
    within = fit_within(lots, recipe, pull, engine=engine, progress=tell)
    rule, covariance, rule_note = _errors(lots, within, defaults, pulled=pulled)
    left_out = len(within.dropped)
    return FittedSlide(
        within=within,
        candidates=candidates,
        rule=rule,
        cov=covariance,
        spread=within.standard_spread,
        drift_cwt=slide_drift(within),
        now=drift_now(lots, within),
        support={sex: support_of(lots.tally, sex) for sex in recipe.sexes},
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


def _choose(lots: LotSource, rung: Rung, defaults: Outlook | None) -> tuple[Recipe, tuple[Candidate, ...]]:
    if rung.curve == "pulled":
        return thin_recipe(lots, defaults), ()
    return choose(lots, rung)


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
    lots: LotSource, within: WithinFit, defaults: Outlook | None, *, pulled: bool
) -> tuple[ErrorRule, FloatArray, tuple[str, ...]]:
    """Return the error rule, the covariance it goes with, and what to say of it."""
    if pulled:
        kind = "lot and usual slide" if defaults is None else "lot and region"
        return ErrorRule(kind, len(lots), 1.0), LOTS_COUNT_FOR * within.solution.bread, ()
    sales = within.effects.sale
    years = len(np.unique(crop_year(lots.sale_day[sales])))
    if years >= YEAR_CLUSTERS:
        return ErrorRule("crop year", years, 1.0), within.cov_year, ()
    rule = ErrorRule("sale", len(sales), SHORT_HISTORY_INFLATION)
    note = (
        f"the sales span {years} of the {YEAR_CLUSTERS} crop years (July to June) that it takes to see the slide "
        f"drift: errors are clustered by sale and widened {SHORT_HISTORY_INFLATION:.0f} times"
    )
    return rule, within.cov_sale, (note,)


def support_of(tally: Tally, sex: str) -> Support:
    """Return what was seen of one sex; weights are those of the tally, to the hundredth of a pound."""
    place = SEXES.index(sex)
    rows, head = tally.weight_rows[place], tally.weight_head[place]
    weight, head = tallied_weights()[rows > 0], head[rows > 0]
    share = np.cumsum(head) / head.sum()
    tail = (1.0 - CENTRAL_SHARE) / 2.0
    low, high = (weight[min(int(np.searchsorted(share, q)), len(weight) - 1)] for q in (tail, 1.0 - tail))
    return Support(float(low), float(high), int(rows.sum()), int(tally.head[place]))


def _cell_notes(lots: LotSource, recipe: Recipe) -> tuple[str, ...]:
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
