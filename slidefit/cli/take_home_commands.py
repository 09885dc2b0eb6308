"""Commands that write what people take home and that computes by itself."""

from __future__ import annotations

from datetime import date

import click

from slidefit.cli.inputs import MarketChoice, PlanChoice, market_option, plan_option
from slidefit.cli.speaking import json_option, say

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
    from slidefit.decision.comparison import compare
    from slidefit.report.document import document
    from slidefit.report.take_home.workbook import write_live_workbook

    wanted, outlook = plan.read(market), market.outlook()
    write_live_workbook(outlook, wanted, compare(outlook, wanted), out)
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
