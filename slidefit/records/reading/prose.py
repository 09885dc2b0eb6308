"""Market reports written as prose, where their grammar is regular: head, weights, prices, and a word on the calves."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from slidefit.errors import RecordsError
from slidefit.records.columns import TextColumn
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import find_grade
from slidefit.records.words.dates import parse_date
from slidefit.records.words.headings import Heading
from slidefit.records.words.titles import read_titles
from slidefit.records.words.units import price_unit_of

_WEIGHT = (
    r"(?P<weight>(?:over |under |above |below )?\d[\d,]*(?:\s?(?:to|-"
    r"|–)\s?\d[\d,]*)?)\s?(?:lbs?\b\.?|pounds?\b|#|-?weights?\b)"
)
_MONEY = r"\$*\s?\d{1,4}(?:,\d{3})*(?:\.\d{1,2})?"
_SURE_MONEY = r"(?:\$+\s?\d{1,4}(?:\.\d{1,2})?|\d{2,3}\.\d{1,2})"
_AVERAGE = r"(?:\s?\((?:avg\.?|average)?\s*\$?(?P<average>\d[\d,]*(?:\.\d+)?)\))?"
_NO_CHANGE = r"(?!\s*(?:higher|lower|steady|percent|%|per ?cent|up\b|down\b|head\b|lbs?\b|to\b|-))"
_LOT = (
    rf"(?P<head>\d[\d,]*)\s?(?:head|hd)\b\.?,?\s*{_WEIGHT},?\s*(?:at |for "
    rf")?(?P<price>{_MONEY}(?:\s?(?:to|-|–)\s?{_MONEY}|(?=\$){_MONEY})?){_NO_CHANGE}{_AVERAGE}"
)
_HEADLESS = (
    rf"(?<![\d,.])(?<!head, ){_WEIGHT.replace('weight>', 'weight2>')},?:?\s*(?:at |for "
    rf")?(?P<price2>{_SURE_MONEY}(?:\s?(?:to|-|–)\s?\$?{_MONEY}"
    rf"|(?=\$){_MONEY})?){_NO_CHANGE}{_AVERAGE.replace('average>', 'average2>')}"
)
_CARRIED = (
    r"(?<=[\d)]),\s*(?P<trait>[a-z][a-z -]{2,24}?),?\s*"
    rf"(?P<price3>{_SURE_MONEY}(?:\s?(?:to|-|–)\s?{_MONEY})?){_NO_CHANGE}"
)
_LINE = (  # one lot a line, as newsletters list them: 12 blk strs 545# $289.00
    r"(?<![\d.,])(?P<head4>\d{1,3})\s+(?P<about>(?:[A-Za-z/&.']+\s+){0,3}?(?:steers?|strs?|heifers?|hfrs?|bulls?|bls|cows?"
    r"|pairs?|calves|calf)\b\.?)[\s,-]*(?:avg\.?\s*|@\s*)?(?P<weight4>\d{3,4})\s?(?:#|lbs?\b\.?)?[\s,]*(?:@|at|for)?\s*"
    rf"(?P<price4>{_SURE_MONEY}){_NO_CHANGE}"
)
_CLASS = (
    r"(?P<class>(?:[A-Z][A-Za-z/]*\s)?(?:[A-Za-z/]+\s){0,2}(?:steers?|heifers?|bulls?|cattle"
    r"|cows?|calves|pairs|yearlings|hogs|sheep|goats|lambs)(?:\s(?:and|&)\s(?:steers|heifers"
    r"|bulls|calves))?)\s?[:–-](?=\s)"
)
_GRADE = (
    r"(?P<grade>\b(?:Large|Medium|Small)(?:\s?(?:and|to|&|/|-)\s?(?:Large|Medium|Small))?(?:\s+frame)?"
    r"(?:\s+(?:no\.?|nos\.?|muscle))?\s*#?\s*[1-4](?:\s?(?:to|-|and|&)\s?[1-4])?(?![\d,.]*\d))"
)
_UNIT = r"(?P<unit>\bper\s(?:hundredweight|cwt|head|pair|unit)\b)"
_PARTS = re.compile("|".join((_LOT, _LINE, _CLASS, _GRADE, _UNIT, _HEADLESS, _CARRIED)), re.IGNORECASE)
_LINES = re.compile(_LINE, re.IGNORECASE)
_LOTS = re.compile(_LOT, re.IGNORECASE)
_HEADLESS_LOTS = re.compile(_HEADLESS, re.IGNORECASE)
_ANIMALS = re.compile(r"\b(?:steers?|heifers?|bulls?|calves|cows|pairs)\b", re.IGNORECASE)
_REMARK = re.compile(r"^[,\s]*([A-Za-z][A-Za-z -]{2,40}?)(?=\s*(?:[;.,]|$))")
_MARKET = re.compile(
    r"((?:[A-Z][\w'&.]*(?:-[A-Z]\w*)?\s){1,4}(?:(?:Livestock|Auction|Commission|Stockyards?|Sale"
    r"|Cattle|Exchange|Market|Barn|Yards|Company|Co\.)\b\s?)+)"
)
_DATE_WORDS = re.compile(
    r"\b(?:on|held|sale of|sale on|for|dated?)\s+(?:(?:mon|tues|wednes|thurs|fri|satur"
    r"|sun)day,?\s+)?(?P<date>(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov"
    r"|dec)[a-z]*\.?\s+\d{1,2}(?:,?\s+\d{4})?)",
    re.IGNORECASE,
)
_WEEKDAY = re.compile(r"\bon (?:last )?(mon|tues|wednes|thurs|fri|satur|sun)day\b", re.IGNORECASE)
_WEEKDAYS = ("mon", "tues", "wednes", "thurs", "fri", "satur", "sun")
_MOVES = re.compile(r"\b(?:higher|lower|steady|demand|compared|trend|receipts|mostly)\b", re.IGNORECASE)
LONGEST_CLASS_LINE = 70
FEWEST_LOTS = 2
SAMPLE_CHARACTERS = 200_000
FEWEST_HEADLESS = 3


@dataclass(frozen=True)
class _State:
    """What the sentences so far say of the next lot."""

    market: str = ""
    date: str = ""
    about: str = ""
    grade: str = ""
    unit: str = ""
    weight: str = ""
    head: str = ""


def reads_as_prose(text: str) -> bool:
    """Tell whether a text holds sales in regular prose.

    >>> reads_as_prose("Feeder steers: 6 head, 312 to 340 lbs., 186.00 to 192.00 (189.45); 1 head, 405 lbs., 171.50.")
    True
    >>> reads_as_prose("A pot load of 72 head 815 lb steers brought 149.75.")
    False
    """
    lots = len(_LOTS.findall(text))
    headless = len(_HEADLESS_LOTS.findall(text)) if _ANIMALS.search(text) else 0
    return lots >= FEWEST_LOTS or len(_LINES.findall(text)) >= FEWEST_LOTS or headless >= FEWEST_HEADLESS


def is_running_text(text: str) -> bool:
    """Tell whether the sales stand in running text, several to a line, and not in a table.

    >>> is_running_text("Steers,12 head,550 lbs,150.00")
    False
    >>> is_running_text("12 head, 550 lbs., 150.00; 4 head, 610 lbs., 141.00.")
    True
    """
    sample = text[:SAMPLE_CHARACTERS]
    if not reads_as_prose(sample):
        return False
    counts = [len(_LOTS.findall(line)) or len(_HEADLESS_LOTS.findall(line)) for line in sample.split("\n")]
    filled = [count for count in counts if count]
    return bool(filled) and sum(filled) >= 2 * len(filled)


def prose_table(text: str, name: str) -> tuple[Table, int]:
    """Return the sales in a prose report, and the count of lines without any.

    Raises
    ------
    RecordsError
        There is none.
    """
    cells: list[dict[str, str]] = []
    numbers: list[int] = []
    state, other, said = _State(), 0, ""
    lines = text.split("\n")
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        state, said = _dateline(" ".join(line.split()), state, said)
        state = _class_line(" ".join(line.split()), state)
        before = len(cells)
        state = _lots(" ".join(line.split()), state, cells)
        numbers.extend([number] * (len(cells) - before))
        other += len(cells) == before
    if not cells:
        raise RecordsError("no sale was found in the text", where=name)
    for row in cells:  # place and date may stand below the sales
        row["date"], row["market"] = row["date"] or state.date, row["market"] or state.market
    fields = {
        "date": "date",
        "market": "market",
        "class": "sex",
        "grade": "grade",
        "price_unit": "price_unit",
        "head": "head",
        "weight": "weight_range",
        "price_range": "price_range",
        "price": "price",
        "remarks": "remarks",
    }
    headings = tuple(Heading(key, meaning, 0, how="from the prose") for key, meaning in fields.items())
    columns = tuple(TextColumn.of([row.get(key, "") for row in cells]) for key in fields)
    titles = read_titles(lines[:3])
    return Table(
        name,
        headings,
        columns,
        np.array(numbers, dtype=np.int64),
        {key: value for key, value in titles.items() if key in ("price_unit", "currency", "market", "date")},
        (),
    ), other


def _dateline(line: str, state: _State, said: str) -> tuple[_State, str]:
    """Take market and date from a line; a date without a year takes that of the dateline."""
    full = parse_date(line)
    written = said or (full.day.isoformat() if full else "")
    if full and not said:
        said = full.day.isoformat()
    market = _MARKET.search(line)
    if (
        market
        and not _LOTS.search(line[: market.start()])
        and (not state.market or re.search(r"receipts|reported|sold", line, re.IGNORECASE))
    ):
        state = replace(state, market=market[1].strip(), about="", grade="")
    base = date.fromisoformat(written) if written else None
    for found in _DATE_WORDS.finditer(line):
        day = parse_date(found["date"], year=base.year if base else None)
        if day is None or re.search(
            r"compar|last|ago|next", line[max(0, found.start() - 25) : found.start()], re.IGNORECASE
        ):
            continue
        when = day.day
        if base and when > base and not re.search(r"\d{4}", found["date"]):
            when = when.replace(year=when.year - 1)
        return replace(state, date=when.isoformat()), said
    weekday = _WEEKDAY.search(line)
    if base and weekday and not state.date:
        back = (base.weekday() - _WEEKDAYS.index(weekday[1].lower())) % 7
        return replace(state, date=(base - timedelta(days=back)).isoformat()), said
    return (replace(state, date=written) if written and not state.date else state), said


def _class_line(line: str, state: _State) -> _State:
    """Take a short line that names a class, and perhaps a grade, for the lots below it."""
    if (
        len(line) > LONGEST_CLASS_LINE
        or not _ANIMALS.search(line)
        or re.search(r"\d{2}", line)
        or _MOVES.search(line)
    ):
        return state
    grade = find_grade(line)
    return replace(state, about=line, grade=f"{grade.frame} {grade.muscle}".strip(), unit=price_unit_of(line))


def _lots(line: str, state: _State, cells: list[dict[str, str]]) -> _State:
    """Read the lots of a line in order; class, grade and unit hold until they change."""
    for found in _PARTS.finditer(line):
        if found["class"]:
            state = replace(state, about=found["class"], grade="", unit="")
            continue
        if found["grade"]:
            grade = find_grade(found["grade"])
            state = replace(state, grade=f"{grade.frame} {grade.muscle}".strip(), unit="")
            continue
        if found["unit"]:
            state = replace(state, unit=price_unit_of(found["unit"]))
            continue
        if found["about"]:
            cells.append(
                {
                    "date": state.date,
                    "market": state.market,
                    "class": found["about"],
                    "head": found["head4"],
                    "weight": found["weight4"],
                    "price_range": found["price4"],
                }
            )
            continue
        remark = _REMARK.match(line[found.end() :])
        weight = found["weight"] or found["weight2"] or state.weight
        price = found["price"] or found["price2"] or found["price3"]
        if found["price3"] and not state.weight:
            continue
        state = replace(state, weight=weight)
        cells.append(
            {
                "date": state.date,
                "market": state.market,
                "class": state.about,
                "grade": state.grade,
                "price_unit": state.unit,
                "head": found["head"] or "",
                "weight": weight,
                "price_range": price,
                "price": found["average"] or found["average2"] or "",
                "remarks": found["trait"] or (remark[1] if remark else ""),
            }
        )
    return state
