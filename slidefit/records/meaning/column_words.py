"""The words of the columns that hold words: how often each stands there, what it is read as, what is left over."""

from __future__ import annotations

import re
from collections import ChainMap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from slidefit.errors import QuestionError
from slidefit.facts import Text
from slidefit.records.columns import TextColumn
from slidefit.records.meaning.column_fields import LONGEST_CODE, filled
from slidefit.records.meaning.missing_columns import class_settings
from slidefit.records.meaning.rival_columns import may_be
from slidefit.records.meaning.row_classes import row_classes
from slidefit.records.meaning.table_meaning import Meaning, price_places
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.result import WordMeaning
from slidefit.records.words.animals import (
    classify,
    classify_cell,
    is_summary,
    leftover_words,
    parse_grade,
    tells_hide,
    traits_of,
    unknown_words,
)
from slidefit.records.words.date_order import pattern_in
from slidefit.records.words.fields import MEASURE_FIELDS
from slidefit.records.words.headings import ColumnHeading, Evidence, parse_heading
from slidefit.records.words.numerals import DITTO, is_missing
from slidefit.records.words.units import parse_price, price_unit_of, row_price_unit

_MOST_DISTINCT = 2_000  # a column with more words than this is no column of codes
_ASKED_SHARE = 0.5  # more rows than this without a sex: the words are asked about (a choice of ours)
_REPEATED_SHARE, _REPEATED = 0.1, 2  # or so many, where a word of theirs stands in so many rows
_MOST_ASKED = 6
_MOST_KINDS, _LONGEST_KIND = 8, 2  # of a column of kinds: its texts, and words of one
_MOST_CODES = 20
_CLAUSES = re.compile(r";\s*|\.\s+")
_KEY = re.compile(
    r"^\W*+(?:(?:key|legend|codes?)\W+)?(?P<name>[^\W\d]\w{0,11})\s*+(?P<sign>[=:]|is\b|in\b)?\s*+(?P<text>\S.*)$",
    re.IGNORECASE,
)
_END = re.compile(r"[;,|()]|\.(?:\s|$)|\s{2,}|\s(?=[^\W_]{1,3}\s*[=:])")  # of what a code means
_CLASSES = ("sex", "category")  # what is taught of one counts for the other: both tell the class


def _animal(text: str) -> tuple[str, str]:
    found = classify_cell(text)
    meaning = "total" if is_summary(text) else found.reason or found.sex or "color" * tells_hide(text)
    return meaning, "" if found.reason or len(text.strip()) <= 2 else leftover_words(text)


def _grade(text: str) -> tuple[str, str]:
    return parse_grade(text).text or classify_cell(text).reason, ""


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
    if not options.values:
        return table
    columns = []
    for heading, column in zip(table.headings, table.columns, strict=True):
        names = _CLASSES if heading.field in _CLASSES else (heading.field,)
        words = ChainMap(*(dict(options.values.get(name, {})) for name in (heading.text, *reversed(names))))
        columns.append(_replaced(column, words))
    return replace(table, columns=tuple(columns))


def _replaced(column: TextColumn, words: Mapping[str, str]) -> TextColumn:
    known = {word.lower(): meaning for word, meaning in words.items()}
    texts = (known.get(" ".join(text.split()).lower(), text) for text in column.values)
    return TextColumn(column.codes, tuple(texts)) if words else column


