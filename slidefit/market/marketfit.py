"""The fit of a market: the slide, the season and what they rest on, made from tidy records."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.market.choose import Candidate, choose, ladder
from slidefit.market.design import Recipe
from slidefit.market.drift import slide_drift
from slidefit.market.gates import GRADE_ROWS, SEX_ROWS, Rung, recipe_for, rung_of, unseen_months
from slidefit.market.index import PriceIndex, price_index
from slidefit.market.lots import SEXES, Lots, crop_year, lots_of
from slidefit.market.outlook import Outlook, OutlookBasis
from slidefit.market.publish import level_today, outlook_of
from slidefit.market.season import Season, fit_season
from slidefit.market.seasonality import season_table
from slidefit.market.slides import ErrorRule, SlideModel, Support, slide_table
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
class MarketFit:
    """A fitted market.

    Attributes
    ----------
    model : SlideModel
    season_fit : Season
    index : PriceIndex
    spread : Spread
        Lot-to-lot and calf-to-calf spread of the standard grade.
    drift_cwt : float [log points per cwt]
        Spread of the slide from sale to sale.
    grade_place : mapping of grade to its place in the recipe
    markets : tuple of str
    basis : OutlookBasis
    currency : str
    candidates : tuple of Candidate
        The models that were compared; empty where the records allow no choice.
    left_out : int
        Lots over eight standard deviations off, taken for misprints.
    notes : tuple of str
        What the reader must know, in words.
    """

    model: SlideModel
    season_fit: Season
    index: PriceIndex
    spread: Spread
    drift_cwt: float
    grade_place: Mapping[str, int]
    markets: tuple[str, ...]
    basis: OutlookBasis
    currency: str
    candidates: tuple[Candidate, ...]
    left_out: int
    notes: tuple[str, ...]

    def slide(
        self,
        sex: str | Sequence[str] | None = None,
        weight_lb: float | Sequence[float] | None = None,
        month: int | Sequence[int | None] | None = None,
        *,
        allow_unseen: bool = False,
    ) -> pd.DataFrame:
        """Return the slide by sex, weight and month with intervals; see `slides.slide_table`.

        Raises
        ------
        FitError
            A sex, weight or month that the records don't reach.
        """
        return slide_table(
            self.model,
            sexes=[sex] if isinstance(sex, str) else sex,
            weights_lb=[float(weight_lb)] if isinstance(weight_lb, int | float) else weight_lb,
            months=[month] if isinstance(month, int) or month is None else month,
            allow_unseen=allow_unseen,
        )

    def season(self) -> pd.DataFrame:
        """Return the season index by calendar month (year mean = 100); see `seasonality.season_table`."""
        return season_table(self.season_fit)

    def outlook(self, market: str | None = None) -> Outlook:
        """Return the price outlook, for one market or for all of them together.

        Raises
        ------
        FitError
            A market that the fit doesn't hold.
        """
        offset = 0.0
        if market is not None:
            if market not in self.markets:
                raise FitError(
                    f"the fit holds no market {market!r}", remedy=f"Use one of: {', '.join(self.markets)}."
                )
            offset = float(self.index.market_offset[self.markets.index(market)])
        return outlook_of(
            self.model,
            self.season_fit,
            spread=self.spread,
            sale_sd=self.index.sale_sd,
            drift_cwt=self.drift_cwt,
            grades=self.grade_place,
            basis=self.basis,
            currency=self.currency,
            market_offset=offset,
            notes=self.notes,
        )


def fit_market(records: pd.DataFrame, *, progress: Progress | None = None) -> MarketFit:
    """Fit the slide and the season to tidy sale records.

    Parameters
    ----------
    records : DataFrame
        Tidy sale records of one currency.
    progress : callable, optional
        Told in a word or two what is being done.

    Raises
    ------
    FitError
        No usable record, mixed currencies, or no sale with two lots to compare.
    """
    tell = progress or (lambda _: None)
    tell("sorting lots")
    lots, thin = _lots_with_curves(records)
    if np.bincount(lots.sale).max() < 2:
        raise FitError(
            f"no two of the {len(lots):,} lots were sold at the same market on the same day",
            remedy="The slide is read within sales: add whole sales, or name the market (--market) if it was lost.",
        )
    tell("choosing the slide")
    rung = rung_of(lots)
    recipe, candidates = _choose(lots, rung)
    pulled = rung.curve == "pulled"
    pull = usual_pull(recipe) if pulled else None
    tell("fitting the slide")
    within = fit_within(lots, recipe, pull)
    tell("fitting the season")
    index = price_index(lots, within)
    season = fit_season(index)
    rule, covariance, rule_note = _errors(lots, within, pulled=pulled)
    drift = slide_drift(lots, within)
    now = level_today(season, within.level_mean)
    model = SlideModel(
        recipe=recipe,
        coef=within.solution.coef,
        cov=covariance,
        rule=rule,
        level_mean=within.level_mean,
        level_now=now,
        level_range=(float(within.level.min()), float(within.level.max())),
        unseen_months=unseen_months(lots),
        support={sex: _support(lots, sex) for sex in recipe.sexes},
    )
    left_out = int((~within.kept).sum())
    return MarketFit(
        model=model,
        season_fit=season,
        index=index,
        spread=_standard_spread(lots, within),
        drift_cwt=drift,
        grade_place=dict(zip(lots.grades, recipe.grade_of, strict=True)),
        markets=lots.markets,
        basis=_basis(lots),
        currency=lots.currency,
        candidates=candidates,
        left_out=left_out,
        notes=(
            *rung.reasons,
            *rule_note,
            *season.notes,
            *thin,
            *_cell_notes(lots, recipe),
            *_left_out_note(left_out),
        ),
    )


def _lots_with_curves(records: pd.DataFrame) -> tuple[Lots, tuple[str, ...]]:
    """Return the lots of the sexes with rows enough for a curve of their own, and a note on those left out."""
    lots = lots_of(records)
    rows = np.bincount(lots.sex, minlength=len(SEXES))
    enough = rows >= SEX_ROWS if (rows >= SEX_ROWS).any() else np.arange(len(SEXES)) == np.argmax(rows)
    thin = [sex for place, sex in enumerate(SEXES) if rows[place] and not enough[place]]
    if not thin:
        return lots, ()
    told = ", ".join(f"{rows[SEXES.index(s)]} lots of {s}s" for s in thin)
    note = f"too few for a curve of their own (it takes {SEX_ROWS} lots), left out: {told}"
    return lots_of(records[~records["sex"].isin(thin)]), (note,)


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


def _basis(lots: Lots) -> OutlookBasis:
    first, last = (np.datetime64(int(d), "D").astype(date) for d in (lots.sale_day[0], lots.sale_day[-1]))
    return OutlookBasis(
        source="sale records",
        lots=len(lots),
        head=int(np.nansum(lots.head)),
        sales=lots.sales,
        markets=lots.markets,
        first_sale=first,
        last_sale=last,
    )


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
