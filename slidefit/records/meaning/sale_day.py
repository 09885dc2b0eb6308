"""The day of sale where the titles and a column both tell days: a column of later days tells deliveries."""

from __future__ import annotations

from dataclasses import replace

from slidefit.records.meaning.column_fields import Assignment
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.words.dates import SAME_SALE_DAYS, parse_date
from slidefit.records.words.titles import names_sale_day


def with_sale_day(table: Table, assignment: Assignment, options: ReadOptions) -> tuple[Assignment, str]:
    """Return the columns without that of the dates where these are deliveries, and the sentence that says so.

    A title that names the sale day is believed over a column all of whose days lie more than three days later, as
    in a video sale for autumn delivery; ``options.sale_day`` settles it either way.
    """
    place, title = assignment.first("date"), table.said.get("date", "")
    sale = parse_date(title) if title else None
    if place is None or sale is None or options.sale_day == "column":
        return assignment, ""
    heading = table.headings[place].text
    told = [parse_date(text) for text in table.columns[place].distinct() if text.strip()]
    days = [(day.day - sale.day).days for day in told if day is not None]
    later = names_sale_day(title) and bool(days) and min(days) > SAME_SALE_DAYS
    if options.sale_day != "title" and not later:
        return assignment, ""
    places = {name: where for name, where in assignment.places.items() if name != "date"}
    how = list(assignment.how)
    how[place] = ("unused", "days after the sale day in the titles: days of delivery")
    note = f"the titles name the day of sale, {sale.day}; the days in the column {heading!r} were taken as deliveries"
    return replace(assignment, places=places, how=tuple(how)), note
