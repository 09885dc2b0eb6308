"""Where prices and the plan come from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, wraps
from typing import TYPE_CHECKING, Any

import click

from slidefit.errors import SlidefitError

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.futures_contracts import FuturesQuote
    from slidefit.market.market_fit import MarketFit
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan
    from slidefit.regions.region import Region
    from slidefit.report.document import Document


USUAL_FIT = "slide.json"
SlideAsked = tuple[list[str] | None, list[float] | None, list[int] | None]
"""Sexes, weights [lb] and months of a slide; None for all."""


@dataclass(frozen=True)
class PriceSource:
    """A fit, or a region's file in its place: one of the two."""

    fit: MarketFit | None = None
    region: Region | None = None

    def outlook(self, quotes: Sequence[FuturesQuote] = ()) -> Outlook:
        """Return the price outlook, with quotes of futures in place of a fit's own if there are any."""
        if self.region is None:
            fit = self.known_fit
            return (fit.with_quotes(quotes) if quotes else fit).outlook()
        from slidefit.market.blend import futures_outlook
        from slidefit.regions.region_outlook import outlook_of_region

        return futures_outlook(outlook_of_region(self.region, date.today()), quotes)

    @property
    def known_fit(self) -> MarketFit:
        """The fit; asked for only where it is not a region."""
        assert self.fit is not None
        return self.fit

    def slides(self, asked: SlideAsked, *, allow_unseen: bool = False) -> list[dict[str, Any]]:
        """Return the slide by sex, weight and month; months never seen only with ``allow_unseen``."""
        wanted: dict[str, Any] = {
            **dict(zip(("sexes", "weights_lb", "months"), asked, strict=True)),
            "allow_unseen": allow_unseen,
        }
        if self.region is None:
            from slidefit.market.fit.slide_model import slide_rows

            return slide_rows(self.known_fit.model, **wanted)
        from slidefit.regions.region_outlook import region_slides
        from slidefit.report.formatting import rows_of

        return rows_of(region_slides(self.region, **wanted))

    def season(self) -> pd.DataFrame:
        """Return the season by month."""
        if self.region is None:
            return self.known_fit.season()
        from slidefit.regions.region_outlook import region_season

        return region_season(self.region)

    @property
    def name(self) -> str:
        """What the prices are of: the region, or the markets' names."""
        if self.region:
            return self.region.name
        return ", ".join(each for each in self.known_fit.basis.markets if each) or "Local"

    def selling(self) -> dict[str, float]:
        """Return a region's typical costs of selling, as fields of the quick question; none are known of a fit."""
        if self.region is None:
            return {}
        terms = self.region.selling
        heads = (terms.commission_head, terms.yardage_head, terms.checkoff_head, terms.freight_head)
        told = {
            "commission_pct": terms.commission_pct, "shrink_pct": terms.shrink_pct,
            "selling_head": sum(each or 0.0 for each in heads),
        }  # fmt: skip
        return {name: value for name, value in told.items() if value}

    def season_answer(self) -> dict[str, Any]:
        """Return the season as JSON has it."""
        from slidefit.report.json_answers import region_season_answer, season_answer

        return season_answer(self.known_fit) if self.region is None else region_season_answer(self.region)

    def slide_content(self, slides: Sequence[dict[str, Any]]) -> Document:
        """Return the slide as a document."""
        if self.region is None:
            from slidefit.report.market_content import slide_content

            return slide_content(self.known_fit, slides)
        from slidefit.report.regions.region_content import region_slide_content

        return region_slide_content(self.region, slides)

    def season_content(self) -> Document:
        """Return the season as a document."""
        if self.region is None:
            from slidefit.report.market_content import season_content

            return season_content(self.known_fit)
        from slidefit.report.regions.region_content import region_season_content

        return region_season_content(self.region)

    def plan(self, plan: Plan) -> Plan:
        """Return the plan, with a region's typical costs of selling where it has no [selling] of its own."""
        if self.region is None:
            return plan
        from slidefit.decision.comparison import with_region_terms

        return with_region_terms(plan, self.region)


