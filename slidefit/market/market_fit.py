"""The fit of a market: the slide, the season and what they rest on, made from tidy records."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.futures_contracts import FuturesQuote
from slidefit.market.blend import futures_outlook, market_basis, own_record
from slidefit.market.checks import Verdict, barn_notes, check_notes, check_residuals, verdict_of
from slidefit.market.fit.coding import CodedLots, RecordTable, coded_lots
from slidefit.market.fit.counts import class_notes
from slidefit.market.fit.fit_results import FitResults, SaleMeans, sale_means, with_units
from slidefit.market.fit.fixed_effects import Engine, PriceIndex, price_index
from slidefit.market.fit.lots import LotSource
from slidefit.market.fit.slide_fit import FittedSlide, fit_slide
from slidefit.market.fit.slide_model import slide_rows
from slidefit.market.fit.stability import (
    YearSlide,
    disagreements,
    fit_robust,
    grade_jumps,
    robust_notes,
    year_notes,
    year_slides,
)
from slidefit.market.futures import MonthBasis, QuoteHistory
from slidefit.market.outlook import Outlook, OutlookBasis
from slidefit.market.past_record import PastRecord
from slidefit.market.season import Season, fit_season, season_rows
from slidefit.market.structural import as_statsmodels
from slidefit.market.to_outlook import grade_offsets, level_today, sex_curve

if TYPE_CHECKING:
    import pandas as pd
    from statsmodels.tsa.statespace.structural import UnobservedComponents

_SLIDE_UNITS = {
    **dict.fromkeys(("from_lb", "to_lb"), "lb"),
    **dict.fromkeys(("percent_per_cwt", "percent_low", "percent_high"), "percent per cwt"),
    **dict.fromkeys(("percent_today", "percent_today_low", "percent_today_high"), "percent per cwt"),
    **dict.fromkeys(("price_cwt", "price_today_cwt"), "$/cwt"),
    **dict.fromkeys(("dollars_per_cwt_per_cwt", "dollars_today"), "$/cwt per cwt"),
}
FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]


@dataclass(frozen=True, repr=False)
class MarketFit(FitResults):
    """A fitted market.

    Attributes
    ----------
    slide_fit : FittedSlide
        At today's price level.
    season_fit : Season
    index : PriceIndex
    grade_place : mapping of grade to its place in the recipe
    basis : OutlookBasis
    currency : str
    verdict : Verdict
        Whether the records are enough.
    years : tuple of YearSlide
        The slide of each crop year.
    notes : tuple of str
        What the reader must know, in words.
    month_basis : MonthBasis, optional
        Cash less futures by month, where the book holds a year of quotes.
    quotes : tuple of FuturesQuote
        The newest contracts.
    record : PastRecord, optional
        What past forecasts of these records were worth, or of ours where they are too few.
    sales : SaleMeans, optional
        The absorbed sales, for `predict`; not kept in a file.
    """

    slide_fit: FittedSlide
    season_fit: Season
    index: PriceIndex
    grade_place: Mapping[str, int]
    basis: OutlookBasis
    currency: str
    verdict: Verdict
    years: tuple[YearSlide, ...]
    notes: tuple[str, ...]
    month_basis: MonthBasis | None = None
    quotes: tuple[FuturesQuote, ...] = ()
    record: PastRecord | None = None
    sales: SaleMeans | None = field(default=None, compare=False, metadata={"saved": False})

    @property
    def label(self) -> str:
        """The slide's model in words."""
        if self.slide_fit.candidates:
            return next(c.label for c in self.slide_fit.candidates if c.chosen)
        other = "a region's" if self.model.rule.kind == "lot and region" else "the usual"
        return f"{self.model.recipe.curves[0].kind}, pulled toward {other} slide"

    def slide(
        self,
        sex: str | Sequence[str] | None = None,
        weight_lb: float | Sequence[float] | None = None,
        month: int | Sequence[int | None] | None = None,
        *,
        allow_unseen: bool = False,
    ) -> pd.DataFrame:
        """Return the slide by sex, weight and month with intervals; see `slide_model.slide_rows`.

        Raises
        ------
        FitError
            A sex, weight or month that the records don't reach.
        """
        import pandas as pd

        rows = slide_rows(
            self.model,
            sexes=[sex] if isinstance(sex, str) else sex,
            weights_lb=[float(weight_lb)] if isinstance(weight_lb, int | float) else weight_lb,
            months=[month] if isinstance(month, int) or month is None else month,
            allow_unseen=allow_unseen,
        )
        return with_units(pd.DataFrame(rows).astype({"month": "Int64"}), _SLIDE_UNITS)

    def season(self) -> pd.DataFrame:
        """Return the season index by calendar month (year mean = 100); see `season.season_rows`."""
        import pandas as pd

        table = pd.DataFrame(season_rows(self.season_fit))
        return with_units(table, dict.fromkeys(("index", "low", "high"), "year mean = 100"))

    def season_model(self) -> UnobservedComponents:
        """Return level, season and noise of the price index as a statsmodels model: ``fit()`` it for tests and plots.

        See `structural.as_statsmodels` for the scale, and for what differs from the season that prices rest on.
        """
        return as_statsmodels(self.index.sale_day, self.index.sale_log, self.season_fit.harmonics)

    def outlook(self, market: str | None = None) -> Outlook:
        """Return the price outlook, for one market or for all of them together.

        Raises
        ------
        FitError
            A market that the fit doesn't hold.
        """
        offset = 0.0
        if market is not None:
            markets = self.basis.markets
            if market not in markets:
                raise FitError(
                    f"the fit holds no market {market!r}", remedy=f"Use one of: {', '.join(markets)}."
                )
            offset = float(self.index.market_offset[markets.index(market)])
        slide, season, local = self.slide_fit, self.season_fit, self.month_basis
        model = slide.model
        outlook = Outlook(
            **{**season.of_outlook(), "log_level": season.level_log + offset},
            currency=self.currency,
            curves={sex: sex_curve(model, sex, slide.drift_cwt) for sex in model.recipe.sexes},
            grades=grade_offsets(model, self.grade_place),
            head_slope=float(model.coef[-1]) if model.recipe.head else 0.0,
            lot_sd=slide.spread.lot_sd,
            calf_sd=slide.spread.calf_sd,
            sale_sd=season.sale_sd,
            basis=self.basis,
            unseen_months=model.unseen_months,
            notes=self.notes,
            drift_slope=model.now.slope,
            drift_week_share=float(np.nan_to_num(model.now.week_ar)),
            month_basis=replace(local, log=local.log + offset) if local is not None else None,
            range_scale=self.record.range_scale if self.record is not None else (),
            record=self.record,
        )
        return futures_outlook(outlook, self.quotes)

    def with_quotes(self, quotes: Sequence[FuturesQuote]) -> MarketFit:
        """Return the fit with other quotes: the newest go into the outlook, a year of older ones tells the basis."""
        history = QuoteHistory(quotes)
        level = level_today(self.season_fit, self.model.level_mean)
        basis = market_basis(self.model, self.index, level, history) or self.month_basis
        return replace(self, month_basis=basis, quotes=history.newest())


