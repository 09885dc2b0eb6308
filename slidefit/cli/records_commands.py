"""Commands on sale records: add, book, undo, export."""

from __future__ import annotations

import click

from slidefit.cli.speaking import book_option, json_option, say
from slidefit.errors import RecordsError


def _mapping(pairs: tuple[str, ...]) -> dict[str, str] | None:
    """Return {heading: field} from ``Heading=field`` words."""
    mapping = {}
    for pair in pairs:
        heading, equals, name = pair.rpartition("=")
        if not equals or not heading or not name:
            raise RecordsError(
                f"{pair!r} is not of the form Heading=field",
                where="--map",
                remedy='Write for example: --map "Avg Wt=weight_lb"',
            )
        mapping[heading] = name.strip()
    return mapping or None


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path())
@book_option
@click.option(
    "--map", "pairs", multiple=True, metavar='"HEADING=FIELD"', help="What a column means; may be repeated."
)
@click.option("--market", help="The market, where the file doesn't name it.")
@click.option("--currency", metavar="CODE", help="Currency of the prices, where the file doesn't say (USD).")
@click.option(
    "--price-unit", metavar="UNIT", help="Unit of the price: $/cwt, $/lb, cents/lb, $/kg, cents/kg, $/head."
)
@click.option("--weight-unit", metavar="UNIT", help="Unit of the weight: lb, kg, cwt.")
@click.option("--sheet", help="Only this sheet of a workbook.")
@click.option(
    "--date-order",
    type=click.Choice(["mdy", "dmy"]),
    help="Settles dates such as 05/03/2026: mdy, month first; dmy, day first.",
)
@click.option("--layout", metavar="NAME", help="Read by the rules saved under this name beside the book.")
@click.option(
    "--save-layout", metavar="NAME", help="Save the reading rules given here, for the next file of this kind."
)
@click.option("--dry-run", is_flag=True, help="Show how the file is read; add nothing.")
@click.option(
    "--set-aside",
    "aside",
    type=click.Path(),
    metavar="OUT.csv",
    help="Write rows that can't be used here, with the reason.",
)
@json_option
def add(
    files: tuple[str, ...],
    book: str,
    pairs: tuple[str, ...],
    market: str | None,
    currency: str | None,
    price_unit: str | None,
    weight_unit: str | None,
    sheet: str | None,
    date_order: str | None,
    layout: str | None,
    save_layout: str | None,
    dry_run: bool,
    aside: str | None,
    as_json: bool,
) -> None:
    """Read FILES of sale records and add them to the book; rows that can't be used are set aside with a reason."""
    from slidefit.cli.speaking import row_progress
    from slidefit.records.read import read
    from slidefit.records.reading.source_card import layout_path, load_layout
    from slidefit.records.reading.source_card import save_layout as write_layout
    from slidefit.records.reading.sources import expected_rows
    from slidefit.records.result import write_set_aside
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.json_documents import add_document
    from slidefit.report.market_content import add_content, dry_run_content

    expected = expected_rows(files)
    with row_progress("reading", expected) as tell:
        result = read(
            list(files),
            mapping=_mapping(pairs),
            market=market,
            currency=currency,
            price_unit=price_unit,
            weight_unit=weight_unit,
            date_order=date_order,
            sheet=sheet,
            layout=load_layout(layout_path(book, layout)) if layout else None,
            progress=tell,
        )
    if save_layout and result.layout is not None:
        write_layout(result.layout, layout_path(book, save_layout))
    if aside:
        write_set_aside(result, aside)
    if dry_run:
        say(add_document(result, None), lambda: dry_run_content(result), as_json=as_json)
        return
    with row_progress("adding", expected) as tell:
        added = SaleBook(book).add(result, progress=tell)
    say(add_document(result, added), lambda: add_content(result, added), as_json=as_json)


@click.group(invoke_without_command=True)
@book_option
@json_option
@click.pass_context
def book(context: click.Context, book: str, as_json: bool) -> None:
    """Show what the book holds: by market, year and sex; its batches; months without sales."""
    if context.invoked_subcommand is not None:
        return
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.json_documents import book_document
    from slidefit.report.market_content import book_content

    summary = SaleBook(book).summary()
    say(book_document(summary), lambda: book_content(summary), as_json=as_json)


@book.command("rename-market")
@click.argument("old")
@click.argument("new")
@book_option
@json_option
def rename_market(old: str, new: str, book: str, as_json: bool) -> None:
    """Call the market OLD by the name NEW, in later additions too; sales told under both names become one.

    OLD is the whole name as 'book' shows it, or "" for records without one.
    """
    from slidefit.records.sale_book import SaleBook

    batch, records = SaleBook(book).rename_market(old, new)
    say(
        {"batch": batch, "from": old, "to": new, "records": records},
        lambda: (
            f"{records:,} records of {old or 'no market'} are now of {new}\n"
            f"Batch {batch}; to take it back: slidefit undo {batch}\n"
        ),
        as_json=as_json,
    )


@click.command()
@click.argument("batch")
@book_option
@json_option
def undo(batch: str, book: str, as_json: bool) -> None:
    """Take a BATCH (named by 'add' and 'book') out of the book again."""
    from slidefit.records.sale_book import SaleBook

    removed = SaleBook(book).undo(batch)
    say(
        {"batch": batch, "removed": removed},
        lambda: f"batch {batch} undone: {removed:,} records taken out or renamed back\n",
        as_json=as_json,
    )


@click.command()
@click.argument("out", type=click.Path())
@book_option
@json_option
def export(out: str, book: str, as_json: bool) -> None:
    """Write the book's tidy records to OUT, a .csv or .parquet file."""
    from slidefit.records.sale_book import SaleBook

    rows = SaleBook(book).export(out)
    say({"export": out, "records": rows}, lambda: f"{out}: {rows:,} records\n", as_json=as_json)