def keyed(table: Table) -> Table:
    """Return a table with the headings and codes that a key in the lines beside it explains as what they mean.

    Examples
    --------
    >>> from slidefit.records.words.headings import parse_headings
    >>> columns = tuple(map(TextColumn.of, (["1", "2"], ["512", "498"])))
    >>> key = ("SX: 1 = bull, 2 = steer; BWT = mean body weight, kg",)
    >>> told = keyed(Table("a", parse_headings(["SX", "BWT"]), columns, np.array([1, 2]), lines=key))
    >>> told.columns[0].values, told.headings[1].field, told.headings[1].unit
    (('bull', 'steer'), 'weight', 'kg')
    """
    if not table.lines:
        return table
    keys = _keys(table)
    columns, headings = list(table.columns), list(table.headings)
    classed = any(heading.field in _CLASSES for heading in headings)
    for place, heading in enumerate(headings):
        signed, text = keys.get(heading.text.lower(), (True, ""))
        if heading.field in _CLASSES or not (heading.field or classed):
            codes = _codes(columns[place], text or "; ".join(table.lines), signed=not text)
            found = {code: classify(word) for code, word in codes.items()}
            classes = {code: what for code, each in found.items() if (what := each.reason or each.sex)}
            sure = text or heading.field == "sex" or classes.keys() >= {*filled(columns[place])}
            if len(classes) > 1 and sure:
                columns[place] = _replaced(columns[place], classes)
                named = replace(heading, field="sex", pins={}, how=Evidence.TEXT)
                headings[place] = heading if heading.field else named
                continue
        if heading.field == "price_unit" and text:
            codes = _codes(columns[place], text, signed=True)
            units = {code: unit for code, word in codes.items() if (unit := price_unit_of(word))}
            columns[place] = _replaced(columns[place], units)
            continue
        legend = _codes(columns[place], text, signed=True)
        if heading.field in ("market", "status") and text:
            columns[place] = _replaced(columns[place], legend or _codes(columns[place], text, signed=False))
        if pattern := pattern_in(text):
            columns[place] = columns[place].mapped(lambda cell, pattern=pattern: _day(cell, pattern))  # type: ignore[misc]
        meant = next(filter(None, map(_meant, (text, text.split(",")[0]))), None)
        free = heading.how is not Evidence.SAID and (signed or heading.field in ("", "trait")) and not legend
        if meant is not None and free:
            headings[place] = replace(meant, text=heading.text, how=Evidence.TEXT)
    return replace(table, headings=tuple(headings), columns=tuple(columns))


def _keys(table: Table) -> dict[str, tuple[bool, str]]:
    """Return what the lines beside a table say of its headings, and whether a sign stands between."""
    names, told = {heading.text.lower() for heading in table.headings} - {""}, dict[str, tuple[bool, str]]()
    for line in table.lines:
        name = ""
        for clause in _CLAUSES.split(line):
            found = _KEY.match(clause)
            if found and found["name"].lower() in names:
                name = found["name"].lower()
                before = f"{told[name][1]}, " if name in told else ""
                told[name] = told[name][0] if before else bool(found["sign"]), before + found["text"]
            elif name:
                told[name] = (told[name][0], f"{told[name][1]}, {clause}")
    return told


def _codes(column: TextColumn, text: str, *, signed: bool) -> dict[str, str]:
    """Return the codes that a text explains: those before a sign (``signed``), or those of the column."""
    own = sorted({each for each in column.distinct() if each.isalnum() and len(each) <= LONGEST_CODE})
    code = rf"[^\W_]{{1,{LONGEST_CODE}}}" if signed else "|".join(own)
    if not 0 < len(own) <= _MOST_CODES:
        return {}
    sign = r"(?:[=:]|-(?=\s))" if signed else r"(?:[=:-]|is\b)?"
    parts = re.split(rf"(?<![\w.])({code})\s*{sign}\s*(?=[^\W\d])", text)
    return {code: _END.split(word)[0].strip() for code, word in zip(parts[1::2], parts[2::2], strict=True)}


def _day(cell: str, pattern: str) -> str:
    """Return a day written to a pattern of letters in the order of year, month and day; any other text as it is.

    >>> _day("261008", "yymmdd"), _day("8/10/26", "dmy")
    ('2026-10-08', '8/10/26')
    """
    look = re.sub(r"y+|m+|d+", lambda part: rf"(?P<{part[0][0]}>\d{{{len(part[0])}}})", pattern.lower())
    found = re.fullmatch(look, cell)
    return "-".join([f"20{found['y']}"[-4:], found["m"], found["d"]]) if found else cell


def _meant(text: str) -> ColumnHeading | None:
    """Return what the description of a column says of it, or None."""
    if pattern_in(text):
        return ColumnHeading(text, "date", 0)
    told = parse_heading(text)
    return told if told.field in MEASURE_FIELDS | {"date", "market", "muscle", "frame"} else None


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


