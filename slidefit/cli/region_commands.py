"""Region and its sub-commands."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from slidefit.cli.region_season_commands import brief, compare, file_argument, refresh, sheet
from slidefit.cli.speaking import book_option, json_option, progress_words, say
from slidefit.errors import SlidefitError
from slidefit.report.document import document as document_of

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.regions.from_fit import Provenance
    from slidefit.regions.pooling import PooledRegions
    from slidefit.regions.region import SellingTerms


DAY = click.DateTime(["%Y-%m-%d"])


def provenance_of(records: pd.DataFrame, made: date) -> Provenance:
    """Return what a file says of its making."""
    from slidefit.regions.from_fit import Provenance
    from slidefit.regions.region_folder import batches_sha256

    return Provenance(made, batches_sha256(records))


@click.command()
@click.argument("name")
@book_option
@click.option("--market", "markets", multiple=True, help="Only this market; may be given several times.")
@click.option("--since", type=DAY, help="Only sales from this day on (YYYY-MM-DD).")
@click.option("--until", type=DAY, help="Only sales up to this day (YYYY-MM-DD).")
@click.option(
    "--pool", type=click.Path(), metavar="FILE", help="Pool the market's slide with this region file."
)
@click.option(
    "--each", is_flag=True, help="Make a file for each market too, its slide pooled with all of them."
)
@click.option(
    "--out", type=click.Path(), metavar="FILE.toml", help="Where the file goes; by default after NAME."
)
@click.option(
    "--chart", type=click.Path(), metavar="OUT.png", help="Draw own and pooled slides, as .png or .svg."
)
@click.option(
    "--commission-pct", type=click.FloatRange(0.1, 15), help="Typical commission, percent of the check."
)
@click.option("--yardage-head", type=click.FloatRange(0, 100), help="Typical yardage, dollars a head.")
@click.option("--checkoff-head", type=click.FloatRange(0, 10), help="Beef checkoff, dollars a head sold.")
@click.option("--shrink-pct", type=click.FloatRange(0.2, 20), help="Typical shrink to the scale, percent.")
@click.option(
    "--made", type=DAY, help="The day that the file names as that of its making; today if left out."
)
@json_option
def make(
    name: str,
    book: str,
    markets: tuple[str, ...],
    since: datetime | None,
    until: datetime | None,
    pool: str | None,
    each: bool,
    out: str | None,
    chart: str | None,
    made: datetime | None,
    as_json: bool,
    **terms: float | None,
) -> None:
    """Make the region NAME from the book's records; a file already there is kept as its former version."""
    import pandas as pd

    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.hand_edits import write_fitted
    from slidefit.regions.region import SellingTerms
    from slidefit.regions.region_folder import check_place, file_name
    from slidefit.report.charts.market_charts import pooling_chart
    from slidefit.report.regions import region_content as words
    from slidefit.report.regions.region_content import pooled_content, region_content
    from slidefit.report.render.pictures import write_picture

    if pool and each:
        raise click.UsageError(
            "--pool and --each can't go together: --each pools the markets of the book themselves."
        )
    records = SaleBook(book).records(market=list(markets) or None, since=since.date() if since else None)
    if until:
        records = records[records["sale_date"] <= pd.Timestamp(until.date())]
    day = made.date() if made else date.today()
    selling = SellingTerms.model_validate(terms)
    target = Path(out or file_name(name))
    check_place(target, name)
    made_of = _toward(pool, name, records, day) if pool else _fitted(name, records, day, selling, each=each)
    paths = [target, *(target.with_name(file_name(region.name)) for region in made_of.regions[1:])]
    twice = [str(path) for place, path in enumerate(paths) if path in paths[:place]]
    if twice:
        raise SlidefitError(
            "would be the file of two regions",
            where=twice[0],
            remedy="Give the region a name that no market has.",
        )
    for path, region in zip(paths, made_of.regions, strict=True):
        check_place(path, region.name)
    for path, region in zip(paths, made_of.regions, strict=True):
        write_fitted(region, path)
    slides = made_of.slides
    if chart and slides:
        write_picture(pooling_chart(slides, made_of.pool_slides), chart)
    files = [str(path) for path in paths]
    say(
        {"files": paths, "name": name, "left_out": made_of.left_out, "slides": slides},
        lambda: (
            pooled_content(slides, files, left_out=made_of.left_out)
            if slides
            else region_content(made_of.regions[0], day) + document_of(words.written_line(target))
        ),
        as_json=as_json,
    )


