"""Columns that could be read instead of the chosen ones: asked about, unless the headings tell which is of the sale."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Text
from slidefit.records.columns import FloatArray, TextColumn
from slidefit.records.meaning.column_fields import Assignment, filled, occasion
from slidefit.records.meaning.missing_columns import first_cells, means
from slidefit.records.reading.suggestions import field_by_cells, near_field
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import parse_grade
from slidefit.records.words.dates import is_full_date, parse_date
from slidefit.records.words.fields import field_by_words, normal
from slidefit.records.words.headings import ColumnHeading, Evidence
from slidefit.records.words.numerals import number_style, parse_number
from slidefit.records.words.periods import HEADINGS, WEEK
from slidefit.records.words.units import (
    DRESSED,
    PER_HEAD,
    parse_head,
    parse_price,
    parse_weight,
    price_unit_of,
    weight_unit_of,
)
from slidefit.records.words.vocabulary import words_of

_ROWS = 1_000  # of a table, that are compared
_DIFFER = 0.05  # of the rows; fewer are slips of the pen
_FILLED = 0.5  # of the rows that the chosen column fills; below it a column holds remarks
_SPREAD = 0.25  # of log ratios: two tellings of one measure go together (a choice of ours)
_LOOKS = dict.fromkeys(("date", "head", "weight", "price"), "price") | {"market": "", "sex": ""}
_MOST_SPELLED = 100  # columns; comparing the spellings of more takes seconds
_TIME = words_of("heading_parts", "time")


def _day(text: str, decimal: str = ".") -> float:
    found = parse_date(text) if is_full_date(text) else None
    return float(found.day.toordinal()) if found else np.nan


def _weight(text: str, decimal: str = ".") -> float:
    return parse_weight(text, decimal).single


def _price(text: str, decimal: str = ".") -> float:
    return cell.single if (cell := parse_price(text, decimal)).given else np.nan


@dataclass(frozen=True)
class _Measure:
    """How the cells of a field are read, and how far apart two tellings of it can lie (ratios; days for dates)."""

    said: str
    read: Callable[[str, str], float]
    ratio: float
    some_equal: bool = False


_MEASURES = {
    "date": _Measure("day of the sale", _day, 0.0),
    "price": _Measure("price", _price, 2.0),
    "weight": _Measure("weight", _weight, 1.4),
    "lot_weight": _Measure("weight", _weight, 1.4),
    "head": _Measure("head", parse_head, 3.0, some_equal=True),
}


def _numbers(column: TextColumn, read: Callable[[str, str], float]) -> FloatArray:
    """Return the numbers of the first rows of a column."""
    decimal = number_style(column.values[:_ROWS]) or "."
    return column.take(np.arange(min(len(column), _ROWS))).floats(lambda text: read(text, decimal))


def _tells_again(one: FloatArray, two: FloatArray, measure: _Measure) -> bool:
    """Tell whether two columns tell one measure with different numbers."""
    known = np.isfinite(one)
    both = known & np.isfinite(two)
    if not both.any() or both.sum() < _FILLED * known.sum():
        return False
    equal = one[both] == two[both]
    if equal.mean() >= 1.0 - _DIFFER:
        return False
    if not measure.ratio:
        return True
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(two[both] / one[both])
    logs = logs[np.isfinite(logs)]
    constant = np.ptp(two[both]) == 0.0 < np.ptp(one[both])  # what is said once of a sale, such as its total
    if not len(logs) or constant or (measure.some_equal and not equal.any()):
        return False
    return bool(abs(np.median(logs)) <= np.log(measure.ratio) and logs.std() <= _SPREAD)


def check_rivals(table: Table, assignment: Assignment) -> None:
    """Ask which of two columns is the day, price, weight or head where both may be, and their cells differ.

    Raises
    ------
    QuestionError
        The headings don't tell; the remedy names both columns.
    """
    read = {place for places in assignment.places.values() for place in places}
    for name, measure in _MEASURES.items():
        chosen = assignment.first(name)
        if chosen is None or table.headings[chosen].how is Evidence.SAID:
            continue
        rivals: dict[int, FloatArray] = {}
        own: FloatArray | None = None
        for place, heading in enumerate(table.headings):
            lost = heading.field == name and assignment.how[place][0] == "unused"
            if place in read or heading.how is Evidence.SAID or not (lost or heading.unexplained):
                continue
            less = occasion(heading.text, name) < occasion(table.headings[chosen].text, name)
            if less or _other_unit(heading, table.headings[chosen]):
                continue
            own = _numbers(table.columns[chosen], measure.read) if own is None else own
            other = _numbers(table.columns[place], measure.read)
            again = _tells_again(own, other, measure) and not _other_kind(heading, name)
            if again and not _proven(table, assignment, name, own, other):
                rivals[place] = other
        if own is not None and _are_edges(own, [*rivals.values()]):
            read |= rivals.keys()
        elif rivals:
            raise _which(table, chosen, next(iter(rivals)), name)


def _are_edges(own: FloatArray, others: list[FloatArray]) -> bool:
    """Tell whether two columns are the lowest and the highest of each row, and the chosen one lies between them."""
    if len(others) != 2:
        return False
    low, high = sorted(others, key=lambda each: float(np.nansum(each - own)))
    known = np.isfinite(own) & np.isfinite(low) & np.isfinite(high)
    return bool(((low <= own) & (own <= high))[known].all()) and bool((low < high)[known].any())


def _other_kind(heading: ColumnHeading, name: str) -> bool:
    """Tell whether a heading names a unit of something else."""
    if heading.unit in (DRESSED, PER_HEAD):
        return True
    priced, weighed = bool(price_unit_of(heading.text)), bool(weight_unit_of(heading.text))
    near = field_by_words(heading.text) or near_field(heading.text)
    return not (near or name).startswith(name) or {"price": weighed and not priced, "date": False}.get(
        name, priced
    )


def _proven(table: Table, assignment: Assignment, name: str, own: FloatArray, other: FloatArray) -> bool:
    """Tell whether the chosen numbers lie inside the range of their rows, and the others don't."""
    edges = [assignment.first(f"{name}_{edge}") for edge in ("low", "high")]
    if None in edges:
        return False
    low, high = (_numbers(table.columns[at or 0], _MEASURES[name].read) for at in edges)
    inside = [np.mean((low <= each) & (each <= high)) >= 1.0 - _DIFFER for each in (own, other)]
    return bool(inside[0] and not inside[1])


