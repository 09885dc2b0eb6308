"""Stage 1 whole: chosen, pulled to its prior, fitted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.candidates import (
    CandidateModel,
    Eligibility,
    choose,
    eligibility_of,
    recipe_for,
    unseen_months,
)
from slidefit.market.fit.chunk_passes import LotSpread
from slidefit.market.fit.constants import (
    CENTRAL_SHARE,
    GRADE_ROWS,
    HEAD_SLOPE_SD,
    HEIGHT_SD,
    LOTS_COUNT_FOR,
    MARKETS_BEND_SD,
    MARKETS_SLIDE_SD,
    SHORT_HISTORY_INFLATION,
    USUAL_HEAD_SLOPE,
    USUAL_HEIFER_HEIGHT,
    USUAL_SLIDE,
    USUAL_SLIDE_SD,
    YEAR_CLUSTERS,
)
from slidefit.market.fit.counts import LotCounts, tallied_weights
from slidefit.market.fit.design import Recipe, WeightCurve, scaled_weight
from slidefit.market.fit.fixed_effects import Engine, FixedEffectsFit, fit_fixed_effects
from slidefit.market.fit.lots import SEXES, LotSource, crop_year
from slidefit.market.fit.slide_model import DriftNow, ErrorRule, SlideModel, Support, drift_now, slide_drift
from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook

FloatArray = NDArray[np.float64]


def _thin_recipe(lots: LotSource, defaults: Outlook | None) -> Recipe:
    """Return the columns of records too thin to choose: straight, or a region's bent curve to be moved by the lots."""
    recipe = recipe_for(lots, kind="straight")
    if defaults is None:
        return recipe
    bent = tuple(
        WeightCurve("quadratic") if sex in defaults.curves else curve
        for sex, curve in zip(recipe.sexes, recipe.curves, strict=True)
    )
    return replace(recipe, curves=bent)


def _prior_words(defaults: Outlook | None) -> str:
    """Return what a thin slide leans on, in words."""
    if defaults is None:
        return "the slide is straight and pulled toward the usual one (a region's file can stand in for it)"
    return f"the slide is that of {defaults.basis.source}, moved by these lots for what they know"


def prior_of(recipe: Recipe, defaults: Outlook | None) -> tuple[FloatArray, FloatArray]:
    """Return the prior (target, sd) of thin records' coefficients, each of shape (k,).

    Without defaults: the usual slide of 10 percent per cwt for steers and bulls and 8 for heifers, give or take 3
    (common practice, no source: 8 to 12 percent between 450 and 650 lb; heifers below steers by about a tenth).

    With a region's defaults: its curve of the mean year, as x and x^2 over the weights it has seen, give or take

        sd of the slide = sqrt(its own error^2 + 1.5 points^2)

    for how far markets of a region differ; its bend give or take .5 points. Both spreads are our judgement, no source.

    The lots count for a ninth of their number, since lots of few sales share what moved the slide those days.
    """
    first = recipe.sexes[0]
    prior = {"ln head": (defaults.head_slope if defaults else USUAL_HEAD_SLOPE, HEAD_SLOPE_SD)}
    for sex in recipe.sexes:
        if defaults is None or sex not in defaults.curves:
            prior[f"{sex}:weight0"] = USUAL_SLIDE[sex], USUAL_SLIDE_SD
        else:
            height, slope, bend, error = _parabola(defaults, sex)
            prior[f"{sex}:weight0"] = slope, float(np.hypot(error, MARKETS_SLIDE_SD))
            prior[f"{sex}:weight1"] = bend, MARKETS_BEND_SD
            if first in defaults.curves:
                prior[sex] = height - _parabola(defaults, first)[0], HEIGHT_SD
    if "heifer" in recipe.sexes:
        prior.setdefault("heifer", (USUAL_HEIFER_HEIGHT, HEIGHT_SD))
    known = np.array([prior.get(name, (0.0, np.inf)) for name in recipe.names()])
    return known[:, 0], known[:, 1] / np.sqrt(LOTS_COUNT_FOR)


def _parabola(defaults: Outlook, sex: str) -> tuple[float, float, float, float]:
    """Return a sex's mean year as height, slope and bend at 550 lb, and the slope's error, all in log points."""
    curve = defaults.curves[sex]
    inside = (curve.weights_lb >= curve.low_lb) & (curve.weights_lb <= curve.high_lb)
    year = curve.log_relative[:, inside].mean(axis=0)
    height, slope, bend = np.polynomial.polynomial.polyfit(scaled_weight(curve.weights_lb[inside]), year, 2)
    error = np.interp(STANDARD_WEIGHT_LB, curve.weights_lb, curve.slope_sd_cwt)
    return float(height), float(slope), float(bend), float(error)


Progress = Callable[[str], None]


@dataclass(frozen=True)
class FittedSlide:
    """The slide of a set of lots, with all that reading it takes.

    Attributes
    ----------
    within : FixedEffectsFit
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

    within: FixedEffectsFit
    candidates: tuple[CandidateModel, ...]
    rule: ErrorRule
    cov: FloatArray
    spread: LotSpread
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
    rung = eligibility_of(lots)
    candidates: tuple[CandidateModel, ...] = ()
    if recipe is None:
        recipe, candidates = _choose(lots, rung, defaults)
    pulled = rung.curve == "pulled"
    tell("fitting the slide")
    pull = prior_of(recipe, defaults) if pulled else None
    within = fit_fixed_effects(lots, recipe, pull, engine=engine, progress=tell)
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
        support={sex: _support_of(lots.tally, sex) for sex in recipe.sexes},
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


def _choose(
    lots: LotSource, rung: Eligibility, defaults: Outlook | None
) -> tuple[Recipe, tuple[CandidateModel, ...]]:
    if rung.curve == "pulled":
        return _thin_recipe(lots, defaults), ()
    return choose(lots, rung)


def _rung_notes(rung: Eligibility, defaults: Outlook | None) -> tuple[str, ...]:
    if rung.curve == "pulled":
        return (f"{rung.reasons[0]}: {_prior_words(defaults)}", *rung.reasons[1:])
    unused = (
        (f"the lots are enough to stand alone: {defaults.basis.source} lends them no slide",)
        if defaults
        else ()
    )
    return (*rung.reasons, *unused)


def _errors(
    lots: LotSource, within: FixedEffectsFit, defaults: Outlook | None, *, pulled: bool
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


def _support_of(tally: LotCounts, sex: str) -> Support:
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
