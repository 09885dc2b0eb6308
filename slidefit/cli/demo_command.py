"""The command that runs the whole job on the invented data that comes with slidefit."""

from __future__ import annotations

from pathlib import Path

import click

from slidefit.cli.speaking import json_option, progress_words, say, width
from slidefit.errors import OutputError

PACKAGE = Path(__file__).resolve().parent.parent


def demo_data() -> Path:
    """Return the folder of the demonstration data: inside the installed package, or beside it in a checkout."""
    inside = PACKAGE / "data_demo"
    return inside if inside.is_dir() else PACKAGE.parent / "data_demo"


@click.command()
@click.option(
    "--out",
    default="slidefit-demo",
    show_default=True,
    type=click.Path(file_okay=False),
    help="Folder for the results.",
)
@json_option
def demo(out: str, as_json: bool) -> None:
    """Run the whole job on invented data: read three barns' files, fit, draw, compare, report."""
    from slidefit.decision.comparison import compare
    from slidefit.decision.documents import comparison_document
    from slidefit.decision.flips import flip
    from slidefit.decision.plan_reading import read_plan
    from slidefit.market.marketfit import fit_market
    from slidefit.market.saved import save_fit
    from slidefit.output import write_whole
    from slidefit.records.book import SaleBook
    from slidefit.records.documents import add_document
    from slidefit.records.reading import read
    from slidefit.show.gallery import pictures
    from slidefit.show.market_text import fit_text
    from slidefit.show.records_text import add_text
    from slidefit.show.report import report_html
    from slidefit.show.report_content import report_of
    from slidefit.show.report_pdf import report_pdf
    from slidefit.show.tables import comparison_text

    tell = progress_words()
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(
            f"the folder can't be made ({fault.strerror})",
            where=out,
            remedy="Choose another place with --out.",
        ) from fault
    source = demo_data()
    tell("reading three barns' files")
    result = read(sorted(str(path) for path in source.glob("*.csv")))
    sale_book = SaleBook(folder / "sales.duckdb")
    added = sale_book.add(result)
    records = sale_book.table()
    fitted = fit_market(records, progress=tell)
    save_fit(fitted, folder / "slide.json")
    outlook = fitted.outlook()
    plan = source / "plan.toml"
    tell("comparing")
    wanted = read_plan(plan)
    comparison = compare(outlook, wanted)
    write_whole(folder / "plan.toml", plan.read_text(encoding="utf-8"))
    tell("drawing")
    for name, picture in pictures(fitted, outlook, records, comparison).items():
        write_whole(folder / name, picture)
    flips = flip(outlook, wanted)
    content = report_of(
        comparison, outlook, records=records, season=fitted.season(), flips=flips, title=wanted.title
    )
    write_whole(folder / "report.html", report_html(content))
    write_whole(folder / "report.pdf", report_pdf(content))
    written = sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))

    def text() -> str:
        parts = [
            add_text(result, added, width=width()),
            fit_text(fitted, str(folder / "slide.json"), width=width()),
            comparison_text(comparison, width=width()),
            f"In {folder}: {', '.join(written)}\nOpen {folder / 'report.html'} in a browser.\n",
        ]
        return "\n".join(parts)

    document = {
        "out": str(folder),
        "files": written,
        "add": add_document(result, added),
        "compare": comparison_document(comparison),
    }
    say(document, text, as_json=as_json)
