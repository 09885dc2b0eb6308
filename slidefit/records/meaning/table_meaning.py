"""What a table means, decided once for all of its rows: columns, units, money, order of dates; and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slidefit.errors import QuestionError
from slidefit.facts import Setting, Text
from slidefit.records.columns import FloatArray, TextColumn
from slidefit.records.meaning.column_fields import SAMPLE, Assignment, assign, texts_at
from slidefit.records.meaning.missing_columns import check_columns
from slidefit.records.meaning.rival_columns import (
    check_cut_grades,
    check_left_out,
    check_rivals,
    check_shrink,
)
from slidefit.records.meaning.sale_days import with_sale_day
from slidefit.records.meaning.unit_choice import (
    MOST_CELLS,
    POUND_MONEY,
    check_together,
    foreign_words,
    mended_unit,
    money_of,
    named_money,
    price_unit_by_value,
    weight_unit_by_value,
)
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.result import ColumnMeaning
from slidefit.records.words.date_order import (
    DateOrder,
    OrderEvidence,
    decide_order,
    is_month_and_two,
    pattern_in,
    said_order,
)
from slidefit.records.words.dates import with_year
from slidefit.records.words.fields import PRICE_FIELDS, PRICE_ORDER, WEIGHT_ORDER
from slidefit.records.words.numerals import number_style, parse_number
from slidefit.records.words.periods import LONG, period_of
from slidefit.records.words.units import (
    DRESSED,
    HUNDREDWEIGHT_BELOW,
    PER_HEAD,
    PRICE_FACTORS,
    WEIGHT_FACTORS,
    Measure,
    cell_money,
    parse_head,
    parse_price,
    parse_weight,
    row_price_unit,
    weight_unit_of,
    whole_unit,
)

# a weight column heavier than this may hold whole lots; then head must give a mean inside the limits
LOT_WEIGHT_ABOVE = 1_500.0
LOT_MEAN_LB = (100.0, 1_600.0)
FEWEST_LOTS = 6
CLOSER = 0.6


@dataclass(frozen=True)
class Meaning:
    """Everything that turns the cells of a table into records."""

    assignment: Assignment
    columns: tuple[ColumnMeaning, ...]
    price_unit: str
    unit_said: bool
    weight_unit: str
    currency: str
    money_in_cells: bool
    order: DateOrder
    price_decimal: str
    weight_decimal: str
    head_decimal: str
    lot_weight_in_weight: bool
    period: str
    notes: tuple[str, ...]


def price_places(assignment: Assignment) -> dict[str, int]:
    """Return the columns of price, the surest first."""
    return {name: assignment.places[name][0] for name in PRICE_ORDER if name in assignment.places}


def _decimals(price: TextColumn, weight: TextColumn) -> tuple[str, str]:
    """Return the decimal signs of prices and weights; where one column proves nothing, the other speaks for it."""
    styles = [number_style(column.values) for column in (price, weight)]
    return styles[0] or styles[1] or ".", styles[1] or styles[0] or "."


def _marked_unit(column: TextColumn, parse: Callable[[str], Measure]) -> str:
    """Return the unit that most cells tell, or blank."""
    units = [parse(text).unit for text in column.distinct()[:SAMPLE]]
    best = max(units, key=units.count, default="")
    return best if units.count(best) > 0.5 * len(units) else ""


def decide(table: Table, options: ReadOptions) -> Meaning:
    """Decide what a table means.

    Raises
    ------
    RecordsError
        There is no column of price or weight.
    QuestionError
        A unit can't be decided; the remedy names the flag that settles it.
    """
    assignment, sale_day = with_sale_day(table, assign(table), options)
    check_columns(table, assignment)
    check_rivals(table, assignment)
    check_left_out(table, assignment)
    check_shrink(table, assignment)
    check_cut_grades(table, assignment)
    prices = price_places(assignment)
    price_column = table.columns[next(iter(prices.values()))]
    weight_name = next((name for name in WEIGHT_ORDER if name in assignment.places), "")
    weight_column = TextColumn.constant(table.said.get("weight_range", ""), len(table.rows))
    if weight_name:
        weight_column = table.columns[assignment.places[weight_name][0]]
    price_decimal, weight_decimal = _decimals(price_column, weight_column)
    price = price_column.floats(
        lambda text: c.middle if (c := parse_price(text, price_decimal)).given else np.nan
    )
    weight = weight_column.floats(
        lambda text: np.nan if (c := parse_weight(text, weight_decimal)).open_ended else c.middle
    )
    lot_total = _is_lot_total(table, assignment, weight, weight_name)
    named = named_money(table, assignment, price_column, options)
    foreign = (named or "USD") not in POUND_MONEY or foreign_words(table)
    said_weight, weight_how = _stated_weight_unit(table, assignment, weight_name, weight_column, options)
    said_price, price_how = _stated_price_unit(table, assignment, prices, price_column, options)
    scale = weight / _heads(table, assignment) if lot_total else weight
    weight_unit = said_weight
    if not weight_unit:
        weight_unit, weight_how = weight_unit_by_value(table, scale, said_price, foreign=foreign)
    if weight_unit == "cwt":
        scale = np.where(scale < HUNDREDWEIGHT_BELOW, 100.0 * scale, scale)
    price_unit = whole_unit(said_price, weight_unit)
    if not price_unit:
        price_unit, price_how = price_unit_by_value(table, price, scale, weight_unit, foreign=foreign)
    if not options.weight_unit:
        check_together(table, scale, weight_unit, price_unit)
    by_row = "price_unit" in assignment.places
    price_unit, mended = (price_unit, "") if by_row else mended_unit(price_unit, price, options)
    currency, money = money_of(table, named, price_unit)
    metric = weight_unit == "kg" or currency not in POUND_MONEY
    order = _order(table, assignment, options, metric=metric, mixed=_two_customs(metric, foreign, currency))
    period, averaged = _period(table, assignment, order)
    lots = "the weight column holds the weight of the whole lot; it was divided by the head" * lot_total
    keyless = codes_without_key(table, assignment)
    codes = "frame and muscle are codes without a key; they were left blank" * keyless
    return Meaning(
        assignment,
        _account(table, assignment, (price_unit, price_how), (weight_unit, weight_how), order),
        price_unit,
        bool(said_price) or by_row,
        weight_unit or "lb",
        currency,
        not options.currency and any(map(cell_money, price_column.distinct()[:MOST_CELLS])),
        order,
        price_decimal,
        weight_decimal,
        "," if "," in (price_decimal, weight_decimal) else ".",
        lot_total,
        period,
        tuple(filter(None, (sale_day, lots, mended, money, averaged, codes))),
    )


def _two_customs(metric: bool, foreign: bool, currency: str) -> bool:
    """Tell whether the units go with both orders of day and month: kilograms beside US dollars, and so on."""
    return currency in POUND_MONEY and not foreign if metric else foreign or currency == "CAD"


def check_order(table: Table, meaning: Meaning) -> None:
    """Ask for the order of day and month where the file leaves it open.

    Raises
    ------
    QuestionError
        Dates speak for both orders, or for none where custom knows both.
    """
    if meaning.order.question:
        said = Setting("date_order", "mdy, dmy or ymd"), "; rows whose date does not fit it are set aside."
        remedy = meaning.order.in_file or Text("Say it with ", *said)
        raise QuestionError(meaning.order.question, where=table.name, remedy=remedy)


def codes_without_key(table: Table, assignment: Assignment) -> bool:
    """Tell whether frame sizes are bare numbers, so that they and the muscle numbers have no known meaning."""
    texts = texts_at(table, assignment, "frame")
    return bool(texts) and all(parse_number(text) is not None for text in texts)


def _heads(table: Table, assignment: Assignment) -> FloatArray:
    place = assignment.first("head")
    return table.columns[place].floats(parse_head) if place is not None else np.full(len(table.rows), np.nan)


def _is_lot_total(table: Table, assignment: Assignment, weight: FloatArray, name: str) -> bool:
    """Tell whether a column called weight holds whole lots: too heavy for a calf, right once divided by the head."""
    if name != "weight" or "head" not in assignment.places or "weight_range" in assignment.places:
        return False
    return holds_lots(weight, _heads(table, assignment))


def holds_lots(weight: FloatArray, head: FloatArray) -> bool:
    """Tell whether weights are those of whole lots: they grow with the head, or are too heavy for a calf."""
    known, several = (weight > 0) & (head >= 1), np.isfinite(weight) & (head >= 2)
    if known.sum() >= FEWEST_LOTS and len(np.unique(head[known])) > 1:
        mean = weight[known] / head[known]
        if _are_means(mean) and np.log(mean).std() < CLOSER * np.log(weight[known]).std():
            return True  # divided by the head they lie far closer together
    heavy = several.sum() > 1 and np.mean(weight[several] > LOT_WEIGHT_ABOVE) >= 0.3
    return bool(heavy) and _are_means(weight[several] / head[several])


def _are_means(weight: FloatArray) -> bool:
    return bool(np.mean((weight >= LOT_MEAN_LB[0]) & (weight <= LOT_MEAN_LB[1])) >= 0.9)


def _stated_weight_unit(
    table: Table, assignment: Assignment, name: str, column: TextColumn, options: ReadOptions
) -> tuple[str, str]:
    """Return the weight unit that the user, heading, cells or titles state, and who did."""
    if options.weight_unit:
        return options.weight_unit, "said by the user"
    place = assignment.first(name)
    if place is not None and (unit := table.headings[place].unit) in WEIGHT_FACTORS:
        return unit, "unit in the heading"
    if marked := _marked_unit(column, parse_weight):
        return marked, "unit in the cells"
    named = {weight_unit_of(text) for text in texts_at(table, assignment, "weight_unit")} - {""}
    if named:
        return (named.pop() if len(named) == 1 else "lb"), "unit in its own column"
    said = table.said.get("weight_unit", "")
    return said, "unit in the titles" if said else ""


def _stated_price_unit(
    table: Table, assignment: Assignment, prices: dict[str, int], column: TextColumn, options: ReadOptions
) -> tuple[str, str]:
    """Return the price unit that the user, heading, cells or titles state, and who did."""
    if options.price_unit:
        return options.price_unit, "said by the user"
    for name, place in prices.items():
        if table.headings[place].unit in (*PRICE_FACTORS, PER_HEAD, DRESSED):
            return table.headings[place].unit, "unit in the heading"
        if name == "price_head":
            return PER_HEAD, "by its heading"
    if marked := _marked_unit(column, parse_price):
        return marked, "unit in the cells"
    if said := table.said.get("price_unit", ""):
        return said, "unit in the titles"
    if "price_unit" not in assignment.places:
        return "", ""
    units = {row_price_unit(text) for text in texts_at(table, assignment, "price_unit")} - {"", PER_HEAD}
    return (units.pop() if len(units) == 1 else "$/cwt"), "unit in its own column"


def _order(
    table: Table, assignment: Assignment, options: ReadOptions, *, metric: bool, mixed: bool
) -> DateOrder:
    if options.date_order:
        return said_order(options.date_order, OrderEvidence.SAID)
    place = assignment.first("date")
    if place is not None and (pattern := pattern_in(table.headings[place].text)):
        return said_order(pattern, OrderEvidence.PATTERN)
    said = table.said.get("year", "")
    texts = [with_year(text, said[:4]) for text in texts_at(table, assignment, "date")]
    texts += [table.said["date"]] if "date" in table.said else []
    if "day" in assignment.places:  # beside days of the month, Oct 26 is a month
        texts = [text for text in texts if not is_month_and_two(text)]
    known = bool(said) or "year" in assignment.places
    year = int(said) if said.isdecimal() else 0
    return decide_order(texts, today=options.today, metric=metric, mixed=mixed, year_known=known, year=year)


def _period(table: Table, assignment: Assignment, order: DateOrder) -> tuple[str, str]:
    """Return what the dates of the column stand for (blank: days), and the sentence that says so."""
    place = assignment.first("date")
    if place is None or {"day", "flags"} & assignment.places.keys():
        return "", ""
    texts = table.columns[place].distinct()
    found = [order.read(text) for text in texts]
    if not any(date is not None and date.precision == "day" for date in found):
        return "", ""
    exact = [date.day for date in found if date is not None and date.precision == "day"]
    period, how = period_of(table.headings[place].text, exact if len(exact) == len(texts) else [])
    if period == LONG:
        note = f"prices are averages over quarters or longer ({how}); they are no sales and were set aside"
        return period, note
    return period, f"dates stand for whole {period}s ({how})" if period else ""


def _account(
    table: Table, assignment: Assignment, price: tuple[str, str], weight: tuple[str, str], order: DateOrder
) -> tuple[ColumnMeaning, ...]:
    """Return how each column was read; of prices and weights the unit, and what told it."""
    used = {place: name for name, places in assignment.places.items() for place in places}
    rows = []
    for place, heading in enumerate(table.headings):
        name = used.get(place, "")
        shown = name or assignment.how[place][0] or "unused"
        how = assignment.how[place][1] or "not recognized"
        unit = ""
        if name in PRICE_FIELDS:
            unit, how = (PER_HEAD if name == "price_head" else price[0]), f"{how}; {price[1]}"
        elif name in WEIGHT_ORDER:
            unit, how = weight[0], f"{how}; {weight[1]}"
        elif name == "date" and order.how:
            unit, how = order.name, f"{how}; {order.how}"
        rows.append(ColumnMeaning(heading.text, shown, unit, how))
    rows += [
        ColumnMeaning("", name, "", f"the titles say {text!r}")
        for name, text in table.said.items()
        if name not in used.values()
    ]
    return tuple(rows)
