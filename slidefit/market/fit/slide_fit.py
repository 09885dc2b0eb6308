"""Stage 1 whole: chosen, pulled to its prior, fitted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.facts import Action, Text
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
    SHORT_HISTORY_INFLATION,
    UNKNOWN_SD,
    YEAR_CLUSTERS,
)
from slidefit.market.fit.counts import LotCounts, tallied_weights
from slidefit.market.fit.design import LB_PER_CWT, Recipe, WeightCurve, design, one_calf
from slidefit.market.fit.fixed_effects import Engine, FixedEffectsFit, fit_fixed_effects
from slidefit.market.fit.lots import SEXES, LotSource, crop_year
from slidefit.market.fit.prior import PooledSlope, pooled_coef, slide_prior, thin_prior, with_own_grades
from slidefit.market.fit.slide_model import (
    STEP_LB,
    ErrorRule,
    SlideModel,
    Support,
    drift_now,
    slide_drift,
)
from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook

FloatArray = NDArray[np.float64]


def _thin_recipe(lots: LotSource, defaults: Outlook | None) -> Recipe:
    """Return the columns of records too thin to choose: straight, or a region's bent curve to be moved by the lots."""
    recipe = recipe_for(lots, kind="straight", lent=defaults.curves if defaults else ())
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


Progress = Callable[[str], None]


@dataclass(frozen=True)
class FittedSlide:
    """The slide of a set of lots, with all that reading it takes.

    Attributes
    ----------
    model : SlideModel
        As it is read, at the records' mean price level or today's (`at_level`): pooled with the prior where there is
        one, a discount for each grade.
    spread : LotSpread. Lot-to-lot and calf-to-calf spread of the standard grade.
    candidates : tuple of CandidateModel. The models that were compared; empty where the records allow no choice.
    slopes : tuple of PooledSlope. How each sex's slide was pooled; empty without a prior.
    drift_cwt : float [log points per cwt]. Spread of the slide from sale to sale.
    left_out : int. Lots over eight standard deviations off, taken for misprints.
    pulled : bool. Whether the data are too thin to stand alone.
    notes : tuple of str
    fixed_effects : FixedEffectsFit, optional. The regression that it is read from; not kept in a file.
    """

    model: SlideModel
    spread: LotSpread
    candidates: tuple[CandidateModel, ...]
    slopes: tuple[PooledSlope, ...]
    drift_cwt: float
    left_out: int
    pulled: bool
    notes: tuple[str, ...]
    fixed_effects: FixedEffectsFit | None = field(default=None, compare=False, metadata={"saved": False})

    @property
    def within(self) -> FixedEffectsFit:
        """The regression within sales.

        Raises
        ------
        FitError. The fit was read from a file, which doesn't hold it.
        """
        if self.fixed_effects is None:
            raise FitError(
                "a fit read from a file holds no regression", remedy=Text(Action("fit"), " makes it anew.")
            )
        return self.fixed_effects

    def at_level(self, level_now: float) -> FittedSlide:
        """Return the slide as it is read at a price level about the records' mean [log points]."""
        recipe, coef = self.model.recipe, self.model.coef.copy()
        if not recipe.level:  # the region's rule carries the slide from the records' mean level to today's
            names = recipe.names()
            for slope in self.slopes:
                coef[names.index(f"{slope.sex}:weight0")] += slope.prior.level_slope * level_now
        return replace(self, model=replace(self.model, coef=coef, level_now=level_now))


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
    recipe : Recipe, optional. The model, where it was chosen before; otherwise it is chosen on these lots.
    defaults : Outlook, optional
        What the slide is pooled with by how little the lots know, such as that of a region's file; without one, lots
        too thin to stand alone lean on the usual slide.
    engine : Engine, optional. Where the chunks of lots are worked on; here by default.
    progress : callable, optional. Told in a word or two what is being done.
    """
    tell = progress or (lambda _: None)
    tell("choosing the slide")
    rung = eligibility_of(lots)
    candidates: tuple[CandidateModel, ...] = ()
    pulled = rung.curve == "pulled" or (rung.curve == "quadratic" and defaults is not None)
    if recipe is None:
        recipe, candidates = (_thin_recipe(lots, defaults), ()) if pulled else choose(lots, rung)
    tell("fitting the slide")
    within, pull = _fitted(lots, recipe, defaults, engine, tell, pulled=pulled)
    rule, coef, cov, slopes, rule_note = _pooled(lots, within, defaults, pull)
    wider, grade_coef, grade_cov = with_own_grades(recipe, coef, cov, lots.grades, within.grades, defaults)
    model = SlideModel(
        recipe=wider,
        coef=grade_coef,
        cov=grade_cov,
        rule=rule,
        level_mean=within.level_mean,
        level_now=0.0,
        level_range=(float(within.level.min()), float(within.level.max())),
        unseen_months=unseen_months(lots),
        support={sex: _support_of(lots.tally, sex) for sex in recipe.sexes},
        now=drift_now(lots, within),
    )
    left_out = len(within.dropped)
    gross = f"{left_out:,} lots priced over eight standard deviations from their own sale were left out"
    notes = (
        *_rung_notes(rung, defaults, slopes, pulled=pulled),
        *rule_note,
        *_cell_notes(lots, recipe),
        *((gross,) if left_out else ()),
    )
    return FittedSlide(
        model=model,
        spread=within.standard_spread,
        candidates=candidates,
        slopes=slopes,
        drift_cwt=slide_drift(within),
        left_out=left_out,
        pulled=pulled,
        notes=notes,
        fixed_effects=within,
    )


def _rung_notes(
    rung: Eligibility, defaults: Outlook | None, slopes: tuple[PooledSlope, ...], *, pulled: bool
) -> tuple[str, ...]:
    if pulled:
        return (f"{rung.reasons[0]}: {_prior_words(defaults)}", *rung.reasons[1:])
    lent = " and ".join(f"{1.0 - slope.share:.0%} for {slope.sex}s" for slope in slopes)
    counts = (
        (f"{defaults.basis.source} counts for {lent} of the slide at 550 lb",) if defaults and lent else ()
    )
    return (*rung.reasons, *counts)


_Pull = tuple[FloatArray, FloatArray]


def _fitted(
    lots: LotSource,
    recipe: Recipe,
    defaults: Outlook | None,
    engine: Engine | None,
    tell: Progress,
    *,
    pulled: bool,
) -> tuple[FixedEffectsFit, _Pull | None]:
    """Return the fit, and the prior that thin records were pulled to: a region's slide is carried to their level."""
    if not pulled:
        return fit_fixed_effects(lots, recipe, engine=engine, progress=tell), None
    level: float | None = None
    for _ in range(1 if defaults is None else 2):
        slides = [slide_prior(lots, sex, defaults, level) for sex in recipe.sexes]
        pull = thin_prior(recipe, slides, defaults)
        within = fit_fixed_effects(lots, recipe, pull, engine=engine, progress=tell)
        level = within.level_mean if level is None else level
    return within, pull


