"""Commands that write what people take home and that computes by itself."""

from __future__ import annotations

from datetime import date

import click

from slidefit.cli.inputs import MarketChoice
from slidefit.cli.speaking import json_option, say

USUAL_HANDOUT = "calves.html"


@click.command()
@click.argument("region", required=False, type=click.Path(), metavar="[REGION.toml]")
@click.option("--fit", "fit_path", type=click.Path(), help="A fit in place of a region's file.")
@click.option("--name", default="", help="What the prices are of; a region has its own name.")
@click.option("--office", default="", help="Whom to ask, such as an office and its telephone.")
@click.option(
    "--out", default=USUAL_HANDOUT, show_default=True, type=click.Path(), help="Where the page goes."
)
@json_option
def handout(
    region: str | None, fit_path: str | None, name: str, office: str, out: str, as_json: bool
) -> None:
    """Write one page that answers keep or sell by itself, offline: from a REGION's file or a fit.

    It works from a memory stick, from an e-mail, on a phone.
    """
    from slidefit.files import write_whole
    from slidefit.report.document import document
    from slidefit.report.take_home.handout import handout_html

    source = MarketChoice(fit_path, region).source
    page = handout_html(
        source.outlook(),
        name=name or source.name,
        today=date.today(),
        office=office,
        selling=source.selling(),
    )
    write_whole(out, page)
    size = len(page.encode())
    say(
        {"handout": out, "bytes": size},
        lambda: document(f"{out}: the take-home page, {size / 1000:,.0f} KB; it needs no network."),
        as_json=as_json,
    )