def _other_unit(one: ColumnHeading, two: ColumnHeading) -> bool:
    """Tell whether two headings name different units or money: then both may tell the same price."""
    pairs = ((one.unit, two.unit), (one.currency, two.currency))
    return any(told and other and told != other for told, other in pairs)


def _which(table: Table, chosen: int, other: int, name: str) -> QuestionError:
    offered = _offered(table, {chosen: name, other: "unused"})
    (one, _, cells), (two, _, others) = offered["headings"]
    shown = f"{one!r} ({', '.join(cells)}) and {two!r} ({', '.join(others)})"
    return QuestionError(
        f"two columns may be the {_MEASURES[name].said}, and they differ: {shown}",
        where=table.name,
        remedy=Text("Say which one it is: ", means(one, name), " or ", means(two, name), "."),
        values=offered,
    )


def _offered(table: Table, fields: dict[int, str]) -> dict[str, tuple[tuple[str, str, tuple[str, ...]], ...]]:
    """Return what a question says of columns: heading, the field that it may be, first cells."""
    columns = ((table.headings[place].text, name, table.columns[place]) for place, name in fields.items())
    return {"headings": tuple((text, name, first_cells(column)) for text, name, column in columns)}


def check_left_out(table: Table, assignment: Assignment) -> None:
    """Ask about a heading that is not understood where it may tell the head, or the day that only a title tells.

    Raises
    ------
    QuestionError
        The remedy names the column.
    """
    dated = bool({"date", "year", "month", "week", "day"} & assignment.places.keys())
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        if not heading.unexplained:
            continue
        cells = first_cells(column)
        elsewhen = min(occasion(heading.text, name) for name in ("date", "head")) < 0
        spelled = cells and not elsewhen and len(table.headings) <= _MOST_SPELLED
        near = near_field(heading.text) if spelled else ""
        fits = near in _LOOKS and field_by_cells(column.distinct()) in (near, _LOOKS[near])
        if fits and near not in {*assignment.places, *table.said}:
            name, what = near, f"no column of {near} was recognized"
        elif not dated and not elsewhen and _may_be_days(heading.text, column):
            name = "week" if HEADINGS[WEEK].search(heading.text) else "date"
            what = f"the day of sale would be that of a title ({table.said.get('date', '')!r})"
        elif "head" not in assignment.places and _counts(column):
            name, what = "head", "no column of head was recognized"
        else:
            continue
        what = f"{what}, and the column {heading.text!r} ({', '.join(cells)}) may tell it"
        raise may_be(table, place, name, what)


