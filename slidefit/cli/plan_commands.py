"""Commands on a plan: compare, report."""

from __future__ import annotations

import click

from slidefit.cli.speaking import book_option, fit_option, json_option, say, width

plan_argument = click.argument("plan", type=click.Path())


@click.command()
@plan_argument
@fit_option
@json_option
def compare(plan: str, fit_path: str, as_json: bool) -> None:
    """Compare selling now with keeping, for every group, program and sale month of PLAN (a TOML file)."""
    from slidefit.decision.comparison import compare as compare_plan
    from slidefit.decision.documents import comparison_document
    from slidefit.decision.plan_reading import read_plan
    from slidefit.market.saved import load_fit
    from slidefit.show.tables import comparison_text

    wanted = read_plan(plan)
    comparison = compare_plan(load_fit(fit_path).outlook(), wanted)
    say(comparison_document(comparison), lambda: comparison_text(comparison, width=width()), as_json=as_json)


@click.command()
@plan_argument
@fit_option
@book_option
@click.option(
    "--out", default="report.html", show_default=True, type=click.Path(), help="Where the report goes."
)
@json_option
def report(plan: str, fit_path: str, book: str, out: str, as_json: bool) -> None:
    """Write PLAN's comparison as one self-contained HTML page, with the book's lots behind the curve if it is there."""
    from pathlib import Path

    from slidefit.decision.comparison import compare as compare_plan
    from slidefit.decision.plan_reading import read_plan
    from slidefit.market.saved import load_fit
    from slidefit.output import write_whole
    from slidefit.records.book import SaleBook
    from slidefit.show.report import report_html

    wanted = read_plan(plan)
    fitted = load_fit(fit_path)
    outlook = fitted.outlook()
    records = SaleBook(book).records() if Path(book).exists() else None
    comparison = compare_plan(outlook, wanted)
    write_whole(out, report_html(comparison, outlook, records=records, season=fitted.season()))
    say({"report": out}, lambda: f"{out}: the report\n", as_json=as_json)
