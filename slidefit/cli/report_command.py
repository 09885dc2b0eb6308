"""The command that writes a plan's report, as a page and as a PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from slidefit.cli.market_source import MarketChoice, market_option
from slidefit.cli.plan_source import PlanChoice, plan_option
from slidefit.cli.speaking import book_option, json_option, say

if TYPE_CHECKING:
    from slidefit.show.report_pdf import PaperSize

USUAL_PAGE = "report.html"


@click.command()
@plan_option
@market_option
@book_option
@click.option(
    "--out", type=click.Path(), help=f"Where the page goes; {USUAL_PAGE} where no --pdf is asked for."
)
@click.option(
    "--pdf", type=click.Path(), metavar="OUT.pdf", help="Write it as a PDF too (or only, without --out)."
)
@click.option(
    "--paper",
    default="letter",
    show_default=True,
    type=click.Choice(["letter", "a4"]),
    help="Size of the PDF's pages.",
)
@json_option
def report(
    plan: PlanChoice,
    market: MarketChoice,
    book: str,
    out: str | None,
    pdf: str | None,
    paper: PaperSize,
    as_json: bool,
) -> None:
    """Write PLAN's comparison as one self-contained HTML page or as a PDF, two printed pages for up to three groups.

    The book's lots stand behind the price curve if the book is there.
    """
    from pathlib import Path

    from slidefit.decision.comparison import compare as compare_plan
    from slidefit.decision.flips import flip as flip_plan
    from slidefit.output import write_whole
    from slidefit.records.book import SaleBook
    from slidefit.show.report import report_html
    from slidefit.show.report_content import report_of

    wanted = plan.read(market)
    outlook = market.source.outlook()
    content = report_of(
        compare_plan(outlook, wanted),
        outlook,
        records=SaleBook(book).table() if Path(book).exists() else None,
        season=market.source.season(),
        flips=flip_plan(outlook, wanted),
        title=wanted.title,
    )
    page = out or (None if pdf else USUAL_PAGE)
    if page:
        write_whole(page, report_html(content))
    if pdf:
        from slidefit.show.report_pdf import report_pdf

        write_whole(pdf, report_pdf(content, size=paper))
    written = [path for path in (page, pdf) if path]
    say(
        {"report": page, "pdf": pdf},
        lambda: "".join(f"{path}: the report\n" for path in written),
        as_json=as_json,
    )
