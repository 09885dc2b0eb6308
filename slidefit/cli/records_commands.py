"""Commands on what the book holds: add, book, undo, export; futures."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from slidefit.cli.speaking import book_option, json_option, say
from slidefit.errors import RecordsError

if TYPE_CHECKING:
    from slidefit.records.book.book_copies import BookCopy
    from slidefit.records.reading.source_card import SourceCard


def _pairs(pairs: tuple[str, ...], flag: str, example: str) -> dict[str, str]:
    """Return {left: right} from ``left=right`` words."""
    told = {}
    for pair in pairs:
        left, equals, right = pair.rpartition("=")
        if not equals or not left.strip() or not right.strip():
            raise RecordsError(
                f"{pair!r} is not of the form {example.split('=')[0]}=meaning",
                where=flag,
                remedy=f'Write for example: {flag} "{example}"',
            )
        told[left.strip()] = right.strip()
    return told


def _values(pairs: tuple[str, ...]) -> dict[str, dict[str, str]]:
    """Return {field: {word: meaning}} from ``field:word=meaning`` words."""
    told: dict[str, dict[str, str]] = {}
    for left, meaning in _pairs(pairs, "--value", "sex:1=steer").items():
        name, _, word = left.partition(":")
        if not name.strip() or not word.strip():
            raise RecordsError(
                f"{left!r} names no word of a column",
                where="--value",
                remedy='Write the field, a colon and the word: --value "sex:1=steer"',
            )
        told.setdefault(name.strip(), {})[word.strip()] = meaning
    return told


def _source(source: str | None, known: dict[str, SourceCard]) -> str | SourceCard | None:
    """Return the card that ``--source`` names: a TOML file's, one of the book's, or the name of a new one."""
    from slidefit.records.reading.source_card import read_card

    return read_card(source) if source and source.endswith(".toml") else known.get(source or "", source)


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path())
@book_option
@click.option(
    "--map", "pairs", multiple=True, metavar='"HEADING=FIELD"', help="What a column means; may be repeated."
)
@click.option("--market", help="The market, where the file doesn't name it.")
@click.option("--currency", metavar="CODE", help="Currency of the prices, where the file doesn't say (USD).")
@click.option(
    "--price-unit",
    metavar="UNIT",
    help="Unit of the price: $/cwt, $/lb, cents/lb, cents/cwt, $/kg, cents/kg, $/head.",
)
@click.option("--weight-unit", metavar="UNIT", help="Unit of the weight: lb, kg, cwt.")
@click.option("--sheet", help="Only this sheet of a workbook.")
@click.option(
    "--date-order",
    type=click.Choice(["mdy", "dmy", "ymd"]),
    help="Settles dates such as 05/03/2026: mdy, month first; dmy, day first; ymd, year first.",
)
@click.option(
    "--value",
    "values",
    multiple=True,
    metavar='"FIELD:WORD=MEANING"',
    help='What a word of a column means, as in "sex:1=steer"; may be repeated, and is remembered.',
)
@click.option(
    "--market-name",
    "market_names",
    multiple=True,
    metavar='"NAME=NAME IN THE BOOK"',
    help="Another name of a market; may be repeated, and is remembered.",
)
@click.option(
    "--sale-day",
    metavar="DAY",
    help="The day of sale, where the file doesn't tell it; or title or column, where the two differ.",
)
@click.option(
    "--source",
    metavar="NAME",
    help="The source that the files are of: one of 'slidefit source list', a new name, or a card.",
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
    values: tuple[str, ...],
    market_names: tuple[str, ...],
    source: str | None,
    dry_run: bool,
    aside: str | None,
    as_json: bool,
    **stated: Any,
) -> None:
    """Read FILES of sale records and add them to the book; rows that can't be used are set aside with a reason."""
    from slidefit.cli.speaking import row_progress
    from slidefit.records.read import read
    from slidefit.records.reading.sources import expected_rows
    from slidefit.records.result import write_set_aside
    from slidefit.records.sale_book import SaleBook
    from slidefit.records.sale_levels import prices_by_weight
    from slidefit.records.source_book import ask_about_same_sales, cards_of, keep_cards
    from slidefit.report.json_answers import add_answer
    from slidefit.report.market_content import add_content, dry_run_content

    known = cards_of(book)
    expected = expected_rows(files)
    with row_progress("reading", expected) as tell:
        result = read(
            list(files),
            mapping=_pairs(pairs, "--map", "Avg Wt=weight_lb"),
            values=_values(values),
            market_names=_pairs(market_names, "--market-name", "Rook Hill LLC=Rook Hill Auction"),
            source=_source(source, known),
            cards=known,
            progress=tell,
            **stated,
        )
    if aside:
        write_set_aside(result.aside, aside)
    if dry_run:
        prices = prices_by_weight(result.records, book)
        say(result, lambda: dry_run_content(result, prices), as_json=as_json)
        return
    with row_progress("adding", expected) as tell:
        ask_about_same_sales(book, result)
        added = SaleBook(book).add(result, progress=tell)
        keep_cards(book, result.cards)
    if aside and added.aside:  # in the columns of a book: those of the files hold other units
        whole = Path(aside).with_stem(f"{Path(aside).stem}_sales")
        rows = write_set_aside(added.aside, whole)
        click.echo(f"{rows} rows of sales set aside whole are in {whole}", err=True)
    say(add_answer(result, added), lambda: add_content(result, added), as_json=as_json)


