"""The columns that no table can do without; what is missing is asked about with all headings in one round."""

from __future__ import annotations

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.columns import TextColumn
from slidefit.records.meaning.column_fields import Assignment, has_date, has_weight
from slidefit.records.reading.suggestions import suggestions
from slidefit.records.reading.tables import Table
from slidefit.records.words.numerals import is_missing, parse_number


def check_columns(table: Table, assignment: Assignment, prices: dict[str, int]) -> None:
    """Refuse a table without price or weight, naming the columns found."""
    found = ", ".join(heading.text for heading in table.headings if heading.text) or "none"
    example = next(
        (
            heading.text
            for heading, column in zip(table.headings, table.columns, strict=True)
            if heading.text and not heading.field and _numbers_mostly(column)
        ),
        "Their Heading",
    )
    missing = {
        "price": not prices and "no column of price was recognised",
        "weight": not has_weight(assignment.places)
        and "weight_range" not in table.said
        and "no column of weight was recognised",
        "date": not has_date(assignment.places)
        and not ({"date", "year"} & set(table.said))
        and "no date of sale was found, in no column and no title",
    }
    for field, what in missing.items():
        if what:
            near = suggestions(table.headings, table.columns)
            fields = {item.field for item in near} | set(assignment.places)
            settles = field in {item.field for item in near} and {"price", "weight"} <= fields
            asked = [(item.heading, item.field) for item in near] if settles else [(example, field)]
            flags = [
                part for heading, name in asked for part in (" ", Setting("mapping", f"{heading}={name}"))
            ]
            remedy = Text("Say which column it is:", *flags, ".")
            kind = QuestionError if settles else RecordsError
            row = " | ".join(column.values[column.codes[0]] for column in table.columns if len(column))
            raise kind(
                f"{what}; the columns are: {found}; the first row: {row}", where=table.name, remedy=remedy
            )


def _numbers_mostly(column: TextColumn) -> bool:
    """Tell whether most filled cells of a column are numbers."""
    filled = [text for text in column.distinct() if not is_missing(text)]
    return bool(filled) and sum(parse_number(text) is not None for text in filled) > 0.5 * len(filled)
