"""Unit and currency where nothing names them: by the numbers, or asked."""

from __future__ import annotations

import numpy as np

from slidefit.errors import QuestionError
from slidefit.facts import Setting, Text
from slidefit.records.columns import FloatArray, TextColumn
from slidefit.records.meaning.column_fields import Assignment, filled, texts_at
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.words.fields import FOREIGN_WORDS, PRICE_ORDER, normal, unaccented
from slidefit.records.words.units import cell_money, is_province, money_code

# thresholds of the decisions by value; docs/records.md shows them
_US_PRICES = ("$/cwt", "$/lb", "cents/lb")
HUNDREDWEIGHT_MEDIAN = 16.0
PER_POUND_BELOW = 12.0
PER_HEAD_ABOVE = 800.0
KG_CALF_BELOW = 480.0
KG_PRICE_FROM = 250.0
RISING_FROM = 300.0
_RISING = {3: 0.5, 8: 0.3}  # fewest rows -> rank correlation of price with weight
_CORRELATED_ROWS = 20_000


def median(values: FloatArray) -> float:
    """Return the median of the filled values, or not-a-number."""
    filled = values[np.isfinite(values)]
    return float(np.median(filled)) if len(filled) else np.nan


def weight_unit_by_value(
    table: Table, weight: FloatArray, price_unit: str, *, foreign: bool
) -> tuple[str, str]:
    """Decide the weight unit from the numbers, or ask; pounds are no custom in a ``foreign`` list."""
    middle, metric = median(weight), price_unit in ("$/kg", "cents/kg")
    ask = "Say it with ", Setting("weight_unit", "kg or lb")
    if foreign and not metric and price_unit not in _US_PRICES:
        also = ", and ", Setting("price_unit", "$/kg, cents/kg, $/lb or $/cwt"), "."
        what = "nothing says whether the weights are in kg or lb, and the list does not follow US custom"
        raise QuestionError(what, where=table.name, remedy=Text(*ask, *also))
    if not np.isfinite(middle):
        return "lb", "nothing says otherwise"
    if middle < HUNDREDWEIGHT_MEDIAN:
        return "cwt", "numbers this small are hundredweight"
    if not metric:
        return "lb", "the price is by US weight" if price_unit else "nothing says otherwise"
    if float(np.nanmax(weight)) <= 1.5 * KG_CALF_BELOW and middle < KG_CALF_BELOW:
        return "kg", "the price is by the kilogram"
    what = "the price is by the kilogram, but nothing says whether the weights are in kg or lb"
    raise QuestionError(what, where=table.name, remedy=Text(*ask, "."))


def price_unit_by_value(
    table: Table, price: FloatArray, weight: FloatArray, weight_unit: str, *, foreign: bool
) -> tuple[str, str]:
    """Decide the price unit from the numbers, or ask."""
    middle = median(price)
    if not np.isfinite(middle):
        return "$/cwt", "nothing says otherwise"
    ask = Text("Say it with ", Setting("price_unit"), ": $/cwt, $/lb, cents/lb, $/kg, cents/kg or $/head.")
    prices = f"prices such as {middle:,.2f} are"
    if weight_unit == "kg":
        what = (
            f"weights are in kg, and nothing says whether {prices} by the kg, the hundredweight or the head"
        )
        raise QuestionError(what, where=table.name, remedy=ask)
    if foreign:
        what = f"nothing says what {prices} for, and the list does not follow US custom"
        raise QuestionError(what, where=table.name, remedy=ask)
    both = np.isfinite(price) & np.isfinite(weight)
    heaviest = float(np.nanmax(weight)) if both.any() else np.nan
    per_pound = middle < PER_POUND_BELOW
    if (
        heaviest < KG_CALF_BELOW
        and middle > (KG_PRICE_FROM / 100.0 if per_pound else KG_PRICE_FROM)
        and not _says_us(table)
        and both.sum() >= 3
    ):
        what = f"nothing says whether {prices} by the kg or by US weight, nor whether weights up to"
        also = Text(ask, " And ", Setting("weight_unit", "lb or kg"), ".")
        raise QuestionError(f"{what} {heaviest:,.0f} are kg or lb", where=table.name, remedy=also)
    if per_pound:
        return "$/lb", "numbers this small are dollars a pound"
    risen = _rank_correlation(price[both], weight[both]) if both.sum() >= min(_RISING) else 0.0
    least = next((_RISING[rows] for rows in sorted(_RISING, reverse=True) if both.sum() >= rows), 1.0)
    if middle > PER_HEAD_ABOVE or (middle > RISING_FROM and risen > least):
        what = f"nothing says whether {prices} by the head or by the hundredweight"
        raise QuestionError(what, where=table.name, remedy=ask)
    return "$/cwt", "nothing says otherwise, and the numbers fit dollars a hundredweight"


