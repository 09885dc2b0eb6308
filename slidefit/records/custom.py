"""Whose custom a table follows: its money, and whether US pounds and dollars may be taken where nothing is said."""

from __future__ import annotations

from slidefit.errors import QuestionError
from slidefit.records.assign import Assignment
from slidefit.records.coded import Coded
from slidefit.records.fields import FOREIGN_WORDS, PRICE_ORDER, normal, unaccented
from slidefit.records.options import ReadOptions
from slidefit.records.tables import Table
from slidefit.records.units import currency_of

POUND_MONEY = ("USD", "CAD")  # feeder calves are sold by pounds and hundredweight: common practice, no source
MOST_CELLS = 2_000


def named_money(table: Table, assignment: Assignment, prices: Coded, options: ReadOptions) -> str:
    """Return the money that the user, the headings, the cells or the titles name, or blank."""
    if options.currency:
        return options.currency.upper()
    for name in PRICE_ORDER:
        place = assignment.first(name)
        if place is not None and table.headings[place].currency:
            return table.headings[place].currency
    column = assignment.first("currency")
    rows = {money_code(text) for text in table.columns[column].distinct()} if column is not None else set()
    for cells in (list(rows), list(map(cell_money, prices.distinct()[:MOST_CELLS]))):
        named = [code for code in cells if code]
        if named and len(named) > 0.5 * len(cells):
            return max(sorted(set(named)), key=named.count)
    return table.said.get("currency", "")


def cell_money(text: str) -> str:
    """Return the code of the money that a price cell names, or blank; a cell of digits names none.

    >>> cell_money("C$ 330.00"), cell_money("330.00")
    ('CAD', '')
    """
    return "" if text[:1].isdigit() and text[-1:].isdigit() else currency_of(text)


def money_code(text: str) -> str:
    """Return the code of the money in a cell of a currency column, or blank.

    >>> money_code("cad"), money_code("US$"), money_code("n/a")
    ('CAD', 'USD', '')
    """
    bare = text.strip()
    return currency_of(bare) or (bare.upper() if bare.isalpha() and len(bare) == 3 else "")


def foreign_words(table: Table) -> bool:
    """Tell whether the headings are in the words of another country's lists, such as Fecha, Prix or Saleyard."""
    words = {word for heading in table.headings for word in unaccented(normal(heading.text)).split()}
    return bool(words & FOREIGN_WORDS)


def money_of(table: Table, named: str, unit: str) -> tuple[str, str]:
    """Return the money of the table, and a sentence when it was taken from custom.

    Raises
    ------
    QuestionError
        The list is not in the words of US lists and names no money.
    """
    if named:
        return named, ""
    if unit == "cents/kg":
        return (
            "AUD",
            "no money is named; cents a kilogram live weight are Australian custom, so AUD was taken "
            "(--currency changes it)",
        )
    if foreign_words(table):
        raise QuestionError(
            "nothing says which country's money the prices are in",
            where=table.name,
            remedy="Say it with --currency and three letters, such as MXN, BRL or USD.",
        )
    if unit == "$/kg":
        return (
            "USD",
            "prices are by the kilogram and no money is named; USD was taken (--currency changes it)",
        )
    return "USD", ""
