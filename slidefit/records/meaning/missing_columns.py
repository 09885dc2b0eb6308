"""Columns that no table can do without: asked about, every open heading in one round, or the table is refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.columns import REASONS, TextColumn
from slidefit.records.meaning.column_fields import (
    LONGEST_CODE,
    SURE,
    Assignment,
    filled,
    occasion,
    share,
    texts_at,
)
from slidefit.records.reading.suggestions import suggestions
from slidefit.records.reading.tables import Table, is_number
from slidefit.records.result import ColumnMeaning
from slidefit.records.words.animals import AnimalClass, classify_cell, sex_of
from slidefit.records.words.dates import is_full_date, parse_date
from slidefit.records.words.fields import DATE_FIELDS, PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.numerals import DITTO, parse_number
from slidefit.records.words.report_days import days_told
from slidefit.records.words.units import PER_HEAD, price_unit_of, weight_unit_of

_MOST_CODES = 8  # words of a column of classes
_SAMPLES = 3
_MOST_ASKED = 6
# of rows that were misread, as a rule, and not of animals that are no feeder calves
_UNREAD = ("missing_date", "missing_weight", "missing_sex", "unit_doubtful", "open_ended_weight")
STRANGE = ("implausible_price", "implausible_weight", "price_inconsistent", "weight_inconsistent")
_MISREAD = frozenset([*_UNREAD, *STRANGE, "shifted_row"]) - {"implausible_weight"}
_MISSING = {
    "price": "no column of price was recognized",
    "weight": "no column of weight was recognized",
    "date": "no date of sale was found, in no column and no title",
    "sex": "no column of class or sex was recognized",
}


def means(heading: str, field: str) -> Setting:
    """Return the setting that says what a column is."""
    return Setting("mapping", f"{heading}={field}")


def class_settings(words: Sequence[tuple[str, str]]) -> tuple[str | Setting, ...]:
    """Return the settings that say what words of columns mean, each with its field, and the end of the sentence."""
    settings = (part for field, word in words for part in (" ", Setting("values", f"{field}:{word}=?")))
    return *settings, ", with steer, heifer, bull, mixed, dairy or not_feeder for each ?." if words else "."


def check_columns(table: Table, assignment: Assignment) -> None:
    """Refuse a table without price, weight or day; every open heading and class is asked about in one round.

    Raises
    ------
    RecordsError
        One of them is missing; ``values["headings"]`` has a row for each open heading: its text, the field that it may
        be (or blank) and its first cells. A QuestionError where the headings suggest an answer.
    """
    told = {*assignment.places, *table.said}
    told -= {"month"} if not told & {"year", "date"} else set()
    wanted = {"price": PRICE_FIELDS, "weight": WEIGHT_FIELDS, "date": DATE_FIELDS}
    highest = assignment.first("price_high")
    if highest is not None and not told & (PRICE_FIELDS - {"price_high"}):
        told -= {"price_high"}  # the top of a market is no mean
    missing = [name for name, fields in wanted.items() if not fields & told]
    graded = (text for name in ("grade", "frame") for text in texts_at(table, assignment, name))
    columns = [*zip(table.headings, table.columns, strict=True)]
    unread = [(heading.text, column) for heading, column in columns if heading.unexplained]
    coded = [] if told & {"sex", "category"} or any(map(sex_of, graded)) else _coded(unread)
    if not missing and not coded:
        return
    columns.sort(key=lambda item: -occasion(item[0].text, "date" * (share(item[1], is_full_date) > SURE)))
    near = {item.heading: item.field for item in suggestions(*zip(*columns, strict=True))}
    near = {text: name for text, name in near.items() if name in missing or occasion(text, name) >= 0}
    numbers = [
        text for text, column in unread if near.get(text) not in missing and share(column, is_number) > SURE
    ]
    if "price" in missing and "price" not in near.values() and highest is not None:
        near |= {table.headings[highest].text: "price"}
    elif len(numbers) == len(missing) == 1 and missing[0] in ("price", "weight"):
        near |= {numbers[0]: missing[0]}  # the only column of numbers that is open
    if coded and "sex" not in near.values():
        near |= {coded[0]: "sex"}
    missing += ["sex"] if coded and not missing else []
    openly = [(text, near.get(text, ""), first_cells(column)) for text, column in unread]
    settles = missing[0] in near.values() and {"price", "weight"} <= {*near.values(), *assignment.places}
    free = [text for text, field, cells in openly if not field and any(map(parse_number, cells))]
    by_field = sorted(near.items(), key=lambda item: item[1])
    asked = by_field if settles else [(next(iter(free), "Their Heading"), missing[0])]
    place = next((at for at, h in enumerate(table.headings) if near.get(h.text) == "sex"), None)
    place = assignment.first("sex") if "sex" in assignment.places else place
    words = [
        text
        for text in (filled(table.columns[place]) if settles and place is not None else ())
        if classify_cell(text) == AnimalClass() and text not in DITTO
    ]
    shown = "; ".join(f"{text!r} ({', '.join(cells)})" for text, _, cells in openly)
    found = ", ".join(heading.text for heading in table.headings if heading.text) or "none"
    if missing == ["date"] and "date" not in near.values():
        days = [day.day.isoformat() for text in days_told(table.lines) if (day := parse_date(text))]
        raise QuestionError(
            f"{_MISSING['date']}; the columns are: {found}"
            + (f"; days of something else in its lines: {', '.join(days[:_SAMPLES])}" if days else ""),
            where=table.name,
            remedy=Text(
                "Say the day of sale: ",
                Setting("sale_day", "YYYY-MM-DD"),
                *(part for text in free[:1] for part in (", or which column it is: ", means(text, "date"))),
                ".",
            ),
            values={"headings": tuple(openly), "words": (), "sale_day": tuple(days)},
        )
    remedy = Text(
        "Say which column it is:" if len({name for _, name in asked}) == 1 else "Say which columns they are:",
        *(
            part
            for at, (heading, name) in enumerate(asked)
            for part in (" or " if at and asked[at - 1][1] == name else " ", means(heading, name))
        ),
        *class_settings([("sex", word) for word in words[:_MOST_ASKED]]),
    )
    raise (QuestionError if settles else RecordsError)(
        f"{', '.join(_MISSING[name] for name in missing)}; the columns are: {found}"
        + (f"; not understood: {shown}" if openly else ""),
        where=table.name,
        remedy=remedy,
        values={"headings": tuple(openly), "words": tuple(("sex", word) for word in words)},
    )


def check_lost(name: str, reasons: Mapping[str, int], columns: Iterable[ColumnMeaning]) -> None:
    """Ask or refuse where no row of a file could be used, and it is not its animals that are the reason.

    Raises
    ------
    RecordsError
        Most rows lack a class, day, weight or price that can be read. A QuestionError where a column that was not
        understood may hold it, or where all prices are by the head.
    """
    top, count = max(reasons.items(), key=lambda item: item[1], default=("", 0))
    if top == "per_head_price":
        raise QuestionError(
            f"the prices of {count} rows are by the head, and no other row could be used",
            where=name,
            remedy=Text("To convert them by their weights, say ", Setting("price_unit", PER_HEAD), "."),
        )
    if top not in _MISREAD:
        return
    told = ", ".join(f"{rows} ({REASONS[reason]})" for reason, rows in reasons.items() if rows)
    unread = [column.heading for column in columns if column.how == "not recognized" and column.heading]
    field = top.removeprefix("missing_")
    free = [heading for heading in unread if not (weight_unit_of(heading) or price_unit_of(heading))]

    also = f"; the columns that were not understood are: {', '.join(unread)}" if unread else ""
    what = f"none of its {sum(reasons.values())} rows could be used: {told}{also}"
    if free and field in _MISSING:
        ask = Text("Say which column it is: ", means(free[0], field), ".")
        raise QuestionError(what, where=name, remedy=ask)
    ask = Text("Name the columns with ", means("Their Heading", "field"), ", or see docs/records.md.")
    raise RecordsError(what, where=name, remedy=ask)


def _coded(columns: Iterable[tuple[str, TextColumn]]) -> list[str]:
    """Return the headings of columns that hold few and short words, as codes of classes are."""
    return [
        text
        for text, words in ((text, filled(column)) for text, column in columns)
        if 1 < len(words) <= _MOST_CODES
        and max(map(len, words)) <= LONGEST_CODE
        and not any(word.isdecimal() and len(word) > 1 for word in words)
    ]


def first_cells(column: TextColumn) -> tuple[str, ...]:
    """Return the first words of a column, to be shown."""
    return tuple(filled(column)[:_SAMPLES])
