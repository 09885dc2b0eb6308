"""What a table means, decided once for all of its rows: columns, units, money, order of dates; and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from slidefit.errors import QuestionError
from slidefit.facts import Setting, Text
from slidefit.records.columns import FloatArray, TextColumn
from slidefit.records.meaning.column_fields import (
    SAMPLE,
    Assignment,
    assign,
)
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
from slidefit.records.words.date_order import DateOrder, OrderEvidence, decide_order, is_month_and_two
from slidefit.records.words.dates import parse_date, with_year
from slidefit.records.words.fields import PRICE_FIELDS, PRICE_ORDER
from slidefit.records.words.headings import ColumnHeading
from slidefit.records.words.numerals import is_missing, number_style, parse_number
from slidefit.records.words.periods import LONG, period_of
from slidefit.records.words.units import (
    DRESSED,
    HUNDREDWEIGHT_BELOW,
    PER_HEAD,
    PRICE_FACTORS,
    cell_money,
    parse_head,
    parse_price,
    parse_weight,
    row_price_unit,
    weight_unit_of,
)

# a weight column heavier than this may hold whole lots; then head must give a mean inside the limits
LOT_WEIGHT_ABOVE = 1_500.0
LOT_MEAN_LB = (100.0, 1_600.0)
FEWEST_LOTS = 6
CLOSER = 0.6
_WEIGHT_ORDER = (
    "weight",
    "lot_weight",
    "weight_range",
    "class_low",
    "weight_low",
    "class_high",
    "weight_high",
)


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


def _middle(column: TextColumn, decimal: str, parse: str) -> FloatArray:
    if parse == "price":
        return column.floats(
            lambda text: (lambda c: 0.5 * (c.low + c.high) if c.given else np.nan)(parse_price(text, decimal))
        )
    return column.floats(
        lambda text: (lambda c: np.nan if c.open_ended else 0.5 * (c.low + c.high))(
            parse_weight(text, decimal)
        )
    )


def _marked_unit(column: TextColumn, parse: str) -> str:
    cells = [
        parse_price(text) if parse == "price" else parse_weight(text) for text in column.distinct()[:SAMPLE]
    ]
    units = [cell.unit for cell in cells if cell.unit]
    best = max(set(units), key=units.count) if units else ""
    return best if units.count(best) > 0.5 * len(cells) else ""


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
    notes: list[str] = [sale_day] if sale_day else []
    price_column = table.columns[next(iter(prices.values()))]
    weight_name = next((name for name in _WEIGHT_ORDER if name in assignment.places), "")
    weight_column = (
        table.columns[assignment.places[weight_name][0]]
        if weight_name
        else TextColumn.constant(table.said.get("weight_range", ""), len(table.rows))
    )
    price_decimal, weight_decimal = _decimals(price_column, weight_column)
    price, weight = (
        _middle(price_column, price_decimal, "price"),
        _middle(weight_column, weight_decimal, "weight"),
    )
    lot_total = _is_lot_total(table, assignment, weight, weight_name)
    if lot_total:
        notes.append("the weight column holds the weight of the whole lot; it was divided by the head")
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
    price_unit = said_price
    if price_unit == "cents":
        price_unit = "cents/kg" if weight_unit == "kg" else "cents/lb"
    if not price_unit:
        price_unit, price_how = price_unit_by_value(table, price, scale, weight_unit, foreign=foreign)
    if not options.weight_unit:
        check_together(table, scale, weight_unit, price_unit)
    by_row = "price_unit" in assignment.places
    price_unit, mended = (price_unit, "") if by_row else mended_unit(price_unit, price, options)
    notes.extend([mended] if mended else [])
    currency, money = money_of(table, named, price_unit)
    notes.extend([money] if money else [])
    metric = weight_unit == "kg" or currency not in POUND_MONEY
    order = _order(table, assignment, options, metric=metric, mixed=_two_customs(metric, foreign, currency))
    period = _period(table, assignment, order)
    notes.extend([period[1]] if period[1] else [])
    if codes_without_key(table, assignment):
        notes.append("frame and muscle are codes without a key; they were left blank")
    columns = _account(table, assignment, price_unit, price_how, weight_unit, weight_how, order)
    return Meaning(
        assignment,
        columns,
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
        period[0],
        tuple(notes),
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
        raise QuestionError(
            meaning.order.question,
            where=table.name,
            remedy=meaning.order.in_file
            or Text(
                "Say it with ",
                Setting("date_order", "mdy or dmy"),
                "; rows whose date does not fit it are set aside.",
            ),
        )


def codes_without_key(table: Table, assignment: Assignment) -> bool:
    """Tell whether frame sizes are bare numbers, so that they and the muscle numbers have no known meaning."""
    place = assignment.first("frame")
    texts = (
        [text for text in table.columns[place].distinct() if not is_missing(text)]
        if place is not None
        else []
    )
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
    several = np.isfinite(weight) & (head >= 2)
    if _grows_with_head(weight, head):
        return True
    if several.sum() < 2 or np.mean(weight[several] > LOT_WEIGHT_ABOVE) < 0.3:
        return False
    mean = weight[several] / head[several]
    inside = (mean >= LOT_MEAN_LB[0]) & (mean <= LOT_MEAN_LB[1])
    return bool(np.mean(inside) >= 0.9)


def _grows_with_head(weight: FloatArray, head: FloatArray) -> bool:
    """Tell whether weights grow with the head as whole lots do: divided by it they lie far closer together."""
    known = (weight > 0) & (head >= 1)
    if known.sum() < FEWEST_LOTS or len(np.unique(head[known])) < 2:
        return False
    mean = weight[known] / head[known]
    inside = np.mean((mean >= LOT_MEAN_LB[0]) & (mean <= LOT_MEAN_LB[1]))
    return bool(inside >= 0.9 and np.log(mean).std() < CLOSER * np.log(weight[known]).std())


def _stated_weight_unit(
    table: Table, assignment: Assignment, name: str, column: TextColumn, options: ReadOptions
) -> tuple[str, str]:
    """Return the weight unit that the user, heading, cells or titles state, and who did."""
    if options.weight_unit:
        return options.weight_unit, "said by the user"
    place = assignment.first(name)
    heading = table.headings[place] if place is not None else ColumnHeading("")
    if heading.unit in ("lb", "kg", "cwt"):
        return heading.unit, "unit in the heading"
    if _marked_unit(column, "weight"):
        return _marked_unit(column, "weight"), "unit in the cells"
    rows = assignment.first("weight_unit")
    texts = (
        {text.lower().strip(" .") for text in table.columns[rows].distinct()} if rows is not None else set()
    )
    named = {weight_unit_of(text) for text in texts} - {""}
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
    marked = _marked_unit(column, "price")
    if marked:
        return marked, "unit in the cells"
    said = table.said.get("price_unit", "")
    if said:
        return said, "unit in the titles"
    if "price_unit" not in assignment.places:
        return "", ""
    units = {row_price_unit(text) for text in table.columns[assignment.places["price_unit"][0]].distinct()}
    units -= {"", PER_HEAD}
    return (units.pop() if len(units) == 1 else "$/cwt"), "unit in its own column"


def _date_texts(table: Table, assignment: Assignment) -> list[str]:
    place = assignment.first("date")
    texts = list(table.columns[place].distinct()) if place is not None else []
    texts = [with_year(text, table.said.get("year", "")[:4]) for text in texts]
    return texts + ([table.said["date"]] if "date" in table.said else [])


def _order(
    table: Table, assignment: Assignment, options: ReadOptions, *, metric: bool, mixed: bool
) -> DateOrder:
    if options.date_order:
        return DateOrder(options.date_order == "dmy", OrderEvidence.SAID, by_day=True)
    year_known = "year" in table.said or assignment.first("year") is not None
    texts = _date_texts(table, assignment)
    said = table.said.get("year", "")
    year = int(said) if said.isdecimal() else 0
    if "day" in assignment.places:  # beside days of the month, Oct 26 is a month
        texts = [text for text in texts if not is_month_and_two(text)]
    return decide_order(
        texts, today=options.today, metric=metric, mixed=mixed, year_known=year_known, year=year
    )


def _period(table: Table, assignment: Assignment, order: DateOrder) -> tuple[str, str]:
    """Return what the dates of the column stand for (blank: days), and the sentence that says so."""
    place = assignment.first("date")
    if place is None or {"day", "flags"} & assignment.places.keys():
        return "", ""
    texts = table.columns[place].distinct()
    found = [parse_date(text, day_first=order.day_first, by_day=order.by_day) for text in texts]
    if not any(date is not None and date.precision == "day" for date in found):
        return "", ""
    exact = [date.day for date in found if date is not None and date.precision == "day"]
    period, how = period_of(table.headings[place].text, exact if len(exact) == len(texts) else [])
    if period == LONG:
        return (
            period,
            f"prices are averages over quarters or longer ({how}); they are no sales and were set aside",
        )
    return period, f"dates stand for whole {period}s ({how})" if period else ""


def _account(
    table: Table,
    assignment: Assignment,
    price_unit: str,
    price_how: str,
    weight_unit: str,
    weight_how: str,
    order: DateOrder,
) -> tuple[ColumnMeaning, ...]:
    used = {place: name for name, places in assignment.places.items() for place in places}
    rows = []
    for place, heading in enumerate(table.headings):
        name = used.get(place, "")
        shown = name or assignment.how[place][0] or "unused"
        how = assignment.how[place][1] or "not recognised"
        unit = ""
        if name in PRICE_FIELDS:
            unit, how = (PER_HEAD if name == "price_head" else price_unit), f"{how}; {price_how}"
        elif name in _WEIGHT_ORDER:
            unit, how = weight_unit, f"{how}; {weight_how}"
        elif name == "date" and order.how:
            unit, how = "day first" if order.day_first else "month first", f"{how}; {order.how}"
        rows.append(ColumnMeaning(heading.text, shown, unit, how))
    rows += [
        ColumnMeaning("", name, "", f"the titles say {text!r}")
        for name, text in table.said.items()
        if name not in used.values()
    ]
    return tuple(rows)