@click.group(invoke_without_command=True)
@book_option
@json_option
@click.pass_context
def book(context: click.Context, book: str, as_json: bool) -> None:
    """Show what the book holds: by market, year and sex; its batches; months without sales."""
    if context.invoked_subcommand is not None:
        return
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.market_content import book_content

    summary = SaleBook(book).summary()
    say(summary, lambda: book_content(summary), as_json=as_json)


@book.command("rename-market")
@click.argument("old")
@click.argument("new")
@book_option
@json_option
def rename_market(old: str, new: str, book: str, as_json: bool) -> None:
    """Call the market OLD by the name NEW, in later additions too; sales under both names become one.

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


@book.command()
@click.argument("out", type=click.Path())
@book_option
@json_option
def backup(out: str, book: str, as_json: bool) -> None:
    """Copy the book and its source cards to OUT, whole or not at all; others may use the book meanwhile."""
    from slidefit.records.book.book_copies import back_up

    _say_copy(back_up(book, out), as_json=as_json)


@book.command()
@click.argument("copy", type=click.Path())
@book_option
@json_option
def restore(copy: str, book: str, as_json: bool) -> None:
    """Replace the book with COPY; the present book is kept beside it under a new name."""
    from slidefit.records.book.book_copies import restore as put_back

    _say_copy(put_back(copy, book), as_json=as_json)


def _say_copy(made: BookCopy, *, as_json: bool) -> None:
    newest = f", the newest sale of {made.last}" if made.last else ""
    kept = f"; the former book is kept as {made.former}" if made.former else ""
    say(made, lambda: f"{made.path}: {made.records:,} records{newest}{kept}\n", as_json=as_json)


@click.command()
@click.argument("batch")
@book_option
@json_option
def undo(batch: str, book: str, as_json: bool) -> None:
    """Take a BATCH (named by 'add' and 'book') out of the book."""
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


@click.group()
def futures() -> None:
    """Feeder cattle futures: settlements by contract month, kept in the book beside the sales."""


@futures.command("add")
@click.argument("file", type=click.Path())
@book_option
@click.option(
    "--as-of", type=click.DateTime(["%Y-%m-%d"]), help="The day of all settlements, where the file has none."
)
@json_option
def add_futures(file: str, book: str, as_of: datetime | None, as_json: bool) -> None:
    """Add settlements from FILE: columns for the day, the contract month (Jan 2027, 2027-01, F27) and the price."""
    from slidefit.records.futures_quotes import read_quotes
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.futures_content import quotes_added_content
    from slidefit.report.json_answers import quotes_added_answer

    read = read_quotes(file, as_of=as_of.date() if as_of else None)
    added = SaleBook(book).add_quotes(read)
    say(quotes_added_answer(read, added), lambda: quotes_added_content(read, added), as_json=as_json)


@futures.command("show")
@book_option
@json_option
def show_futures(book: str, as_json: bool) -> None:
    """Show the newest contracts in the book."""
    from slidefit.market.futures import QuoteHistory
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.futures_content import quotes_content
    from slidefit.report.json_answers import quotes_answer

    quotes = SaleBook(book).quotes()
    newest = QuoteHistory(quotes).newest() if quotes else ()
    say(quotes_answer(quotes, newest), lambda: quotes_content(quotes, newest), as_json=as_json)


@click.group()
def source() -> None:
    """How files of known sources are read: their headings, words and units."""


@source.command("list")
@book_option
@json_option
def list_sources(book: str, as_json: bool) -> None:
    """List the sources of the book's files."""
    from slidefit.records.source_book import cards_of
    from slidefit.report.sources_content import sources_content

    cards = tuple(cards_of(book).values())
    say({"sources": cards}, lambda: sources_content(cards), as_json=as_json)


@source.command()
@click.argument("name")
@book_option
def show(name: str, book: str) -> None:
    """Show the card of the source NAME, as the TOML text that a colleague can use with 'add --source FILE.toml'."""
    from slidefit.records.reading.source_card import card_toml
    from slidefit.records.source_book import cards_of, no_card

    cards = cards_of(book)
    if name not in cards:
        raise no_card(name, cards)
    click.echo(card_toml(cards[name]), nl=False)


@source.command()
@click.argument("card", type=click.Path())
@json_option
def check(card: str, as_json: bool) -> None:
    """Check a CARD, a TOML file of a source; list every fault with its line."""
    from slidefit.records.reading.source_card import read_card

    name = read_card(card).name
    say(
        {"card": card, "source": name, "faults": []},
        lambda: f"{card}: the card of {name!r} is right\n",
        as_json=as_json,
    )


@source.command()
@click.argument("name")
@book_option
@json_option
def forget(name: str, book: str, as_json: bool) -> None:
    """Forget the source NAME: delete its card and its file; records stay."""
    from slidefit.records.source_book import forget_card

    forget_card(book, name)
    say({"forgotten": name}, lambda: f"the source {name!r} is forgotten; its records stay\n", as_json=as_json)
