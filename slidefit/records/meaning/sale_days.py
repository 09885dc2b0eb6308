"""Where the day of sale stands: a title over columns of deliveries, a file's name where nothing else tells it."""

from __future__ import annotations

import re
from dataclasses import replace

from slidefit.records.columns import TextColumn
from slidefit.records.meaning.column_fields import Assignment, filled
from slidefit.records.reading.read_options import SALE_DAYS, ReadOptions
from slidefit.records.reading.suggestions import field_by_cells
from slidefit.records.reading.tables import Table
from slidefit.records.words.dates import SAME_SALE_DAYS, is_date, parse_date
from slidefit.records.words.fields import DATE_FIELDS
from slidefit.records.words.headings import Evidence
from slidefit.records.words.report_days import names_other_day, names_sale_day
from slidefit.records.words.vocabulary import words_of

_DAY_IN_NAME = words_of("cells", "day_in_file_name")
_YEAR = re.compile(r"(?<!\d)(?:19|20)\d{2}(?!\d)")
_LEAP_YEAR = 2000


def dated(table: Table, options: ReadOptions) -> Table:
    """Return a table that tells no day of sale, or no year, with that in the name of its file; any other as it is.

    A day that the user says goes before one in lines of text, not before a column of days.

    >>> import numpy as np
    >>> fen, export = (Table(f"{name} 2026-10-08.csv", (), (), np.array([1])) for name in ("fen", "export"))
    >>> [dict(dated(table, ReadOptions()).said) for table in (fen, export)]
    [{'date': '2026-10-08'}, {}]
    >>> dict(dated(fen, ReadOptions(sale_day="2026-10-07")).said)
    {'date': '2026-10-07'}
    """
    if options.sale_day not in ("", *SALE_DAYS):
        said = TextColumn.constant(options.sale_day, len(table.rows))
        columns = tuple(
            said if heading.field == "date" and heading.how is Evidence.TEXT else column
            for heading, column in zip(table.headings, table.columns, strict=True)
        )
        return replace(table, columns=columns, said={**table.said, "date": options.sale_day})
    name = table.name.rsplit("/", 1)[-1]
    found = _DAY_IN_NAME.search(name)
    told = {*table.said}.union(*((heading.field, *heading.pins) for heading in table.headings))
    years = _YEAR.findall(name) if found is None and "year" not in told else []
    if len(years) == 1 and _lacks_year(table, int(years[0])):
        return replace(table, said={**table.said, "year": years[0]})
    if found is None or told & DATE_FIELDS or names_other_day(name):
        return table
    strange = (c for h, c in zip(table.headings, table.columns, strict=True) if not h.known)
    if any(field_by_cells(column.distinct()) == "date" for column in strange):
        return table
    day = found.group().replace("_", "-")
    day = day if not day.isdecimal() else f"{day[:4]}-{day[4:6]}-{day[6:]}"
    return replace(table, said={**table.said, "date": day}) if is_date(day) else table


def _lacks_year(table: Table, year: int) -> bool:
    """Tell whether the days of a table are days and months alone, none of which may be a month of the year."""
    columns = (c for h, c in zip(table.headings, table.columns, strict=True) if h.field == "date")
    texts = [text for column in columns for text in filled(column)]
    texts += [table.said["date"]] if table.said.get("date") else []
    if any((found := parse_date(text)) and found.day.year == year for text in texts):
        return False
    yearless = [text for text in texts if parse_date(text, by_day=True) is None]
    bare = [text for text in yearless if parse_date(text, by_day=True, year=_LEAP_YEAR)]
    return len(bare) > 0.5 * len(texts)


def with_sale_day(table: Table, assignment: Assignment, options: ReadOptions) -> tuple[Assignment, str]:
    """Return the columns without that of the dates where these are deliveries, and the sentence that says so.

    A title that names the sale day is believed over a column all of whose days lie more than three days later, as
    in a video sale for autumn delivery; ``options.sale_day`` settles it either way.
    """
    place, title = assignment.first("date"), table.said.get("date", "")
    sale = parse_date(title) if title else None
    if place is None or sale is None or options.sale_day == "column":
        return assignment, ""
    told = [parse_date(text) for text in table.columns[place].distinct() if text.strip()]
    days = [(day.day - sale.day).days for day in told if day is not None]
    later = names_sale_day(title) and bool(days) and min(days) > SAME_SALE_DAYS
    if options.sale_day != "title" and not later:
        return assignment, ""
    places = {name: where for name, where in assignment.places.items() if name != "date"}
    how = list(assignment.how)
    how[place] = ("unused", "days after the sale day in the titles: days of delivery")
    column = f"the days in the column {table.headings[place].text!r} were taken as deliveries"
    note = f"the titles name the day of sale, {sale.day}; {column}"
    return replace(assignment, places=places, how=tuple(how)), note
