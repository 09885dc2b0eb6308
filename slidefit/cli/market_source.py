"""Where a command's prices come from: a fit, or a region's default file in its place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property, wraps
from typing import TYPE_CHECKING, Any

import click

from slidefit.cli.speaking import width
from slidefit.errors import SlidefitError

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.decision.plan import Plan
    from slidefit.market.marketfit import MarketFit
    from slidefit.market.outlook import Outlook
    from slidefit.regions.region import Region

USUAL_FIT = "slide.json"


@dataclass(frozen=True)
class FitSource:
    """A fit's slide, season and outlook."""

    fit: MarketFit

    def outlook(self) -> Outlook:
        """Return the price outlook."""
        return self.fit.outlook()

    def slides(
        self,
        sexes: Sequence[str],
        weights: Sequence[float],
        months: Sequence[int],
        *,
        allow_unseen: bool = False,
    ) -> pd.DataFrame:
        """Return the slide by sex, weight and month; months never seen only with ``allow_unseen``."""
        return self.fit.slide(
            list(sexes) or None, list(weights) or None, list(months) or None, allow_unseen=allow_unseen
        )

    def season(self) -> pd.DataFrame:
        """Return the season by month."""
        return self.fit.season()

    def season_document(self) -> dict[str, Any]:
        """Return the season as a JSON document."""
        from slidefit.market.documents import season_document

        return season_document(self.fit)

    def slide_text(self, slides: pd.DataFrame) -> str:
        """Return the slide as text."""
        from slidefit.show.market_text import slide_text

        return slide_text(self.fit, slides, width=width())

    def season_text(self) -> str:
        """Return the season as text."""
        from slidefit.show.market_text import season_text

        return season_text(self.fit, width=width())

    def plan(self, plan: Plan) -> Plan:
        """Return the plan as it is."""
        return plan


@dataclass(frozen=True)
class RegionSource:
    """The same of a region's file."""

    region: Region

    def outlook(self) -> Outlook:
        """Return the price outlook, with a word on the file's age."""
        from slidefit.regions.to_outlook import outlook_of_region

        return outlook_of_region(self.region, date.today())

    def slides(
        self,
        sexes: Sequence[str],
        weights: Sequence[float],
        months: Sequence[int],
        *,
        allow_unseen: bool = False,
    ) -> pd.DataFrame:
        """Return the slide by sex, weight and month; months never seen only with ``allow_unseen``."""
        from slidefit.regions.tables import region_slides

        return region_slides(
            self.region,
            sexes=list(sexes) or None,
            weights_lb=list(weights) or None,
            months=list(months) or None,
            allow_unseen=allow_unseen,
        )

    def season(self) -> pd.DataFrame:
        """Return the season by month."""
        from slidefit.regions.tables import region_season

        return region_season(self.region)

    def season_document(self) -> dict[str, Any]:
        """Return the season as a JSON document."""
        from slidefit.regions.documents import season_document

        return season_document(self.region)

    def slide_text(self, slides: pd.DataFrame) -> str:
        """Return the slide as text."""
        from slidefit.show.region_text import region_slide_text

        return region_slide_text(self.region, slides, width=width())

    def season_text(self) -> str:
        """Return the season as text."""
        from slidefit.show.region_text import region_season_text

        return region_season_text(self.region, width=width())

    def plan(self, plan: Plan) -> Plan:
        """Return the plan, with the region's typical costs of selling where it has no [selling] of its own."""
        from slidefit.decision.region_terms import with_region_terms

        return with_region_terms(plan, self.region)


@dataclass(frozen=True)
class MarketChoice:
    """What the words of a command name: a fit or a region's file."""

    fit_path: str | None
    region_path: str | None

    @cached_property
    def source(self) -> FitSource | RegionSource:
        """The fit or the region, read.

        Raises
        ------
        SlidefitError
            Both are named, or the file is at fault.
        """
        if self.region_path is not None:
            if self.fit_path is not None:
                raise SlidefitError("is given beside --fit", where="--region", remedy="Keep one of the two.")
            from slidefit.regions.reading import read_region

            return RegionSource(read_region(self.region_path))
        from slidefit.market.saved import load_fit

        return FitSource(load_fit(self.fit_path or USUAL_FIT))


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
        help="A region's default file in place of a fit, as made by 'region make' or by hand.",
    )
    @wraps(command)
    def with_market(*words: Any, fit_path: str | None, region_path: str | None, **named: Any) -> None:
        command(*words, market=MarketChoice(fit_path, region_path), **named)

    return with_market
