"""Fit, slide, season, backtest."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from datetime import datetime
from typing import TYPE_CHECKING

import click

from slidefit.cli.inputs import MarketChoice, known_quotes, market_option, quotes_option
from slidefit.cli.speaking import book_option, json_option, progress_words, say

if TYPE_CHECKING:
    from slidefit.market.fit.fixed_effects import Engine


DAY = click.DateTime(["%Y-%m-%d"])


def _engine(name: str, scheduler: str | None) -> AbstractContextManager[Engine | None]:
    """Return the place to work on the lots; None is here."""
    if name == "here":
        if scheduler:
            raise click.UsageError("--scheduler goes with --engine dask.")
        return nullcontext()
    if not scheduler:
        raise click.UsageError(
            "--engine dask needs --scheduler ADDRESS, the address that 'dask scheduler' prints."
        )
    from slidefit.scale.dask_engine import dask_engine

    return dask_engine(scheduler)


@click.command()
@book_option
@click.option("--market", "markets", multiple=True, help="Only this market; may be given several times.")
@click.option("--since", type=DAY, help="Only sales from this day on (YYYY-MM-DD).")
@click.option("--until", type=DAY, help="Only sales up to this day (YYYY-MM-DD).")
@click.option(
    "--region",
    type=click.Path(),
    metavar="FILE.toml",
    help="A region file to pool with records too thin to stand alone.",
)
@click.option(
    "--out", default="slide.json", show_default=True, type=click.Path(), help="Where the fit is saved."
)
@click.option(
    "--engine",
    type=click.Choice(["here", "dask"]),
    default="here",
    show_default=True,
    help="Where the lots are worked on: in this program, or on a Dask cluster.",
)
@click.option("--scheduler", metavar="ADDRESS", help="Of the Dask cluster, such as tcp://10.0.0.5:8786.")
@quotes_option
@json_option
def fit(
    book: str,
    markets: tuple[str, ...],
    since: datetime | None,
    until: datetime | None,
    region: str | None,
    out: str,
    engine: str,
    scheduler: str | None,
    futures: str | None,
    as_json: bool,
) -> None:
    """Fit the slide and the season to the book's records, and save the fit."""
    from slidefit.market.market_fit import fit_market
    from slidefit.market.saved_fit import save_fit
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.market_content import fit_content

    records = SaleBook(book).table(
        market=list(markets) or None,
        since=since.date() if since else None,
        until=until.date() if until else None,
    )
    defaults = MarketChoice(None, region).outlook() if region else None
    with _engine(engine, scheduler) as place:
        fitted = fit_market(
            records,
            defaults=defaults,
            quotes=known_quotes(book, futures),
            engine=place,
            progress=progress_words(),
        )
    save_fit(fitted, out)
    say(fitted, lambda: fit_content(fitted, out), as_json=as_json, beside={"fit": out})


@click.command()
@market_option
@click.option(
    "--sex", "sexes", multiple=True, type=click.Choice(["steer", "heifer", "bull"]), help="Sex of the calf."
)
@click.option(
    "--weight",
    "weights",
    multiple=True,
    type=float,
    metavar="LB",
    help="Middle of the 100-lb step, in pounds: 550 is 500 to 600 lb.",
)
@click.option(
    "--month",
    "months",
    multiple=True,
    type=click.IntRange(1, 12),
    metavar="M",
    help="Calendar month, 1 to 12.",
)
@click.option("--allow-unseen", is_flag=True, help="Answer for a month that no sale was seen in, too.")
@json_option
def slide(
    market: MarketChoice,
    sexes: tuple[str, ...],
    weights: tuple[float, ...],
    months: tuple[int, ...],
    allow_unseen: bool,
    as_json: bool,
) -> None:
    """Show the slide: how far price falls per hundredweight of added weight, with its interval."""
    asked = list(sexes) or None, list(weights) or None, list(months) or None
    slides = market.source.slides(asked, allow_unseen=allow_unseen)
    say({"slides": slides}, lambda: market.source.slide_content(slides), as_json=as_json)


@click.command()
@market_option
@json_option
def season(market: MarketChoice, as_json: bool) -> None:
    """Show the season: the standard calf's price by calendar month, year mean = 100."""
    say(market.source.season_answer(), market.source.season_content, as_json=as_json)


@click.command()
@book_option
@click.option("--market", "markets", multiple=True, help="Only this market; may be given several times.")
@click.option(
    "--wean-month", type=click.IntRange(1, 12), metavar="M", help="Only decisions of this calendar month."
)
@click.option(
    "--months-kept",
    type=click.IntRange(1, 9),
    default=4,
    show_default=True,
    help="Months kept in the yearly table and picture.",
)
@click.option("--plan", type=click.Path(), help="Replay this plan's first group on its best program.")
@click.option(
    "--out", type=click.Path(), metavar="FILE.png", help="Draw the money year by year, as .png or .svg."
)
@quotes_option
@json_option
def backtest(
    book: str,
    markets: tuple[str, ...],
    wean_month: int | None,
    months_kept: int,
    plan: str | None,
    futures: str | None,
    out: str | None,
    as_json: bool,
) -> None:
    """Replay every past month with what was known then: how good the forecasts were, and what the advice made."""
    from slidefit.decision.replay import keeping_of_plan, replay
    from slidefit.market.backtest import backtest as replay_market
    from slidefit.plan.plan_file import read_plan
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.json_answers import backtest_answer
    from slidefit.report.market_content import backtest_content

    wanted = read_plan(plan) if plan else None
    records = SaleBook(book).table(markets)
    test = replay_market(records, quotes=known_quotes(book, futures), progress=progress_words())
    keeping = keeping_of_plan(test.origins[-1].outlook, wanted)
    money = replay(test.of_month(wean_month), keeping)
    if out:
        from slidefit.report.charts.answer_charts import replay_chart
        from slidefit.report.render.pictures import write_picture

        write_picture(replay_chart(money, months_kept), out)
    say(
        backtest_answer(test, money, months_kept),
        lambda: backtest_content(test, money, months_kept),
        as_json=as_json,
    )
