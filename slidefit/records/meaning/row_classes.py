"""Sex, grade, traits, place and status of every row of a table."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from slidefit.records.columns import BoolArray, TextColumn, combined
from slidefit.records.meaning.column_fields import LONGEST_CODE, Assignment, filled, says_unsold
from slidefit.records.meaning.row_values import column_at
from slidefit.records.meaning.table_meaning import Meaning, codes_without_key
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import (
    DAIRY,
    NOT_FEEDER,
    AnimalClass,
    classify,
    classify_cell,
    is_dairy_breed,
    is_summary,
    leftover_words,
    parse_grade,
    parse_muscle,
    remark_reason,
    traits_of,
    unknown_words,
)
from slidefit.records.words.fields import DATE_FIELDS, PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.headings import ColumnHeading, says_yes
from slidefit.records.words.numerals import is_missing
from slidefit.records.words.periods import LONG, names_long_period
from slidefit.records.words.units import not_sold
from slidefit.records.words.vocabulary import words_of

SEXES = ("", "steer", "heifer", "bull", "mixed")
_MIXED = SEXES.index("mixed")
_LABEL_FIELDS = DATE_FIELDS | {"sex", "category", "grade", "frame", "breed", "summary", "weight_range"}
_INERT = re.compile(r"^'(?=[=+@-])")  # the mark that an export puts before text that a spreadsheet would run
_CORRECTED = words_of("cells", "corrected")

_LONGEST_LABEL = 2  # words of a total in a column of names
_MOST_LABELS = 20_000
_MOST_KINDS = 8  # of a column such as breedType; names of buyers and sellers are more


@dataclass(frozen=True)
class RowClasses:
    """Sex of each row (blank unknown) and which rows are dairy, no feeders, or summaries."""

    sex: TextColumn
    dairy: BoolArray
    not_feeder: BoolArray
    summary: BoolArray


def _columns(table: Table, meaning: Meaning, name: str) -> list[TextColumn]:
    """Return all columns of a field that may stand in several."""
    places = meaning.assignment.places.get(name, ())
    first = column_at(table, meaning.assignment, name)
    return [first, *(table.columns[place] for place in places[1:])] if first is not None else []


def told_in(table: Table, meaning: Meaning, names: tuple[str, ...], test: Callable[[str], bool]) -> BoolArray:
    """Return the rows that have a cell in a column of some fields that passes a test."""
    found = np.zeros(len(table.rows), dtype=bool)
    for name in names:
        for column in _columns(table, meaning, name):
            found |= column.bools(test)
    return found


def row_classes(table: Table, meaning: Meaning) -> RowClasses:
    """Return the class of each row; the sex column speaks first, then category, grade, remarks and titles."""
    length = len(table.rows)
    sex, (dairy, not_feeder) = np.zeros(length, dtype=np.int8), np.zeros((2, length), dtype=bool)
    # a class of its own that says nothing is to be asked about; "feeder cattle" above tells none
    strange = told_in(table, meaning, ("sex", "category"), _says_nothing)
    said = table.said.get("category", "")
    feeder = said if "feeder" in said.lower() else None
    sources = [
        column for name in ("sex", "category", "grade", "frame") for column in _columns(table, meaning, name)
    ]
    above = [_over_rows(h, c) for h, c in zip(table.headings, table.columns, strict=True)]
    constant = [TextColumn.constant(text, length) for text in (*above, said) if text]
    for column in [*sources, *constant]:
        dairy |= column.bools(lambda text: classify_cell(text).reason == DAIRY)
        not_feeder |= column.bools(lambda text: text != feeder and classify_cell(text).reason == NOT_FEEDER)
    calves = np.flatnonzero(~dairy & ~not_feeder)
    for column in [*sources, *constant]:
        read = classify_cell if _codes_known(column.take(calves)) else classify
        codes = column.floats(lambda text, read=read: SEXES.index(read(text).sex))  # type: ignore[misc]
        if said and column.values == (said,):
            codes = np.where(strange & (codes == _MIXED), 0, codes)
        sex = np.where((sex == 0) | ((sex == _MIXED) & (codes != 0)), codes, sex)
    dairy |= told_in(table, meaning, ("breed",), is_dairy_breed)
    not_feeder |= told_in(table, meaning, ("pregnancy",), lambda text: classify(text).reason == NOT_FEEDER)
    used = {place for places in meaning.assignment.places.values() for place in places}
    told = [column.mapped(remark_reason) for column in _columns(table, meaning, "remarks")]
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        if heading.unexplained and place not in used and _names_kinds(column):
            told.append(column.mapped(lambda text: classify(text).reason))
    for reasons in told:
        dairy |= reasons.bools(DAIRY.__eq__)
        not_feeder |= reasons.bools(NOT_FEEDER.__eq__)
    return RowClasses(TextColumn(sex.astype(np.int32), SEXES), dairy, not_feeder, _summaries(table, meaning))


def _names_kinds(column: TextColumn) -> bool:
    """Tell whether a column that no heading explains holds a few kinds, in a word or two each."""
    return len(column.values) <= _MOST_KINDS and all(len(text.split()) <= 2 for text in column.values)


def _over_rows(heading: ColumnHeading, column: TextColumn) -> str:
    """Return the class that the heading of a column of words tells of all rows below, or blank."""
    told = "" if heading.field or leftover_words(heading.text) else heading.text
    words = classify(told).sex and not any(re.search(r"\d", text) for text in column.distinct())
    return told if words else ""


def _says_nothing(text: str) -> bool:
    return not is_missing(text) and classify_cell(text) == AnimalClass() and not parse_grade(text).text


def _codes_known(column: TextColumn) -> bool:
    """Tell whether the letters in a column are codes of classes: all of them, or S beside R is a sale and a return."""
    letters = [text for text in column.distinct() if len(text.strip()) == 1 and text.strip().isalpha()]
    return all(classify_cell(text) != AnimalClass() for text in letters)


def _summaries(table: Table, meaning: Meaning) -> BoolArray:
    """Return the rows with a label such as Total or Avg. in a column of labels, or alone in another but remarks."""
    used = {place: name for name, places in meaning.assignment.places.items() for place in places}
    found = np.full(len(table.rows), meaning.period == LONG)
    for place, column in enumerate(table.columns):
        name = used.get(place, "")
        if name == "date":
            found |= column.bools(names_long_period)
        if name in _LABEL_FIELDS or not table.headings[place].text:
            if (
                name in ("", "sex", "category") and len(column.values) > 1
            ):  # the label of a total among classes
                found |= column.bools(lambda text: text.strip().lower() == "all")
            found |= column.bools(is_summary)
        elif name != "remarks" and len(column.values) <= _MOST_LABELS:
            found |= column.bools(lambda text: is_summary(text) and len(text.split()) <= _LONGEST_LABEL)
    return found


def row_grades(table: Table, meaning: Meaning) -> tuple[TextColumn, TextColumn]:
    """Return frame and muscle of each row: of their own columns, else of that of grades, else of the classes."""
    blank = TextColumn.constant("", len(table.rows))
    if codes_without_key(table, meaning.assignment):
        return blank, blank
    own = {name: column_at(table, meaning.assignment, name) for name in ("frame", "muscle", "grade")}
    if own["grade"] is None and table.said.get("grade"):
        own["grade"] = TextColumn.constant(table.said["grade"], len(table.rows))
    classes = [column for name in ("sex", "category") for column in _columns(table, meaning, name)]
    told = [*filter(None, own.values())] or [
        column.mapped(lambda text: text if len(text) > LONGEST_CODE else "") for column in classes
    ]
    found = []
    for part, parse in (("frame", lambda text: parse_grade(text).frame), ("muscle", parse_muscle)):
        cells = blank
        for column in told if own[part] is None else filter(None, (own[part], own["grade"])):
            cells = cells.chosen(column.mapped(parse), cells.bools(bool))
        found.append(cells)
    return found[0], found[1]


def row_traits(table: Table, meaning: Meaning) -> tuple[TextColumn, tuple[str, ...]]:
    """Return the traits of each row, joined by ``;``, and the remarks with words that the table of traits lacks."""
    remarks = _columns(table, meaning, "remarks")
    columns = [column.mapped(lambda text: traits_of(text.replace("_", " "))) for column in remarks]
    unknown = [
        text
        for column in remarks
        for text in filled(column)[:2000]
        if unknown_words(text.replace("_", " ")) and not remark_reason(text)
    ]
    for place in meaning.assignment.places.get("trait", ()):
        trait = table.headings[place].pins["trait"]
        columns.append(table.columns[place].mapped(lambda text, trait=trait: trait if says_yes(text) else ""))  # type: ignore[misc]
    for name in ("sex", "category"):
        columns.extend(column.mapped(_class_traits) for column in _columns(table, meaning, name))
    united = _united(columns) if columns else TextColumn.constant("", len(table.rows))
    return united, tuple(dict.fromkeys(unknown))


def _class_traits(text: str) -> str:
    """Return the traits in a class or description; that they are calves is no trait there.

    >>> _class_traits("BLK STRS, weaned"), _class_traits("Steer calves")
    ('black;weaned', '')
    """
    return ";".join(trait for trait in traits_of(text).split(";") if trait != "calves")


def _united(columns: list[TextColumn]) -> TextColumn:
    """Return the union of the words in several columns of ``;``-joined words."""
    codes, examples = combined(columns)
    told = (";".join(c.values[c.codes[row]] for c in columns) for row in examples)
    texts = tuple(";".join(sorted({*filter(None, each.split(";"))})) for each in told)
    return TextColumn(codes.astype(np.int32), texts).mapped(str)


def row_markets(table: Table, meaning: Meaning, options: ReadOptions) -> TextColumn:
    """Return the place of sale of each row: its column, then the titles, then what the user said."""
    names = options.market_names
    said, column = table.said.get("market", ""), column_at(table, meaning.assignment, "market")
    stand_in = said or options.market if column else options.market or said
    column = column or TextColumn.constant("", len(table.rows))
    places = column.mapped(
        lambda text: stand_in if is_missing(text) else _INERT.sub("", " ".join(text.split()))
    )
    return places.mapped(lambda text: names.get(text, text))


def row_unsold(table: Table, meaning: Meaning) -> BoolArray:
    """Return the lots that a status or a remark calls passed out, withdrawn or void: their price is only a bid."""
    found = told_in(table, meaning, ("status", "remarks"), not_sold)
    return found | told_in(table, meaning, ("sold",), says_unsold)


def row_corrected(table: Table, meaning: Meaning) -> BoolArray:
    """Return the rows that a status or a remark calls corrected: they take the place of the same lot told before."""
    return told_in(table, meaning, ("status", "remarks"), lambda text: bool(_CORRECTED.search(text)))


_SALE = ("date", "year", "month", "week", "day", "market")
_OF_THE_LOT = (*_SALE, "sex", "category", "frame", "muscle", "grade", "head", *sorted(WEIGHT_FIELDS))
_MOST_TAKEN_BACK = 0.5  # of the rows; where more are below zero the sign means something else
_VOID = words_of("cells", "void")
_NEGATIVE = re.compile(r"^\W*[-−(]\s*\$?\s*\d[\d.,]*\)?$")
_SIGNS = re.compile(r"[-−()\s]")


def taken_back(table: Table, assignment: Assignment) -> Table:
    """Return a table with the lots marked that a row below takes back, by a word such as void or numbers below zero.

    Sale, class, head, weight and price must be the same but for the sign; that row is marked, too.
    """
    named = (*_OF_THE_LOT, *PRICE_FIELDS, "amount")
    if "sex" in assignment.places:
        named = tuple(name for name in named if name != "category")  # which may say sale and return
    columns = {name: column for name in named if (column := column_at(table, assignment, name)) is not None}
    back = np.zeros(len(table.rows), dtype=bool)
    for name in {"head", "amount", *PRICE_FIELDS, *WEIGHT_FIELDS} & columns.keys():
        back |= columns[name].bools(lambda text: bool(_NEGATIVE.match(text)))
    for name in ("status", "sold", "remarks"):
        if (column := column_at(table, assignment, name)) is not None:
            back |= column.bools(lambda text: bool(_VOID.search(text)))
    if not back.any() or back.mean() > _MOST_TAKEN_BACK:
        return table
    lots = combined([column.mapped(lambda text: _SIGNS.sub("", text)) for column in columns.values()])[0]
    gone: set[int] = set()
    for row in np.flatnonzero(back):
        above = [at for at in np.flatnonzero(lots[:row] == lots[row]) if not back[at] and at not in gone]
        gone |= {int(above[-1]), int(row)} if above else set()
    rows = frozenset(int(table.rows[at]) for at in gone)
    return replace(table, marked={**table.marked, "superseded": rows})


def row_preliminary(table: Table, meaning: Meaning) -> BoolArray:
    """Return the rows that the source calls preliminary."""
    said = TextColumn.constant(table.said.get("status", ""), len(table.rows))
    column = column_at(table, meaning.assignment, "status") or said
    return column.bools(lambda text: f"{text.strip().lower()} ".startswith(("prelim", "p ")))
