"""The words of the columns that hold words: how often each stands there, what it is read as, what is left over."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from slidefit.errors import QuestionError
from slidefit.facts import Setting, Text
from slidefit.records.columns import TextColumn
from slidefit.records.meaning.row_classes import row_classes
from slidefit.records.meaning.table_meaning import Meaning
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.result import WordMeaning
from slidefit.records.words.animals import (
    classify,
    classify_cell,
    is_summary,
    leftover_words,
    parse_grade,
    traits_of,
    unknown_words,
)
from slidefit.records.words.numerals import DITTO, is_missing
from slidefit.records.words.units import row_price_unit

_MOST_DISTINCT = 2_000  # a column with more words than this is no column of codes
_ASKED_SHARE = 0.5  # more rows than this without a sex: the words are asked about (a choice of ours)
_MOST_ASKED = 6
_CODE = re.compile(r"\b([A-Za-z0-9]{1,3})\s?[=:]\s?([A-Za-z]{3,}(?: [A-Za-z]{4,})?)")
_CLASSES = ("sex", "category")  # what is taught of one counts for the other: both tell the class


def _animal(text: str) -> tuple[str, str]:
    found = classify_cell(text)
    meaning = "total" if is_summary(text) else found.reason or found.sex
    return meaning, "" if found.reason or len(text.strip()) <= 2 else leftover_words(text)


def _grade(text: str) -> tuple[str, str]:
    grade = parse_grade(text)
    return grade.text or classify_cell(text).reason, ""


_READERS: dict[str, Callable[[str], tuple[str, str]]] = {
    "sex": _animal,
    "category": _animal,
    "grade": _grade,
    "frame": _grade,
    "remarks": lambda text: (traits_of(text.replace("_", " ")), unknown_words(text.replace("_", " "))),
    "price_unit": lambda text: (row_price_unit(text), ""),
}


def taught(table: Table, options: ReadOptions) -> Table:
    """Return a table whose taught words stand there as what they mean; other words and columns as they are.

    Examples
    --------
    >>> from slidefit.records.words.headings import ColumnHeading
    >>> codes = Table("a", (ColumnHeading("Sx", "sex"),), (TextColumn.of(["1", "2"]),), np.array([1, 2]))
    >>> told = taught(codes, ReadOptions(values={"sex": {"1": "steer"}}))
    >>> told.columns[0].values
    ('steer', '2')
    """
    legend = _legend(table)
    if not options.values and not legend:
        return table
    columns = list(table.columns)
    for place, heading in enumerate(table.headings):
        names = _CLASSES if heading.field in _CLASSES else (heading.field,)
        words = (legend if heading.field == "sex" else {}) | {
            word: what
            for name in (*names, heading.text)
            for word, what in options.values.get(name, {}).items()
        }
        if words:
            known = {word.lower(): meaning for word, meaning in words.items()}
            columns[place] = TextColumn(
                columns[place].codes,
                tuple(known.get(" ".join(text.split()).lower(), text) for text in columns[place].values),
            )
    return replace(table, columns=tuple(columns))


def _legend(table: Table) -> dict[str, str]:
    """Return the codes of classes that a line beside the table explains, as in ``1 = steers; 2 = heifers``."""
    found = [(code, classify(word).sex) for line in table.lines for code, word in _CODE.findall(line)]
    return {code: sex for code, sex in found if sex} if len(found) > 1 else {}


def column_words(table: Table, meaning: Meaning) -> tuple[WordMeaning, ...]:
    """Return the words of the columns of class, grade, remarks and units, the least sure first."""
    words = []
    for name, reader in _READERS.items():
        for place in meaning.assignment.places.get(name, ()):
            column, heading = table.columns[place], table.headings[place]
            if len(column.values) > _MOST_DISTINCT:
                continue
            counts = np.bincount(column.codes, minlength=len(column.values))
            words += [
                WordMeaning(name, heading.text, text, int(count), *reader(text))
                for text, count in zip(column.values, counts, strict=True)
                if count and not is_missing(text)
            ]
    return tuple(sorted(words, key=lambda word: (bool(word.meaning), not word.left, -word.rows)))


def not_understood(words: Iterable[WordMeaning]) -> list[WordMeaning]:
    """Return the words of classes and grades that were not understood, wholly or in part."""
    return [word for word in words if word.field != "remarks" and (not word.meaning or word.left)]


def ask_for_words(
    table: Table, meaning: Meaning, words: Iterable[WordMeaning], *, always: bool = False
) -> None:
    """Ask what the words of the class column mean where most rows have no sex by them (or ``always``).

    Raises
    ------
    QuestionError
        The remedy names the words.
    """
    told = [word for word in words if word.field in _CLASSES and word.text not in DITTO]
    # beside a letter that is no code of ours, the others are none either
    coded = {word.heading for word in told if not word.meaning and len(word.text) == 1}
    unknown = [word for word in told if not word.meaning or (word.heading in coded and len(word.text) == 1)]
    if not unknown:
        return
    classes = row_classes(table, meaning)
    open_rows = (classes.sex.codes == 0) & ~classes.dairy & ~classes.not_feeder & ~classes.summary
    if not (open_rows.mean() > _ASKED_SHARE or (always and open_rows.any())):
        return
    shown = ", ".join(f"{word.text!r} ({word.rows} rows)" for word in unknown[:_MOST_ASKED])
    more = f" and {len(unknown) - _MOST_ASKED} more" if len(unknown) > _MOST_ASKED else ""
    raise QuestionError(
        f"nothing says what these words of the column {unknown[0].heading!r} mean: {shown}{more}",
        where=table.name,
        remedy=Text(
            "Say it once for each, and it is remembered:",
            *(
                part
                for word in unknown[:_MOST_ASKED]
                for part in (" ", Setting("values", f"{word.field}:{word.text}=?"))
            ),
            ", with steer, heifer, bull, mixed, dairy or not_feeder for each ?.",
        ),
        values={"words": tuple((word.field, word.text) for word in unknown)},
    )