def check_together(table: Table, weight: FloatArray, weight_unit: str, price_unit: str) -> None:
    """Ask when weights said to be kilograms are far too heavy for calves priced by US weight.

    Raises
    ------
    QuestionError
        Weight and price units hardly go together.
    """
    middle = median(weight)
    if weight_unit == "kg" and price_unit in _US_PRICES and KG_CALF_BELOW < middle < 2.0 * KG_CALF_BELOW:
        raise QuestionError(
            f"weights such as {middle:,.0f} are said to be kg, but prices are by US weight and no calf is that heavy",
            where=table.name,
            remedy=Text("Say what they are with ", Setting("weight_unit", "lb or kg"), "."),
        )


def _says_us(table: Table) -> bool:
    fields = {heading.field for heading in table.headings}
    return bool(fields & {"frame", "muscle", "grade"}) or "grade" in table.said


def _rank_correlation(first: FloatArray, second: FloatArray) -> float:
    """Return Spearman's rank correlation; zero when one does not vary."""
    step = max(len(first) // _CORRELATED_ROWS, 1)
    first, second = first[::step], second[::step]
    ranks = [np.unique(values, return_inverse=True)[1] for values in (first, second)]
    return float(np.corrcoef(ranks[0], ranks[1])[0, 1]) if all(map(np.any, ranks)) else 0.0


def mended_unit(unit: str, price: FloatArray, options: ReadOptions) -> tuple[str, str]:
    """Put right a stated unit that the numbers contradict a hundredfold (150 $/lb, 1.50 $/cwt), with a note."""
    middle = median(price)
    if options.price_unit or not np.isfinite(middle):
        return unit, ""
    if unit == "$/lb" and middle >= 4 * PER_POUND_BELOW:
        return "cents/lb", f"the file says $/lb, but prices such as {middle:,.2f} are cents a pound; read so"
    if unit in ("$/cwt", "cents/lb") and middle < PER_POUND_BELOW:
        return "$/lb", f"the file says {unit}, but prices such as {middle:,.2f} are dollars a pound; read so"
    return unit, ""


POUND_MONEY = ("USD", "CAD")  # feeder calves are sold by pounds and hundredweight: common practice, no source
MOST_CELLS = 2_000


def named_money(table: Table, assignment: Assignment, prices: TextColumn, options: ReadOptions) -> str:
    """Return the money that the user, the headings, the cells or the titles name, or blank."""
    if options.currency:
        return options.currency.upper()
    columns = [at for name in PRICE_ORDER if (at := assignment.first(name)) is not None]
    if headed := next(filter(None, (table.headings[at].currency for at in columns)), ""):
        return headed
    rows = {money_code(text) for text in texts_at(table, assignment, "currency")}
    for cells in (list(rows), list(map(cell_money, prices.distinct()[:MOST_CELLS]))):
        named = [code for code in cells if code]
        if named and len(named) > 0.5 * len(cells):
            return max(sorted(set(named)), key=named.count)
    if table.said.get("currency"):
        return table.said["currency"]
    places = [text for column in _place_columns(table) for text in filled(column)[:MOST_CELLS]]
    return "CAD" if places and all(map(is_province, places)) else ""


def _place_columns(table: Table) -> list[TextColumn]:
    """Return the columns that tell the state or province, or a place that may be one."""
    return [
        column
        for heading, column in zip(table.headings, table.columns, strict=True)
        if heading.field in ("region", "market") and any(map(is_province, column.distinct()[:MOST_CELLS]))
    ]


def row_money(table: Table, currency: str) -> TextColumn | None:
    """Return the money of each row where a column of states holds provinces of Canada too; None where none does."""
    columns = [column for column in _place_columns(table) if not all(map(is_province, column.distinct()))]
    return columns[0].mapped(lambda text: "CAD" if is_province(text) else currency) if columns else None


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
    if named == "CAD" and _place_columns(table):
        return named, "prices of Canadian provinces were taken as CAD"
    if row_money(table, named or "USD") is not None:
        return named or "USD", "rows of Canadian provinces were taken as CAD"
    if named:
        return named, ""
    if unit == "cents/kg":
        how = "no money is named; cents a kilogram live weight are Australian custom, so AUD was taken"
        return "AUD", how
    if foreign_words(table):
        ask = Text("Say it with ", Setting("currency"), " and three letters, such as MXN, BRL or USD.")
        what = "nothing says which country's money the prices are in"
        raise QuestionError(what, where=table.name, remedy=ask)
    return "USD", "prices are by the kilogram and no money is named; USD was taken" * (unit == "$/kg")
