"""Serve, demo."""

from __future__ import annotations

from pathlib import Path

import click

from slidefit.cli.speaking import book_option, json_option, progress_words, say
from slidefit.errors import OutputError

PACKAGE = Path(__file__).resolve().parent.parent


FUTURES_FILE, TYPED_PLAN = "feeder_futures.tsv", "typed_prices.toml"


def demo_data() -> Path:
    """Return the folder of the demonstration data: inside the installed package, or beside it in a checkout."""
    inside = PACKAGE / "data_demo"
    return inside if inside.is_dir() else PACKAGE.parent / "data_demo"


TYPED_WORDS = f"The same question without any records, from prices typed in a plan ({TYPED_PLAN}):"


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
    from slidefit.decision.risk.answer_changes import flip
    from slidefit.files import write_whole
    from slidefit.market.market_fit import fit_market
    from slidefit.market.saved_fit import save_fit
    from slidefit.plan.plan_file import read_plan
    from slidefit.records.futures_quotes import read_quotes
    from slidefit.records.read import read
    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.region_file import read_region
    from slidefit.report.document import Document
    from slidefit.report.document import document as document_of
    from slidefit.report.json_answers import add_answer
    from slidefit.report.market_content import add_content, fit_content
    from slidefit.report.regions.region_sheet import region_sheet_html
    from slidefit.report.render.html import document_html
    from slidefit.report.render.pdf import document_pdf
    from slidefit.report.render.pictures import pictures
    from slidefit.report.report_content import comparison_content, futures_content, report_of
    from slidefit.report.take_home.handout import handout_html
    from slidefit.report.take_home.workbook import write_live_workbook

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
    quotes = source / FUTURES_FILE
    informed = compare(fitted.with_quotes(read_quotes(quotes).quotes).outlook(), wanted)
    write_whole(folder / "plan.toml", plan.read_text(encoding="utf-8"))
    write_whole(folder / FUTURES_FILE, quotes.read_text(encoding="utf-8"))
    write_whole(folder / TYPED_PLAN, (source / TYPED_PLAN).read_text(encoding="utf-8"))
    typed = compare(None, read_plan(source / TYPED_PLAN))
    tell("drawing")
    for name, picture in pictures(fitted, outlook, records, comparison).items():
        write_whole(folder / name, picture)
    flips = flip(outlook, wanted)
    report = report_of(
        comparison, outlook, records=records, season=fitted.season(), flips=flips, title=wanted.title
    )
    write_whole(folder / "report.html", document_html(report))
    write_whole(folder / "report.pdf", document_pdf(report))
    tell("making what people take home")
    write_live_workbook(outlook, wanted, comparison, folder / "plan.xlsx")
    handout = handout_html(outlook, name="the demonstration's barns", today=outlook.as_of, plan=wanted)
    write_whole(folder / "calves.html", handout)
    region = read_region(source / "kettle_fork.toml")
    write_whole(folder / "kettle_fork_sheet.html", region_sheet_html(region, outlook.as_of))
    (folder / "regions").mkdir(exist_ok=True)
    for last_season in sorted((source / "regions").glob("*.toml")):
        if not (folder / "regions" / last_season.name).exists():
            write_whole(folder / "regions" / last_season.name, last_season.read_text(encoding="utf-8"))
    written = sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))

    def content() -> Document:
        told = add_content(result, added) + fit_content(fitted, str(folder / "slide.json"))
        where = (
            f"In {folder}: {', '.join(written)}",
            f"Open {folder / 'report.html'} in a browser.",
            "A season's work on last year's regions: slidefit region refresh "
            f"{folder / 'regions'} --book {folder / 'sales.duckdb'}",
            f"The same by mouse: slidefit serve --open --book {folder / 'sales.duckdb'} "
            f"--fit {folder / 'slide.json'} --regions {folder / 'regions'}",
        )
        answers = comparison_content(comparison) + futures_content(informed)
        return told + answers + document_of(TYPED_WORDS) + comparison_content(typed) + document_of(*where)

    answer = {
        "out": folder,
        "files": written,
        "add": add_answer(result, added),
        "compare": comparison,
        "with_futures": informed,
        "typed_prices": typed,
    }
    say(answer, content, as_json=as_json)


@click.command()
@book_option
@click.option(
    "--fit",
    "fit_path",
    default="slide.json",
    show_default=True,
    type=click.Path(),
    help="A fit, as saved by 'fit'.",
)
@click.option(
    "--port", default=8765, show_default=True, type=click.IntRange(0, 65535), help="Port; 0 takes a free one."
)
@click.option(
    "--regions",
    default=".",
    show_default=True,
    type=click.Path(file_okay=False),
    help="Folder of region files.",
)
@click.option("--open", "open_browser", is_flag=True, help="Open the page in the browser.")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on, such as 0.0.0.0 for a phone on the same network; a key is then asked for.",
)
def serve(book: str, fit_path: str, regions: str, port: int, open_browser: bool, host: str) -> None:
    """Start the page: records, slide, and keep or sell, by mouse or phone."""
    from pathlib import Path

    from slidefit.web.app import serve as run_page
    from slidefit.web.security import Settings

    plan = demo_data() / "plan.toml"
    settings = Settings(
        book=Path(book),
        fit=Path(fit_path),
        regions=Path(regions),
        example_plan=plan if plan.exists() else None,
        host=host,
        port=port,
    )
    run_page(settings, open_browser=open_browser, tell=lambda line: click.echo(line, err=True))