def fit_market(
    records: pd.DataFrame | RecordTable,
    *,
    defaults: Outlook | None = None,
    quotes: Sequence[FuturesQuote] = (),
    engine: Engine | None = None,
    progress: Progress | None = None,
) -> MarketFit:
    """Fit the slide and the season to tidy sale records.

    Parameters
    ----------
    records, defaults, quotes : as in `slidefit.fit`; the table of a sale book never stands in memory whole
    engine : Engine, optional
        Where the chunks of lots are worked on; here by default.
    progress : callable, optional
        Told in a few words what is being done, and of many lots how many are done.

    Raises
    ------
    FitError
        No usable record, mixed currencies, or no sale with two lots to compare.

    Notes
    -----
    Linear algebra runs on one thread: its matrices are narrow, and more threads only wait for each other (on a busy
    machine of two cores a fit took 82 s with the default and 5 s of processor time with one).
    """
    tell = progress or (lambda _: None)
    tell("sorting lots")
    with coded_lots(records, tell, defaults.curves if defaults else ()) as coded:
        return fit_coded(coded, defaults=defaults, quotes=quotes, engine=engine, progress=tell)


def fit_coded(
    coded: CodedLots,
    *,
    defaults: Outlook | None = None,
    quotes: Sequence[FuturesQuote] = (),
    engine: Engine | None = None,
    progress: Progress | None = None,
) -> MarketFit:
    """Fit lots that are coded already; as `fit_market`."""
    from threadpoolctl import threadpool_limits

    tell, lots = progress or (lambda _: None), coded.lots
    with threadpool_limits(limits=1):
        slide = fit_slide(lots, defaults=defaults, engine=engine, progress=tell)
        tell("fitting the season")
        history = QuoteHistory(quotes) if quotes else None
        fitted = market_fit(lots, slide, defaults=defaults, history=history, notes=coded.notes)
        tell("looking back at past forecasts")
        base = replace(fitted, month_basis=None, quotes=(), record=None).outlook()
        record = own_record(base, fitted.model, fitted.index, fitted.season_fit.sale_sd, history, defaults)
        fitted = replace(fitted, record=record, years=year_slides(lots, slide.within, fitted.model))
        tell("checking the fit")
        barns = barn_notes(lots.markets, lots.sale_market, lots.sale_day)
        notes = (*fitted.notes, *barns, *class_notes(coded.classes), *_second_look(lots, slide, fitted))
        sales = sale_means(lots, slide.within, slide.model.recipe, slide.model.coef)
    return replace(fitted, notes=notes, sales=sales)


