"""Compare, months, flip, report, and what people take home: workbook and handout."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from slidefit.cli.inputs import MarketChoice, PlanChoice, futures_option, market_option, plan_option
from slidefit.cli.speaking import book_option, json_option, say

if TYPE_CHECKING:
    from slidefit.decision.results import Comparison
    from slidefit.decision.risk.answer_changes import FlipGrid, FlipResult
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan
    from slidefit.report.document import Document
    from slidefit.report.render.pdf import PaperSize


group_option = click.option("--group", metavar="NAME", help="Only this group of calves.")
program_option = click.option("--program", metavar="NAME", help="Only this feeding program.")
month_option = click.option("--sale-month", metavar="YYYY-MM", help="Only this month of sale.")


every_week_option = click.option(
    "--every-week", is_flag=True, help="Compare a sale every week instead of one a month."
)


def _compared(
    plan: PlanChoice, market: MarketChoice, *, weekly: bool = False
) -> tuple[Plan, Outlook, Comparison]:
    from slidefit.decision.comparison import compare

    wanted = plan.read(market)
    outlook = market.outlook(wanted)
    return wanted, outlook, compare(outlook, wanted.weekly() if weekly else wanted)


@click.command()
@plan_option
@market_option
@futures_option
@every_week_option
@group_option
@program_option
@month_option
@click.option("--detail", is_flag=True, help="Show one option's whole budget (the best if none is named).")
@json_option
def compare(
    plan: PlanChoice,
    market: MarketChoice,
    every_week: bool,
    group: str | None,
    program: str | None,
    sale_month: str | None,
    detail: bool,
    as_json: bool,
) -> None:
    """Compare selling now with keeping, for every group, program and sale month of PLAN (a TOML file)."""
    from slidefit.decision.choices import find_group, find_option, narrowed
    from slidefit.report.report_content import comparison_content, option_content

    *_, comparison = _compared(plan, market, weekly=every_week)
    if detail:
        result = find_group(comparison, group or comparison.groups[0].group)
        option = find_option(comparison, result.group, program, sale_month)
        say(option, lambda: option_content(result, option), as_json=as_json)
        return
    shown = narrowed(comparison, group, program, sale_month)
    say(shown, lambda: comparison_content(shown), as_json=as_json)


@click.command()
@plan_option
@market_option
@futures_option
@every_week_option
@json_option
def months(plan: PlanChoice, market: MarketChoice, every_week: bool, as_json: bool) -> None:
    """Show PLAN by month of sale: the best program for each group and month."""
    from slidefit.report.json_answers import months_answer
    from slidefit.report.report_content import months_content

    *_, comparison = _compared(plan, market, weekly=every_week)
    say(months_answer(comparison), lambda: months_content(comparison), as_json=as_json)


@click.command()
@plan_option
@market_option
@futures_option
@group_option
@program_option
@month_option
@click.option("--grid", metavar="A,B", help="The gain over two inputs at once, such as gain,feed_cost.")
@click.option(
    "--sort", "sort_group", is_flag=True, help="Which weights of a group to keep and which to sell now."
)
@click.option("--out", type=click.Path(), metavar="FILE.png", help="Draw it too, as .png or .svg.")
@json_option
def flip(
    plan: PlanChoice,
    market: MarketChoice,
    group: str | None,
    program: str | None,
    sale_month: str | None,
    grid: str | None,
    sort_group: bool,
    out: str | None,
    as_json: bool,
) -> None:
    """Show what would change the answer of PLAN: one input at a time, two at once, or the calves' weight."""
    from slidefit.decision.risk.answer_changes import flip as flip_plan
    from slidefit.decision.risk.answer_changes import flip_grid, grid_inputs
    from slidefit.decision.risk.sorting import sort_by_weight
    from slidefit.report.report_content import flips_content, grid_content, sorting_content

    wanted = plan.read(market)
    outlook = market.outlook(wanted)
    if sort_group:
        sorting = sort_by_weight(outlook, wanted, group or wanted.groups[0].name)
        say(sorting, lambda: sorting_content(sorting), as_json=as_json)
    elif grid:
        over = flip_grid(outlook, wanted, *grid_inputs(grid), group, program, sale_month)
        if out:
            _draw(over, out)
        say(over, lambda: grid_content(over), as_json=as_json)
    else:
        results = flip_plan(outlook, wanted, group, program, sale_month)
        if out:
            _draw(results[0], out)
        say({"flips": results}, lambda: flips_content(results), as_json=as_json)


