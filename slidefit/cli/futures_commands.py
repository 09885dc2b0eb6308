"""Commands on futures: add, show."""

from __future__ import annotations

from datetime import datetime

import click

from slidefit.cli.speaking import book_option, json_option, say


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
    from slidefit.report.futures_content import quotes_added_content, quotes_added_document

    read = read_quotes(file, as_of=as_of.date() if as_of else None)
    added = SaleBook(book).add_quotes(read)
    say(quotes_added_document(read, added), lambda: quotes_added_content(read, added), as_json=as_json)


@futures.command("show")
@book_option
@json_option
def show_futures(book: str, as_json: bool) -> None:
    """Show the newest contracts in the book."""
    from slidefit.market.futures import QuoteHistory
    from slidefit.records.sale_book import SaleBook
    from slidefit.report.futures_content import quotes_content, quotes_document

    quotes = SaleBook(book).quotes()
    newest = QuoteHistory(quotes).newest() if quotes else ()
    say(quotes_document(quotes, newest), lambda: quotes_content(quotes, newest), as_json=as_json)