def _shown(words: Sequence[WordMeaning]) -> str:
    shown = ", ".join(f"{word.text!r} ({word.rows} rows)" for word in words[:_MOST_ASKED])
    return shown + (f" and {len(words) - _MOST_ASKED} more" if len(words) > _MOST_ASKED else "")


def _ask_for_head(table: Table, meaning: Meaning, words: Iterable[WordMeaning]) -> None:
    """Ask whether a column of classes or grades is that of head, which no other is, where most of its cells count."""
    open_words = (word for word in words if not word.meaning and word.field != "price_unit")
    numbers = [word for word in open_words if word.text.isdecimal()]
    most = sum(word.rows for word in numbers) > _ASKED_SHARE * len(table.rows)
    if "head" in meaning.assignment.places or not most:
        return
    place = [heading.text for heading in table.headings].index(numbers[0].heading)
    what = f"no column of head was recognized, and {numbers[0].heading!r} holds numbers for words"
    raise may_be(table, place, "head", f"{what}: {_shown(numbers)}")


def _may_be_class(text: str) -> bool:
    """Tell whether a text can be the word or code of a class, which a mark of repetition or a day is not."""
    return text not in DITTO and (len(text) <= LONGEST_CODE or bool(re.search(r"[^\W\d_]", text)))


def _often_open(table: Table, meaning: Meaning, unknown: Sequence[WordMeaning], *, always: bool) -> bool:
    """Tell whether so many rows with a price have no sex that the words are asked about, or any for ``always``."""
    classes = row_classes(table, meaning)
    prices = (table.columns[place] for place in price_places(meaning.assignment).values())
    rows = np.logical_or.reduce([column.bools(lambda text: parse_price(text).given) for column in prices])
    rows &= (classes.sex.codes == 0) & ~classes.dairy & ~classes.not_feeder & ~classes.summary
    repeated = any(word.rows >= _REPEATED for word in unknown)
    least = 0.0 if always else _REPEATED_SHARE if repeated else _ASKED_SHARE
    return bool(rows.mean() > least)


def _of_calves(table: Table, meaning: Meaning, unknown: Sequence[WordMeaning]) -> list[WordMeaning]:
    """Return the unknown words that are a whole kind of a column of few kinds, in rows that are read as calves.

    Of the other kinds one must be known, or a word of feeders: else the column tells no classes.
    """
    classes, found = row_classes(table, meaning), []
    calves = (classes.sex.codes != 0) & ~classes.dairy & ~classes.not_feeder & ~classes.summary
    for place in (at for name in _CLASSES for at in meaning.assignment.places.get(name, ())):
        kinds, own = (
            filled(table.columns[place]),
            [w for w in unknown if w.heading == table.headings[place].text],
        )
        strange = {word.text for word in own if word.left and len(word.text.split()) <= _LONGEST_KIND}
        if not strange or len(kinds) > _MOST_KINDS or all(map(leftover_words, kinds)):
            continue
        rows = table.columns[place].take(np.flatnonzero(calves)).distinct()
        found += [word for word in own if word.text in strange.intersection(rows)]
    return found


def ask_for_words(
    table: Table, meaning: Meaning, words: Sequence[WordMeaning], *, always: bool = False
) -> None:
    """Ask what the words of the class column mean where many rows have no sex by them (or any, for ``always``).

    Raises
    ------
    QuestionError
        The remedy names the words.
    """
    told = [word for word in words if word.field in _CLASSES and _may_be_class(word.text)]
    # beside a letter that is no code of ours, the others are none either
    coded = {word.heading for word in told if not word.meaning and len(word.text) == 1}
    unknown = [word for word in told if not word.meaning or (word.heading in coded and len(word.text) == 1)]
    if not (unknown and _often_open(table, meaning, unknown, always=always)):
        _ask_for_head(table, meaning, words)
        unknown = _of_calves(table, meaning, unknown)
    if not unknown:
        return
    pairs = tuple((word.field, word.text) for word in unknown)
    raise QuestionError(
        f"nothing says what these words of the column {unknown[0].heading!r} mean: {_shown(unknown)}",
        where=table.name,
        remedy=Text("Say it once for each, and it is remembered:", *class_settings(pairs[:_MOST_ASKED])),
        values={"words": pairs},
    )