def _fitted(
    name: str, records: pd.DataFrame, day: date, selling: SellingTerms, *, each: bool
) -> PooledRegions:
    """Return the region of all records first, and with ``each`` one for every market after it."""
    from slidefit.market.market_fit import fit_market
    from slidefit.regions.from_fit import region_of
    from slidefit.regions.pooling import PooledRegions, pooled_regions

    fitted = fit_market(records, progress=progress_words())
    region = region_of(fitted, name, provenance_of(records, day), selling=selling)
    if not each:
        return PooledRegions((region,), (), {}, ())
    parts = {str(market): rows for market, rows in records.groupby("market")}
    return pooled_regions(region, parts, {market: provenance_of(rows, day) for market, rows in parts.items()})


def _toward(pool: str, name: str, records: pd.DataFrame, day: date) -> PooledRegions:
    """Return a region of the records, its slide leaning on that of a file."""
    from slidefit.regions.pooling import region_toward
    from slidefit.regions.region_file import read_region

    return region_toward(read_region(pool), name, records, provenance_of(records, day))


folder_argument = click.argument("folder", default=".", type=click.Path())


@click.group()
def region() -> None:
    """Region files: prices by weight and season to edit, update and hand on.

    A region's file takes the place of a fit with --region FILE (slide, season, compare, months, flip, report).
    """


@click.command()
@file_argument
@json_option
def show(file: str, as_json: bool) -> None:
    """Show FILE: its price, the slide by season, the season, the spread, where it came from."""
    from slidefit.regions.hand_edits import hand_edits
    from slidefit.regions.region_file import read_region
    from slidefit.report.regions.change_content import edit_line
    from slidefit.report.regions.region_content import region_content

    read, edits = read_region(file), hand_edits(file)
    say(
        read,
        lambda: region_content(read, date.today()) + document_of(*map(edit_line, edits)),
        as_json=as_json,
        beside={"by_hand": edits},
    )


@click.command()
@file_argument
@json_option
def check(file: str, as_json: bool) -> None:
    """Check FILE: list every problem with its line (exit code 2), or what is worth a look."""
    from slidefit.regions.hand_edits import hand_edits
    from slidefit.regions.region import age_notes
    from slidefit.regions.region_file import odd_notes, read_region
    from slidefit.report.regions.change_content import edit_line
    from slidefit.report.regions.region_content import check_content

    read = read_region(file)
    today = date.today()
    edits = [edit_line(edit) for edit in hand_edits(file)]
    notes = [*age_notes(read, today), *odd_notes(read), *edits]
    say(
        {"file": file, "name": read.name, "version": read.version, "notes": notes},
        lambda: check_content(read, file, today) + document_of(*edits),
        as_json=as_json,
    )