def may_be(table: Table, place: int, name: str, what: str) -> QuestionError:
    """Return the question whether a column is that of a field or something else."""
    told, other = (means(table.headings[place].text, field) for field in (name, "unused"))
    ask = Text("Say what it is: ", told, ", or ", other, " where it is something else.")
    return QuestionError(what, where=table.name, remedy=ask, values=_offered(table, {place: name}))


_AFTER_SHRINK = words_of("heading_parts", "after_shrink")


def check_shrink(table: Table, assignment: Assignment) -> None:
    """Ask whether a column of shrink is still to be taken off the weight: the price is paid on the shrunk weight.

    That is so for lots sold with a pencil shrink (common practice, no source); which weight is told differs.

    Raises
    ------
    QuestionError
        Neither the user nor the heading of the weight says so.
    """
    place = assignment.first("shrink")
    weighed = [name for name in ("weight", "lot_weight") if name in assignment.places]
    if place is None or not weighed or table.headings[place].how is Evidence.SAID:
        return
    weight, heading = (table.headings[assignment.places[name][0]] for name in (weighed[0], "shrink"))
    shrinks = [each.value for each in map(parse_number, table.columns[place].distinct()) if each is not None]
    if _AFTER_SHRINK.search(normal(weight.text)) or not any(shrinks):
        return
    told, other = (means(heading.text, field) for field in ("shrink", "unused"))
    shown = f"{heading.text!r} ({', '.join(first_cells(table.columns[place]))})"
    raise QuestionError(
        f"nothing says whether the weight {weight.text!r} is before or after the shrink {shown}",
        where=table.name,
        remedy=Text("Say ", other, " where the weight is the one paid for, or ", told, " to take it off."),
        values=_offered(table, {place: "unused"}),
    )


_CUT_SHARE = 0.2  # of the rows; fewer are slips of the pen
_CUT_CELL = re.compile(r"\d{1,4}(?:\s{2,}\S.*)?$")


def check_cut_grades(table: Table, assignment: Assignment) -> None:
    """Refuse a table without a head whose grades are numbers in many rows, the class told elsewhere: cells cut wrongly.

    Raises
    ------
    RecordsError
        The message shows the numbers.
    """
    place, told = assignment.first("grade"), {*table.said, *assignment.places}
    if place is None or "head" in assignment.places or not told & {"sex", "category"}:
        return
    column = table.columns[place]
    cut = column.bools(lambda text: bool(_CUT_CELL.match(text)) and not parse_grade(text).text)
    if cut.mean() >= _CUT_SHARE:
        shown = ", ".join(map(repr, dict.fromkeys(column.texts()[cut][:_SHOWN].tolist())))
        raise RecordsError(
            f"{int(cut.sum())} of {len(cut)} cells of the grade {table.headings[place].text!r} are numbers ({shown}), "
            "and there is no column of head: the cells of a row were not told apart",
            where=table.name,
            remedy="Save it as a table with one value to a cell, or as CSV.",
        )


_SHOWN = 4

_MOST_WEEKS = 53.0


def _may_be_days(heading: str, column: TextColumn) -> bool:
    """Tell whether cells are dates, or words or whole numbers up to 53 under a heading of time."""
    if column.bools(is_full_date).mean() > _FILLED:
        return True
    if not _TIME.search(heading):
        return False
    numbers = [*map(parse_head, filled(column))]
    return bool(numbers) and not any(each > _MOST_WEEKS or each % 1.0 for each in numbers)


def _counts(column: TextColumn) -> bool:
    """Tell whether cells are whole numbers of the size of lots, and no running number."""
    if field_by_cells(column.distinct()) != "head" or not all(map(str.isdecimal, filled(column))):
        return False
    numbers = _numbers(column, parse_head)
    steps = np.diff(numbers[np.isfinite(numbers)])
    return len(steps) > 0 and not bool((steps >= 0).all())
