"""The command that replays past forecasts and past decisions."""

from __future__ import annotations

from typing import Any

import click

from slidefit.cli.speaking import book_option, json_option, progress_words, say, width


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
@json_option
def backtest(
    book: str,
    markets: tuple[str, ...],
    wean_month: int | None,
    months_kept: int,
    plan: str | None,
    out: str | None,
    as_json: bool,
) -> None:
    """Replay every past month with what was known then: how good the forecasts were, and what the advice made."""
    from slidefit.decision.documents import replay_document
    from slidefit.decision.plan_reading import read_plan
    from slidefit.decision.replay import Keeping, replay
    from slidefit.decision.replay_plan import keeping_of_plan
    from slidefit.market.backtest import backtest as replay_market
    from slidefit.market.documents import backtest_document
    from slidefit.records.book import SaleBook
    from slidefit.show.backtest_text import backtest_text
    from slidefit.show.charts.replay import replay_chart
    from slidefit.show.gallery import write_picture

    wanted = read_plan(plan) if plan else None
    records = SaleBook(book).records(markets=list(markets) or None)
    test = replay_market(records, progress=progress_words())
    keeping = keeping_of_plan(test.origins[-1].outlook, wanted) if wanted else Keeping()
    money = replay(test.of_month(wean_month), keeping)
    if out:
        write_picture(replay_chart(money, months_kept), out)
    document: dict[str, Any] = {**backtest_document(test), "money": replay_document(money, months_kept)}
    say(document, lambda: backtest_text(test, money, months_kept, width=width()), as_json=as_json)
