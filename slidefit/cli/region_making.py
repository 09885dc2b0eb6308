"""The command that makes region files from the book: one, one drawn toward another, or one for each market."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from slidefit.cli.speaking import book_option, json_option, progress_words, say, width
from slidefit.errors import SlidefitError

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.regions.from_fit import Provenance
    from slidefit.regions.pooled_regions import PooledRegions
    from slidefit.regions.region import SellingTerms

DAY = click.DateTime(["%Y-%m-%d"])


def provenance_of(records: pd.DataFrame, made: date) -> Provenance:
    """Return what a file says of its making."""
    from slidefit.regions.folder import batches_sha256
    from slidefit.regions.from_fit import Provenance

    return Provenance(made, batches_sha256(records))


@click.command()
@click.argument("name")
@book_option
@click.option("--market", "markets", multiple=True, help="Only this market; may be given several times.")
@click.option("--since", type=DAY, help="Only sales from this day on (YYYY-MM-DD).")
@click.option(
    "--pool", type=click.Path(), metavar="FILE", help="Draw the market's slide toward this region's file."
)
@click.option(
    "--each", is_flag=True, help="Make a file for each market too, its slide drawn toward all of them."
)
@click.option(
    "--out", type=click.Path(), metavar="FILE.toml", help="Where the file goes; by default after NAME."
)
@click.option(
    "--chart", type=click.Path(), metavar="OUT.png", help="Draw own and drawn slides, as .png or .svg."
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
    pool: str | None,
    each: bool,
    out: str | None,
    chart: str | None,
    commission_pct: float | None,
    yardage_head: float | None,
    checkoff_head: float | None,
    shrink_pct: float | None,
    made: datetime | None,
    as_json: bool,
) -> None:
    """Make the region NAME from the book's records; a file that stands there is kept as its former version."""
    from slidefit.records.book import SaleBook
    from slidefit.regions.documents import drawn_document
    from slidefit.regions.folder import file_name
    from slidefit.regions.history import replace_region
    from slidefit.regions.region import SellingTerms
    from slidefit.show.charts.pooling import pooling_chart
    from slidefit.show.gallery import write_picture
    from slidefit.show.region_text import drawn_text, region_text

    if pool and each:
        raise click.UsageError(
            "--pool and --each can't go together: --each pools the markets of the book themselves."
        )
    records = SaleBook(book).records(markets=list(markets) or None, since=since.date() if since else None)
    day = made.date() if made else date.today()
    selling = SellingTerms.model_validate(
        {
            "commission_pct": commission_pct, "yardage_head": yardage_head,
            "checkoff_head": checkoff_head, "shrink_pct": shrink_pct,
        }
    )  # fmt: skip
    target = Path(out or file_name(name))
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
        replace_region(region, path)
    drawn = made_of.slides
    if chart and drawn:
        write_picture(pooling_chart(drawn, made_of.pool_slides), chart)
    files = [str(path) for path in paths]
    document = {"files": files, "name": name, "left_out": list(made_of.left_out), **drawn_document(drawn)}
    say(
        document,
        lambda: (
            drawn_text(drawn, files, left_out=made_of.left_out, width=width())
            if drawn
            else f"{region_text(made_of.regions[0], day, width=width())}Written: {target}\n"
        ),
        as_json=as_json,
    )


def _fitted(
    name: str, records: pd.DataFrame, day: date, selling: SellingTerms, *, each: bool
) -> PooledRegions:
    """Return the region of all records first, and with ``each`` one for every market after it."""
    from slidefit.market.marketfit import fit_market
    from slidefit.regions.from_fit import region_of
    from slidefit.regions.pooled_regions import PooledRegions, pooled_regions

    fitted = fit_market(records, progress=progress_words())
    region = region_of(fitted, name, provenance_of(records, day), selling=selling)
    if not each:
        return PooledRegions((region,), (), {}, ())
    parts = {str(market): rows for market, rows in records.groupby("market")}
    return pooled_regions(region, parts, {market: provenance_of(rows, day) for market, rows in parts.items()})


def _toward(pool: str, name: str, records: pd.DataFrame, day: date) -> PooledRegions:
    """Return a region of the records, its slide drawn toward that of a file."""
    from slidefit.regions.pooled_regions import region_toward
    from slidefit.regions.reading import read_region

    return region_toward(read_region(pool), name, records, provenance_of(records, day))