def _second_look(lots: LotSource, slide: FittedSlide, fitted: MarketFit) -> tuple[str, ...]:
    """Return what checks beside the main fit found, in words."""
    within = slide.within
    outliers: tuple[str, ...] = ()
    if not slide.pulled:
        robust = fit_robust(lots, within)
        outliers = robust_notes(robust, disagreements(within, robust, fitted.model))
    return (
        *outliers,
        *year_notes(fitted.years, grade_jumps(lots, within)),
        *check_notes(check_residuals(fitted.season_fit.innovations)),
    )


def market_fit(
    lots: LotSource,
    slide: FittedSlide,
    *,
    defaults: Outlook | None = None,
    history: QuoteHistory | None = None,
    notes: tuple[str, ...] = (),
) -> MarketFit:
    """Return the fit of a market from its slide, which holds the standard calf's price at each sale; no years yet.

    Parameters
    ----------
    lots : LotSource
        What is known: the level and the season are of these.
    slide : FittedSlide
        Of these lots.
    defaults : Outlook, optional
        What a history too short for a season of its own lends it from.
    history : QuoteHistory, optional
        Quotes of futures; those after the last sale go into the outlook too.
    """
    index = price_index(lots, slide.within)
    season = fit_season(index, defaults)
    level_now = level_today(season, slide.model.level_mean)
    slide = slide.at_level(level_now)
    if season.borrowed and defaults is not None:
        unseen = tuple(m for m in slide.model.unseen_months if m in defaults.unseen_months)
        slide = replace(slide, model=replace(slide.model, unseen_months=unseen))
    verdict = verdict_of(lots)
    return MarketFit(
        slide_fit=slide,
        season_fit=season,
        index=index,
        grade_place=dict(zip(lots.grades, slide.model.recipe.grade_of, strict=True)),
        basis=_basis(lots, verdict),
        currency=lots.currency,
        verdict=verdict,
        years=(),
        notes=(*slide.notes, *season.notes, *notes),
        month_basis=market_basis(slide.model, index, level_now, history) if history is not None else None,
        quotes=history.newest() if history is not None else (),
    )


def _basis(lots: LotSource, verdict: Verdict) -> OutlookBasis:
    first, last = (np.datetime64(int(d), "D").astype(date) for d in (lots.sale_day[0], lots.sale_day[-1]))
    return OutlookBasis(
        source="sale records",
        lots=len(lots),
        head=int(lots.tally.head.sum()),
        sales=lots.sales,
        markets=lots.markets,
        first_sale=first,
        last_sale=last,
        verdict=verdict.text(),
    )