def _pooled(
    lots: LotSource, within: FixedEffectsFit, defaults: Outlook | None, pull: _Pull | None
) -> tuple[ErrorRule, FloatArray, FloatArray, tuple[PooledSlope, ...], tuple[str, ...]]:
    """Return the error rule, coefficients and covariance pooled with their prior, how, and what to say of it."""
    thin, coef = pull is not None, within.solution.coef
    if thin:
        kind = "lot and usual slide" if defaults is None else "lot and region"
        rule, cov = ErrorRule(kind, len(lots), 1.0), within.solution.bread
        note: tuple[str, ...] = ()
    else:
        rule, cov, note = _errors(lots, within, defaults)
    if not thin and defaults is None:
        return rule, coef, cov, (), note
    gradients = _slopes_of(within.recipe)
    names = within.recipe.names()
    lines = np.array([[float(name == f"{sex}:weight0") for name in names] for sex in within.recipe.sexes])
    slopes, shown = [], np.zeros(len(gradients), dtype=bool)
    for place, (sex, g) in enumerate(zip(within.recipe.sexes, gradients, strict=True)):
        if defaults is not None and sex not in defaults.curves and not thin:
            continue
        prior = slide_prior(lots, sex, defaults, within.level_mean if defaults is not None else None)
        own, variance = float(g @ coef), float(g @ cov @ g)
        if thin:  # the fit holds the prior already: take it off again
            known = max(1.0 / variance - 1.0 / prior.seen_var, UNKNOWN_SD**-2)
            own = (own / variance - prior.target / prior.seen_var) / known
            variance = 1.0 / known
        elif rule.kind == "crop year":  # years enough to hold their own straying, which is in their errors
            prior = replace(prior, stray_sd=0.0)
        lots_of_sex = int(lots.tally.sex_rows[SEXES.index(sex)])
        slopes.append(PooledSlope(sex, own, float(np.sqrt(variance)), lots_of_sex, prior))
        shown[place] = True
    coef, cov = pooled_coef(coef, cov, gradients[shown], lines[shown], slopes, thin=thin)
    return rule, coef, cov, tuple(slopes), note


def _slopes_of(recipe: Recipe) -> FloatArray:
    """Return each sex's slide around 550 lb as a function of the coefficients, at the mean level, shape (m, k)."""
    ends = [STANDARD_WEIGHT_LB - STEP_LB / 2.0, STANDARD_WEIGHT_LB + STEP_LB / 2.0]
    calves = [design(recipe, one_calf(recipe, sex, ends), season=False) for sex in recipe.sexes]
    return np.array([(rows[1] - rows[0]) * LB_PER_CWT / STEP_LB for rows in calves])


def _errors(
    lots: LotSource, within: FixedEffectsFit, defaults: Outlook | None
) -> tuple[ErrorRule, FloatArray, tuple[str, ...]]:
    """Return the error rule of records that stand alone, the covariance it goes with, and what to say of it."""
    sales = within.seen
    years = len(np.unique(crop_year(lots.sale_day[sales])))
    if years >= YEAR_CLUSTERS:
        return ErrorRule("crop year", years, 1.0), within.cov_year, ()
    short = (
        f"the sales span {years} of the {YEAR_CLUSTERS} crop years (July to June) that it takes "
        "to see the slide drift"
    )
    if defaults is not None:
        note = f"{short}: errors are clustered by sale, the drift is that of {defaults.basis.source}"
        return ErrorRule("sale", len(sales), 1.0), within.cov_sale, (note,)
    note = f"{short}: errors are clustered by sale and widened {SHORT_HISTORY_INFLATION:.0f} times"
    return ErrorRule("sale", len(sales), SHORT_HISTORY_INFLATION), within.cov_sale, (note,)


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
        notes.append(f"grades with under {GRADE_ROWS} lots draw on similar grades: {', '.join(pooled)}")
    if not recipe.head:
        notes.append("most lots have no head count: all lots weigh the same")
    return tuple(notes)