def _draw(found: FlipGrid | FlipResult, out: str) -> None:
    """Draw what would flip the answer; loaded only here, since matplotlib is slow to load."""
    from slidefit.decision.risk.answer_changes import FlipGrid
    from slidefit.report.charts.answer_charts import flip_grid_chart, swings_chart
    from slidefit.report.render.pictures import write_picture

    write_picture(flip_grid_chart(found) if isinstance(found, FlipGrid) else swings_chart(found), out)


USUAL_PAGE = "report.html"


@click.command()
@plan_option
@market_option
@futures_option
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
@click.option("--banker", is_flag=True, help="Write the lender's one-page sheet instead.")
@json_option
def report(
    plan: PlanChoice,
    market: MarketChoice,
    book: str,
    out: str | None,
    pdf: str | None,
    paper: PaperSize,
    banker: bool,
    as_json: bool,
) -> None:
    """Write PLAN's comparison as one self-contained HTML page or as a PDF, two printed pages for up to three groups.

    The book's lots stand behind the price curve if the book is there.
    """
    from slidefit.files import write_whole
    from slidefit.report.render.html import document_html

    if banker:
        from slidefit.report.take_home.banker import banker_content

        wanted, _, comparison = _compared(plan, market)
        content = banker_content(comparison, title=wanted.title)
    else:
        content = _report_of(plan, market, book)
    page = out or (None if pdf else USUAL_PAGE)
    if page:
        write_whole(page, document_html(content))
    if pdf:
        from slidefit.report.render.pdf import document_pdf

        write_whole(pdf, document_pdf(content, size=paper))
    written = [path for path in (page, pdf) if path]
    say(
        {"report": page, "pdf": pdf},
        lambda: "".join(f"{path}: the report\n" for path in written),
        as_json=as_json,
    )


def _report_of(plan: PlanChoice, market: MarketChoice, book: str) -> Document:
    """Return the report of a plan, the book's lots behind its price curve if the book is there."""
    from slidefit.decision.risk.answer_changes import flip as flip_plan
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.report_content import report_of

    wanted, outlook, comparison = _compared(plan, market)
    return report_of(
        comparison,
        outlook,
        records=SaleBook(book).table() if Path(book).exists() else None,
        season=market.source.season() if wanted.prices is None else None,
        flips=flip_plan(outlook, wanted),
        title=wanted.title,
    )


USUAL_HANDOUT, USUAL_WORKBOOK = "calves.html", "plan.xlsx"


@click.command()
@plan_option
@market_option
@click.option(
    "--out", default=USUAL_WORKBOOK, show_default=True, type=click.Path(), help="Where the workbook goes."
)
@json_option
def workbook(plan: PlanChoice, market: MarketChoice, out: str, as_json: bool) -> None:
    """Write PLAN's whole budget as a live workbook: its numbers can be typed over, and every sheet follows.

    The plan's own budgets stand in it, without odds; those are in the report.
    """
    from slidefit.report.document import document
    from slidefit.report.take_home.workbook import write_live_workbook

    wanted, outlook, comparison = _compared(plan, market)
    write_live_workbook(outlook, wanted, comparison, out)
    told = f"{out}: the live workbook. Its numbers appear when a spreadsheet program opens it."
    say({"workbook": out}, lambda: document(told), as_json=as_json)


@click.command()
@click.argument("region", required=False, type=click.Path(), metavar="[REGION.toml]")
@click.option("--fit", "fit_path", type=click.Path(), help="A fit in place of a region's file.")
@click.option("--plan", "plan_path", type=click.Path(), metavar="PLAN.toml", help="A plan to go with it.")
@click.option("--name", default="", help="What the prices are of; a region has its own name.")
@click.option("--office", default="", help="Whom to ask, such as an office and its telephone.")
@click.option(
    "--out", default=USUAL_HANDOUT, show_default=True, type=click.Path(), help="Where the page goes."
)
@json_option
def handout(
    region: str | None,
    fit_path: str | None,
    plan_path: str | None,
    name: str,
    office: str,
    out: str,
    as_json: bool,
) -> None:
    """Write one page that answers keep or sell by itself, offline: from a REGION's file or a fit.

    It works from a memory stick, from an e-mail, on a phone.
    """
    from slidefit.files import write_whole
    from slidefit.report.document import document
    from slidefit.report.take_home.handout import handout_html

    market = MarketChoice(fit_path, region)
    page = handout_html(
        market.outlook(),
        name=name or market.source.name,
        today=date.today(),
        office=office,
        selling=market.source.selling(),
        plan=PlanChoice(plan_path, (), False).read(market) if plan_path else None,
    )
    write_whole(out, page)
    size = len(page.encode())
    say(
        {"handout": out, "bytes": size},
        lambda: document(f"{out}: the take-home page, {size / 1000:,.0f} KB; it needs no network."),
        as_json=as_json,
    )
