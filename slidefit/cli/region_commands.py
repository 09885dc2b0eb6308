"""Commands on regions: the default files that stand in for a fit."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from slidefit.cli.region_making import make
from slidefit.cli.speaking import book_option, json_option, progress_words, say, width

if TYPE_CHECKING:
    import pandas as pd

DAY = click.DateTime(["%Y-%m-%d"])
file_argument = click.argument("file", type=click.Path())
folder_argument = click.argument("folder", default=".", type=click.Path())


@click.group()
def region() -> None:
    """Regional defaults: prices by weight and season as a file to edit, update and hand on.

    A region's file takes the place of a fit with --region FILE (slide, season, compare, months, flip, report).
    """


@click.command()
@file_argument
@json_option
def show(file: str, as_json: bool) -> None:
    """Show FILE: its price, the slide by season, the season, the spread, where it came from."""
    from slidefit.regions.documents import region_document
    from slidefit.regions.reading import read_region
    from slidefit.show.region_text import region_text

    read = read_region(file)
    say(region_document(read), lambda: region_text(read, date.today(), width=width()), as_json=as_json)


@click.command()
@file_argument
@json_option
def check(file: str, as_json: bool) -> None:
    """Check FILE: every problem with its line (exit code 2), or that it holds and what is worth a look."""
    from slidefit.regions.age import age_notes
    from slidefit.regions.checks import odd_notes
    from slidefit.regions.reading import read_region
    from slidefit.show.region_text import check_text

    read = read_region(file)
    today = date.today()
    notes = [*age_notes(read, today), *odd_notes(read)]
    say(
        {"file": file, "name": read.name, "version": read.version, "notes": notes},
        lambda: check_text(read, file, today, width=width()),
        as_json=as_json,
    )


@click.command()
@file_argument
@book_option
@click.option("--since", type=DAY, help="Only sales from this day on; by default from FILE's first sale.")
@click.option(
    "--pool", type=click.Path(), metavar="FILE", help="The region's file that FILE is drawn toward, if it is."
)
@click.option("--yes", "write", is_flag=True, help="Write the new file; the former one is kept.")
@click.option("--chart", type=click.Path(), metavar="OUT.png", help="Draw old against new, as .png or .svg.")
@json_option
def update(
    file: str,
    book: str,
    since: datetime | None,
    pool: str | None,
    write: bool,
    chart: str | None,
    as_json: bool,
) -> None:
    """Refit FILE's markets and show old against new in dollars per head; nothing is written without --yes."""
    from slidefit.records.book import SaleBook
    from slidefit.regions.documents import changes_document
    from slidefit.regions.history import replace_region
    from slidefit.regions.reading import read_region
    from slidefit.regions.renewal import renewed
    from slidefit.show import region_wording as words
    from slidefit.show.charts.region_change import region_change_chart
    from slidefit.show.gallery import write_picture
    from slidefit.show.region_text import changes_text

    old, tell = read_region(file), progress_words()
    toward = read_region(pool) if pool else None
    tell("opening the book")
    records = SaleBook(book).records(since=since.date() if since else old.source.first_sale)
    renewal = renewed(old, records, date.today(), tell, toward)
    new, found = renewal.new, renewal.changes
    if chart:
        write_picture(region_change_chart(old, new, found), chart)
    kept = replace_region(new, file) if write else None
    told = words.kept_line(kept) if kept else words.go_ahead(file)
    document = {
        "file": file,
        "written": write,
        "kept": str(kept) if kept else None,
        **changes_document(found),
    }
    say(document, lambda: f"{changes_text(old, new, found, width=width())}{told}\n", as_json=as_json)


@click.command("log")
@file_argument
@json_option
def log(file: str, as_json: bool) -> None:
    """List the former versions of FILE."""
    from slidefit.regions.documents import log_document
    from slidefit.regions.history import formers
    from slidefit.regions.reading import read_region
    from slidefit.show.region_text import log_text

    now, former = read_region(file), formers(file)
    say(log_document(former, now), lambda: log_text(former, now, width=width()), as_json=as_json)


@click.command()
@file_argument
@click.argument("version", required=False, type=int)
@json_option
def back(file: str, version: int | None, as_json: bool) -> None:
    """Put a former VERSION of FILE in place again (the last one, unless named); what stands there now is kept."""
    from slidefit.regions.history import go_back
    from slidefit.show.region_wording import back_line

    former = go_back(file, version)
    say(
        {"file": file, "version": former.number},
        lambda: f"{back_line(file, former.number)}\n",
        as_json=as_json,
    )


def book_sales(book: str) -> pd.DataFrame | None:
    """Return the book's records, or None where there is no book."""
    from slidefit.records.book import SaleBook

    return SaleBook(book).records() if Path(book).exists() else None


@click.command("list")
@folder_argument
@book_option
@json_option
def list_regions(folder: str, book: str, as_json: bool) -> None:
    """List the regions in FOLDER: age, records behind the book, stale after 365 days without a sale."""
    from slidefit.regions.documents import folder_document
    from slidefit.regions.folder import folder_entries
    from slidefit.show.region_text import folder_text

    entries = folder_entries(folder, date.today(), book_sales(book))
    say(folder_document(entries), lambda: folder_text(entries, folder, width=width()), as_json=as_json)


@click.command("map-markets")
@folder_argument
@book_option
@json_option
def map_markets(folder: str, book: str, as_json: bool) -> None:
    """Show which markets feed which region of FOLDER, and markets that feed none."""
    from slidefit.regions.documents import feeds_document
    from slidefit.regions.folder import folder_entries, market_feeds
    from slidefit.show.region_text import feeds_text

    sales = book_sales(book)
    named = {e.region.name: e.region.markets for e in folder_entries(folder, date.today()) if e.region}
    counts = {} if sales is None else {str(m): int(n) for m, n in sales["market"].value_counts().items()}
    feeds = market_feeds(named, counts)
    say(feeds_document(feeds), lambda: feeds_text(feeds, width=width()), as_json=as_json)


@click.command()
@file_argument
@click.option(
    "--out", type=click.Path(), metavar="OUT.html", help="Where the page goes; by default beside FILE."
)
@json_option
def sheet(file: str, out: str | None, as_json: bool) -> None:
    """Write FILE as one HTML page to print and hand out: prices by weight and month at three price levels."""
    from slidefit.output import write_whole
    from slidefit.regions.reading import read_region
    from slidefit.show.region_sheet import region_sheet_html

    written = out or str(Path(file).with_suffix(".html"))
    write_whole(written, region_sheet_html(read_region(file), date.today()))
    say({"sheet": written}, lambda: f"{written}: the sheet\n", as_json=as_json)


for command in (make, show, check, update, log, back, list_regions, map_markets, sheet):
    region.add_command(command)