@dataclass(frozen=True)
class MarketChoice:
    """What the words of a command name: a fit or a region's file."""

    fit_path: str | None
    region_path: str | None
    futures_path: str | None = None

    def outlook(self, plan: Plan | None = None) -> Outlook:
        """Return the price outlook, with the quotes of a file of futures in place of its own where one is named.

        A plan that types its own prices needs neither fit nor region.
        """
        if plan is not None and plan.prices is not None:
            from slidefit.decision.typed_prices import outlook_for

            return outlook_for(None, plan)
        if self.futures_path is None:
            return self.source.outlook()
        from slidefit.records.futures_quotes import read_quotes

        return self.source.outlook(read_quotes(self.futures_path).quotes)

    @cached_property
    def source(self) -> PriceSource:
        """The fit or the region, read."""
        if self.region_path is not None:
            if self.fit_path is not None:
                raise SlidefitError("is given beside --fit", where="--region", remedy="Keep one of the two.")
            from slidefit.regions.region_file import read_region

            return PriceSource(region=read_region(self.region_path))
        from slidefit.market.saved_fit import load_fit

        return PriceSource(load_fit(self.fit_path or USUAL_FIT))


def market_option(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command ``--fit`` and ``--region``; it gets them as one ``market`` of type MarketChoice."""

    @click.option(
        "--fit",
        "fit_path",
        type=click.Path(),
        help=f"A fit, as saved by 'fit' (without either option: {USUAL_FIT}).",
    )
    @click.option(
        "--region",
        "region_path",
        type=click.Path(),
        help="A region file in place of a fit, from 'region make' or written by hand.",
    )
    @wraps(command)
    def with_market(*words: Any, fit_path: str | None, region_path: str | None, **named: Any) -> None:
        command(*words, market=MarketChoice(fit_path, region_path), **named)

    return with_market


quotes_option = click.option(
    "--futures",
    type=click.Path(),
    help="A file of futures settlements beside those of the book: day, contract month, settlement.",
)


def known_quotes(book: str, path: str | None) -> tuple[FuturesQuote, ...]:
    """Return the quotes of futures that the book holds, and those of a file."""
    from slidefit.records.sale_book import SaleBook

    kept = SaleBook(book).quotes()
    if not path:
        return kept
    from slidefit.records.futures_quotes import read_quotes

    return (*kept, *read_quotes(path).quotes)


def futures_option(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command that takes a ``market`` (see `market_option`) ``--futures`` beside it."""

    @click.option(
        "--futures",
        "futures_path",
        type=click.Path(),
        help="Futures settlements for this run: a file with the day, the contract month and the settlement.",
    )
    @wraps(command)
    def with_futures(*words: Any, market: MarketChoice, futures_path: str | None, **named: Any) -> None:
        command(*words, market=replace(market, futures_path=futures_path), **named)

    return with_futures


ForwardWords = tuple[str, str, float, float]


@dataclass(frozen=True)
class PlanChoice:
    """A plan's file and what the command's words add to it."""

    path: str
    forward: tuple[ForwardWords, ...]
    allow_unseen: bool

    def read(self, market: MarketChoice) -> Plan:
        """Return the plan, checked with all that was added."""
        from slidefit.decision.choices import nearest_name
        from slidefit.plan.plan_file import build_plan, read_plan

        plan = read_plan(self.path)
        plan = plan if plan.prices is not None else market.source.plan(plan)
        if not self.forward and not self.allow_unseen:
            return plan
        raw = plan.model_dump(mode="json", exclude_unset=True, exclude_none=True)
        names = [group["name"] for group in raw["groups"]]
        for group, month, weight_lb, price_cwt in self.forward:
            if group not in names:
                raise nearest_name(group, names, "group")
            table = raw["groups"][names.index(group)]
            kept = [each for each in table.get("forward", ()) if each["month"] != month]
            added = {"month": month, "weight_lb": weight_lb, "price_cwt": price_cwt, "name": "--forward"}
            table["forward"] = [*kept, added]
        if self.allow_unseen:
            raw.setdefault("risk", {})["unseen_months"] = True
        return build_plan(raw, self.path)


def plan_option(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the argument PLAN, ``--forward`` and ``--allow-unseen``; it gets them as one PlanChoice."""

    @click.argument("plan", type=click.Path())
    @click.option(
        "--forward",
        nargs=4,
        type=(str, str, float, float),
        multiple=True,
        metavar="GROUP YYYY-MM LB PRICE",
        help="Go by this price, in dollars per hundredweight, for a group's calves at a weight, in pounds, in a "
        "month to come; may be given several times.",
    )
    @click.option(
        "--allow-unseen",
        is_flag=True,
        help="Compare months that no sale was seen in, too, with a wider range.",
    )
    @wraps(command)
    def with_plan(
        *words: Any, plan: str, forward: tuple[ForwardWords, ...], allow_unseen: bool, **named: Any
    ) -> None:
        command(*words, plan=PlanChoice(plan, forward, allow_unseen), **named)

    return with_plan
