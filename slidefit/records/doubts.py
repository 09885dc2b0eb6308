"""What the whole of a file shows against its reading: asked about, or refused, before a record of it is used."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import PurePath

import numpy as np
import pandas as pd

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.meaning.missing_columns import STRANGE, means
from slidefit.records.meaning.table_meaning import Meaning
from slidefit.records.reading.tables import Table
from slidefit.records.result import ColumnMeaning
from slidefit.records.words.dates import DAY_TEXT, parse_date
from slidefit.records.words.headings import Evidence
from slidefit.records.words.report_days import is_whole, names_other_day
from slidefit.records.words.titles import is_name, market_in, name_beside_day
from slidefit.records.words.vocabulary import words_of

FEWEST_STRANGE = 5  # rows; fewer are slips of the pen
MOST_STRANGE = 0.15  # of all rows: a choice of ours, in 660 odd files that were read right at most .1
MOST_SCATTER = (
    0.25  # log points: a choice of ours; lots of real sales lie .03 to .1 from one slide, marts to .21
)
FEWEST_PRICES = 6
_USUAL_SLIDE = -0.09  # log points of price for an added hundredweight: common practice, no source
_FEWEST_HEADS = 5
_MOST_SHOWN = 3
_SALE = re.compile(r"\b(?:sold|sales?|auction|held|market|barn|yards?|livestock)\b", re.IGNORECASE)
_AHEAD = re.compile(r"\b(?:next|coming|upcoming|will|follow\w*|due|special|dues)\b", re.IGNORECASE)
_GENERIC = words_of("titles", "generic")
_MONTHS = re.compile(
    r"\b(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)(?:uary|ruary|ch|il|ust|ember|ober)?\b",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"\d:\d\d")  # a message's own day stands beside the hour


def check_strange(kept: int, reasons: Mapping[str, int], columns: Sequence[ColumnMeaning], name: str) -> None:
    """Refuse a file with more than a few rows set aside as implausible.

    Raises
    ------
    RecordsError
        They are more than 15 percent of its rows; the message shows how each column was read.
    """
    strange = sum(reasons.get(reason, 0) for reason in STRANGE)
    if kept and strange >= FEWEST_STRANGE and strange > MOST_STRANGE * (kept + strange):
        what = f"{strange} rows were set aside as implausible and only {kept} were read"
        raise _misread(what, columns, name)


def _misread(what: str, columns: Sequence[ColumnMeaning], name: str) -> RecordsError:
    shown = ", ".join(dict.fromkeys(f"{each.heading!r} as {each.field}" for each in columns if each.heading))
    return RecordsError(
        f"{what}, as where columns are taken for something else; they were read so: {shown}",
        where=name,
        remedy=Text(
            "Say what a column is with ",
            means("Their Heading", "field"),
            ", or correct those rows.",
        ),
    )


def check_whole(
    tables: Sequence[Table], meanings: Sequence[Meaning], kept: pd.DataFrame, name: str, *, settled: bool
) -> None:
    """Look at all records of a file together.

    Parameters
    ----------
    kept : DataFrame
        Records, one a row.
    settled : bool
        The user said the day of sale.

    Raises
    ------
    RecordsError
        The prices of one sale scatter as no lots do, or a place of sale is a number with cents.
    QuestionError
        A day that the file calls one of sale has no record, or the head is one number while a column of other whole
        numbers was left.
    """
    if not len(kept):
        return
    columns = [each for meaning in meanings for each in meaning.columns]
    if numbers := sum(map(_is_price, kept["market"].cat.categories)):
        raise _misread(f"a place of sale is a price ({numbers} of them)", columns, name)
    if (scatter := _scatter(kept)) > MOST_SCATTER:
        what = f"prices of calves of one sale, sex and weight differ by {100 * scatter:.0f} percent"
        raise _misread(what, columns, name)
    if not settled:
        _check_days(tables, meanings, kept, name)
    _check_head(tables, meanings, kept, name)


def _is_price(text: str) -> bool:
    return bool(re.fullmatch(r"\$?(?<!\d)\d++[.,]\d{2}", text.strip()))


def _scatter(kept: pd.DataFrame) -> float:
    """Return how far prices lie from the level of their sale and sex, in log points, at the usual slide."""
    sale = kept.groupby(["sale_date", "market", "currency", "sex"], observed=True, sort=False)
    level = np.log(kept["price_cwt"]) - _USUAL_SLIDE * kept["weight_lb"] / 100.0
    off = (level - level.groupby(sale.ngroup()).transform("median"))[sale["sex"].transform("size") > 2].abs()
    return 1.4826 * float(off.median()) if len(off) >= FEWEST_PRICES else 0.0  # of a normal spread


def _check_days(tables: Sequence[Table], meanings: Sequence[Meaning], kept: pd.DataFrame, name: str) -> None:
    """Ask about a day that a line calls one of sale, where no record is of that day and no column tells days."""
    own = (table.headings[at] for table, m in zip(tables, meanings, strict=True) for at in _days_of(m))
    if any(meaning.period for meaning in meanings) or any(each.how is not Evidence.TEXT for each in own):
        return
    days = {day.date() for day in pd.DatetimeIndex(kept["sale_date"].unique())}
    missed = dict(
        told for line in _lines(tables) for told in _sale_days(line, max(days)) if not told[0] & days
    )
    if not missed:
        return
    found, line = next(iter(missed.items()))
    told = min(found).isoformat()
    raise QuestionError(
        f"the file tells of a sale on {told} ({line.strip()[:100]!r}), but what was read is of"
        f" {', '.join(sorted(day.isoformat() for day in days)[:_MOST_SHOWN])}",
        where=name,
        remedy=Text("Split the file by sale; of each say the day: ", Setting("sale_day", told), ".")
        if len(missed) > 1
        else Text("Say the day of sale: ", Setting("sale_day", told), "; of two sales split the file."),
        values={"sale_day": tuple(min(each).isoformat() for each in missed)},
    )


def _days_of(meaning: Meaning) -> list[int]:
    return [place for name in ("date", "day") for place in meaning.assignment.places.get(name, ())]


def _lines(tables: Sequence[Table]) -> Iterator[str]:
    return iter(dict.fromkeys(line for table in tables for line in table.lines))


def _sale_days(line: str, last: date) -> Iterator[tuple[frozenset[date], str]]:
    """Yield the days that a line calls days of sale, in both orders of day and month; those ahead are left out."""
    before = 0
    for found in DAY_TEXT.finditer(line):
        told, before = line[before : found.start("day")], found.end()
        if not _SALE.search(told) or names_other_day(told) or _CLOCK.search(line[before:]):
            continue
        year = None if is_whole(found) else last.year
        read = (parse_date(found["day"], day_first=order, year=year) for order in (False, True))
        days = frozenset(each.day for each in read if each is not None and each.precision == "day")
        if year and found["day"].endswith(f" {year % 100}"):
            continue  # Sep 26 is September 2026 as well
        if days and not (min(days) > last and _AHEAD.search(line)):
            yield days, line


def _check_head(tables: Sequence[Table], meanings: Sequence[Meaning], kept: pd.DataFrame, name: str) -> None:
    """Ask about a column of whole numbers that was left where the head is one number in all rows."""
    head = kept["head"].dropna()
    if len(head) < _FEWEST_HEADS or head.nunique() > 1 or head.iloc[0] == 1:
        return
    for table, meaning in zip(tables, meanings, strict=True):
        used = {place for places in meaning.assignment.places.values() for place in places}
        for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
            texts = [text for text in column.distinct() if text]
            if (
                heading.unexplained
                and place not in used
                and len(texts) > 1
                and all(map(str.isdecimal, texts))
            ):
                raise QuestionError(
                    f"the head is {head.iloc[0]:.0f} in every row, and {heading.text!r}"
                    f" ({', '.join(texts[:_MOST_SHOWN])}) was not understood",
                    where=name,
                    remedy=Text(
                        "Say which column it is: ",
                        means(heading.text, "head"),
                        " or ",
                        means(heading.text, "unused"),
                        ".",
                    ),
                )


def check_places(tables: Sequence[Table], kept: pd.DataFrame, name: str) -> str:
    """Ask for the place of sale where records have none and something may be its name; else return a note.

    Raises
    ------
    QuestionError
        ``values["market"]`` has the names in the lines beside the sales and in the file's name.
    """
    blank = int(kept["market"].eq("").sum())
    if not blank:
        return ""
    named = [
        market_in(line) or name_beside_day(line) or (line.strip() if is_name(line) else "")
        for line in _lines(tables)
    ]
    offered = tuple(dict.fromkeys(filter(None, [*named, place_in_name(name)])))[:_MOST_SHOWN]
    some = "" if blank == len(kept) else f" for {blank} of {len(kept)} rows"
    if not offered:
        return f"no place of sale is named{some}; it was left blank"
    raise QuestionError(
        f"no place of sale was found{some}; it may be {' or '.join(offered)}",
        where=name,
        remedy=Text("Say the barn or town: ", Setting("market", offered[0]), "."),
        values={"market": offered},
    )


def place_in_name(name: str) -> str:
    """Return the words of a file's name that may be a place, two or more: with capitals, or beside a day.

    >>> [place_in_name(name) for name in ("Cinder_Ridge.json", "antler-ridge 2026-10-08.csv", "Rill_8Oct2026.csv")]
    ['Cinder Ridge', 'Antler Ridge', '']
    """
    stem = re.sub(r"_+|(?<=[A-Za-z])[-.](?=[A-Za-z])", " ", PurePath(name).stem)
    if names_other_day(stem):
        return ""
    stem = stem.title() if DAY_TEXT.search(stem) else stem
    stem = _MONTHS.sub(" ", re.sub(r"[\d\W]+", " ", stem)).strip()
    place = market_in(stem) or " ".join(_GENERIC.sub(" ", stem).split())
    return place if is_name(" ".join(_GENERIC.sub(" ", place).split())) else ""
