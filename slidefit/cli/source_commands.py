"""Commands on the sources of a book's files: list, show, check, forget."""

from __future__ import annotations

import click

from slidefit.cli.speaking import book_option, json_option, say


@click.group()
def source() -> None:
    """What is known of the sources of sale files: how their headings, words and units are read."""


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
    """Check a CARD, a TOML file of a source; every fault is told with its line."""
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
    """Forget the source NAME: its card goes out of the book, and its file away; records stay."""
    from slidefit.records.source_book import forget_card

    forget_card(book, name)
    say({"forgotten": name}, lambda: f"the source {name!r} is forgotten; its records stay\n", as_json=as_json)