@click.command()
@file_argument
@book_option
@click.option("--since", type=DAY, help="Only sales from this day on; by default from FILE's first sale.")
@click.option(
    "--pool", type=click.Path(), metavar="FILE", help="The region's file that FILE leans on, if it does."
)
@click.option("--yes", "write", is_flag=True, help="Write the new file; the former one is kept.")
@click.option("--refit", is_flag=True, help="Take the fitted numbers in place of those set by hand.")
@click.option("--chart", type=click.Path(), metavar="OUT.png", help="Draw old against new, as .png or .svg.")
@json_option
def update(
    file: str,
    book: str,
    since: datetime | None,
    pool: str | None,
    write: bool,
    refit: bool,
    chart: str | None,
    as_json: bool,
) -> None:
    """Refit FILE's markets and show old against new in dollars per head; nothing is written without --yes."""
    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.hand_edits import hand_edits, write_fitted
    from slidefit.regions.moved.renewal import renewed
    from slidefit.regions.region_file import read_region
    from slidefit.report.charts.market_charts import region_change_chart
    from slidefit.report.regions import region_content as words
    from slidefit.report.regions.change_content import changes_content, edit_line
    from slidefit.report.render.pictures import write_picture

    old, tell = read_region(file), progress_words()
    toward = read_region(pool) if pool else None
    tell("opening the book")
    records = SaleBook(book).records(since=since.date() if since else old.source.first_sale)
    renewal = renewed(old, records, date.today(), tell, toward)
    new = renewal.new
    if chart:
        write_picture(region_change_chart(old, new, renewal.changes), chart)
    edits = () if refit else hand_edits(file)
    kept, held = write_fitted(new, file, edits) if write else (None, edits)
    lost = [f"Could not be kept: {edit_line(edit)}" for edit in edits if edit not in held]
    told = (
        words.kept_line(kept)
        if kept
        else f"Nothing was written. To write it: slidefit region update {file} --yes"
    )
    say(
        renewal,
        lambda: changes_content(renewal) + document_of(*map(edit_line, held), *lost, told),
        as_json=as_json,
        beside={"file": file, "written": write, "kept": kept, "by_hand": held},
    )


@click.command("log")
@file_argument
@json_option
def log(file: str, as_json: bool) -> None:
    """List the former versions of FILE."""
    from slidefit.regions.region_file import read_region
    from slidefit.regions.region_folder import formers
    from slidefit.report.json_answers import version_answer
    from slidefit.report.regions.region_content import log_content

    now, former = read_region(file), formers(file)
    answer = {"now": version_answer(now), "former": former}
    say(answer, lambda: log_content(former, now), as_json=as_json)


@click.command()
@file_argument
@click.argument("version", required=False, type=int)
@json_option
def back(file: str, version: int | None, as_json: bool) -> None:
    """Bring back a former VERSION of FILE (by default the last one); the present file is kept."""
    from slidefit.regions.region_folder import go_back
    from slidefit.report.regions.region_content import back_line

    former = go_back(file, version)
    say(
        {"file": file, "version": former.number},
        lambda: f"{back_line(file, former.number)}\n",
        as_json=as_json,
    )


def book_sales(book: str) -> pd.DataFrame | None:
    """Return the book's records, or None where there is no book."""
    from slidefit.records.sale_book import SaleBook

    return SaleBook(book).records() if Path(book).exists() else None


@click.command("list")
@folder_argument
@book_option
@json_option
def list_regions(folder: str, book: str, as_json: bool) -> None:
    """List the regions in FOLDER: age, newer records in the book, stale after 365 days without a sale."""
    from slidefit.regions.region_folder import folder_entries
    from slidefit.report.regions.region_content import folder_content

    entries = folder_entries(folder, date.today(), book_sales(book))
    say({"regions": entries}, lambda: folder_content(entries, folder), as_json=as_json)


@click.command("map-markets")
@folder_argument
@book_option
@json_option
def map_markets(folder: str, book: str, as_json: bool) -> None:
    """Show which market is in which region of FOLDER, and markets in none."""
    from slidefit.regions.region_folder import folder_entries, market_feeds
    from slidefit.report.regions.region_content import feeds_content

    sales = book_sales(book)
    named = {e.region.name: e.region.markets for e in folder_entries(folder, date.today()) if e.region}
    counts = {} if sales is None else {str(m): int(n) for m, n in sales["market"].value_counts().items()}
    feeds = market_feeds(named, counts)
    say({"markets": feeds}, lambda: feeds_content(feeds), as_json=as_json)


for command in (
    make, show, check, update, refresh, log, back, list_regions, map_markets, sheet, brief, compare,
):  # fmt: skip
    region.add_command(command)
