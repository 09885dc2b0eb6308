"""The government's fixed-width auction report: class and grade above lines of head, weights and prices."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

import numpy as np

from slidefit.errors import RecordsError
from slidefit.records.columns import TextColumn
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import NOT_FEEDER, Grade, classify, find_grade, sex_of
from slidefit.records.words.dates import parse_date
from slidefit.records.words.fields import field_of
from slidefit.records.words.headings import Heading
from slidefit.records.words.titles import date_in, market_in, read_titles
from slidefit.records.words.units import price_unit_of

_COLUMNS = re.compile(
    r"Head +(?:Wt|Weight)\.? +Range +(?:Avg|Average)\.? +(?:Wt|Weight)\.? +Price +Range +(?:Avg"
    r"|Average)\.? +Price(?: +Dressing)?|Head +(?:Avg|Average)\.? +(?:Wt|Weight)\.? +(?:Avg"
    r"|Average)\.? +Price",
    re.IGNORECASE,
)
_NAMES = re.compile(
    r"Head|(?:Wt|Weight)\.? +Range|(?:Avg|Average)\.? +(?:Wt|Weight)\.?|Price +Range|(?:Avg"
    r"|Average)\.? +Price|Dressing",
    re.IGNORECASE,
)
_NUMBER = r"(?:\$?[\d,]+(?:\.\d+)?|N/A|-)"
_RANGE = r"(?:\$?[\d,]+(?:\.\d+)?(?: ?- ?\$?[\d,]+(?:\.\d+)?)?|N/A(?: ?- ?N/A)?|-)"
_RULE = re.compile(r"^\s*[-=_*]{5,}\s*$")
_COMMODITY = re.compile(
    r"^\s*(?:feeder|slaughter|replacement|stocker|stock|dairy|butcher)?\s*(?:cattle|calves"
    r"|cows?(?:/calf pairs)?|bulls|goats?|sheep(?: and lambs)?|lambs|hogs|pigs|horses"
    r"|pairs)\s*:?\s*$",
    re.IGNORECASE,
)
_SENTENCE = re.compile(
    r"\bcompared\b|\bsteady\b|\bhigher\b|\blower\b|\bsupply\b|\binclud|\bbrought\b|\bdemand\b"
    r"|\breceipts?\b|\bgroups of\b|\bsource\b|\bnote\b|\bplease\b|\bweek ago\b|\byear ago\b"
    r"|\bpercent\b|\bcontact\b|\bno comparison|\btrend\b|[a-z]{3}\. [A-Z]",
    re.IGNORECASE,
)
_ANIMALS = re.compile(
    r"\b(?:cows?|pairs|goats?|kids|nannies|does|bucks|billies|lambs|ewes|sheep|rams|hogs|pigs"
    r"|sows|boars|horses|calves)\b",
    re.IGNORECASE,
)
_UNIT_LINE = re.compile(
    r"^\s*\(?(?:prices? )?per (?:cwt|head|unit|family|hundredweight)[^)]*\)?\s*$", re.IGNORECASE
)
LONGEST_HEADING = 110
LONGEST_LINE = 500
_LONG_ROW = re.compile(
    r"(?<![\d.,/-])\d[\d,]*\s+[\d,]+(?:-[\d,]+)?\s+[\d,]+\s+\$?[\d,.]+(?:-\$?[\d,.]+)?\s+\$?[\d,]+(?:\.\d+)?(?![\d-])"
)
_LONG_HEADING = re.compile(
    r"((?:(?:Feeder|Slaughter|Replacement|Bred|Dairy|Stock|Beef/Dairy"
    r"|Holstein)\s+)*(?:Holstein\s+)?(?:Steers|Heifers|Bulls|Cows|Cow-Calf Pairs"
    r"|Cattle)\b[^\n]*)$",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class _State:
    """What the lines so far say of the next row."""

    market: str = ""
    date: str = ""
    status: str = ""
    commodity: str = ""
    about: str = ""
    grade: str = ""
    unit: str = ""
    columns: tuple[str, ...] = ()


@dataclass
class _Rows:
    """Rows found so far, field by field."""

    cells: list[dict[str, str]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    other: list[str] = field(default_factory=list)


def is_report(text: str) -> bool:
    """Tell whether a text is an auction report with its lines of head, weights and prices.

    >>> is_report("  Head   Wt Range   Avg Wt    Price Range   Avg Price"), is_report("Head,Wt Range,Avg Wt")
    (True, False)
    """
    return bool(_COLUMNS.search(text))


def report_table(text: str, name: str) -> tuple[Table, int]:
    """Return the rows of one or more reports in a text, and the count of other lines.

    Raises
    ------
    RecordsError
        There is no row in it.
    """
    rows, state = _Rows(), _State()
    for number, line in enumerate(_unfolded(text).split("\n"), start=1):
        if not line.strip() or _RULE.match(line):
            continue
        state = _after_line(line, number, state, rows)
    if not rows.cells:
        raise RecordsError("the report holds no row of sales", where=name)
    said = read_titles([], rows.other)
    keys = (
        "date",
        "market",
        "status",
        "commodity",
        "class",
        "grade",
        "price_unit",
        *dict.fromkeys(key for cells in rows.cells for key in cells),
    )
    names = {"commodity": "category", "class": "sex"}
    headings, columns = [], []
    for key in dict.fromkeys(keys):
        headings.append(Heading(key, names.get(key, key), 0, how="from the report"))
        columns.append(TextColumn.of([cells.get(key, "") for cells in rows.cells]))
    table = Table(
        name,
        tuple(headings),
        tuple(columns),
        np.array(rows.numbers, dtype=np.int64),
        {
            "price_unit": said.get("price_unit", "$/cwt"),
            **({"currency": said["currency"]} if "currency" in said else {}),
        },
    )
    return table, len(rows.other)


def _unfolded(text: str) -> str:
    """Give a report that lost its line ends its lines again."""
    lines = text.expandtabs(8).split("\n")
    if not any(len(line) > LONGEST_LINE and _COLUMNS.search(line) for line in lines):
        return "\n".join(lines)
    text = _COLUMNS.sub(lambda found: f"\n{found.group()}\n", text)
    text = re.sub(r"((?:Livestock|Feeder Cattle|Cattle) Weighted Average Report)", r"\n\1", text)
    text = re.sub(r"(- (?:Final|Preliminary))\b", r"\1\n", text)
    text = _LONG_ROW.sub(lambda found: f"\n{found.group()}", text)
    return "\n".join(
        _LONG_HEADING.sub(r"\n\1", line) if re.match(r"\s*\d", line) else line for line in text.split("\n")
    )


def _after_line(line: str, number: int, state: _State, rows: _Rows) -> _State:
    """Take one line: a row is kept; anything else changes what the next rows mean, or nothing."""
    found = _COLUMNS.search(line)
    if found:
        names = [field_of(part) for part in _NAMES.findall(found.group())]
        columns = tuple(item[0] if item else "" for item in names)
        before = line[: found.start()].strip()
        return replace(_heading(before, state) if before else state, columns=columns)
    if state.columns and (cells := _row(line, state.columns)) is not None:
        about = {
            "date": state.date,
            "market": state.market,
            "status": state.status,
            "commodity": state.commodity,
            "class": state.about,
            "grade": state.grade,
            "price_unit": state.unit,
        }
        rows.cells.append({**about, **cells})
        rows.numbers.append(number)
        return state
    rows.other.append(line.strip())
    return _heading(line, state)


def _row(line: str, columns: tuple[str, ...]) -> dict[str, str] | None:
    """Return the cells of a data line, the words after the numbers as remarks; None when it is no such line."""
    numeric = [name for name in columns if name and name != "unused"]
    parts = [f"(?P<{name}>{_RANGE if 'range' in name else _NUMBER})" for name in numeric]
    found = re.match(r"^\s*" + r"\s+".join(parts) + r"(?:\s*(?P<rest>[^\d\s].*|\d.*[A-Za-z].*))?\s*$", line)
    if found is None or not re.search(r"\d", found["head"] if "head" in numeric else found[1]):
        return None
    cells = {name: found[name] for name in numeric}
    cells["remarks"] = (found["rest"] or "").strip()
    return cells


def _heading(line: str, state: _State) -> _State:
    """Return the state after a line that is no row."""
    bare = " ".join(line.split())
    if _COMMODITY.match(bare):
        return replace(state, commodity=bare, about="", grade="", unit="")
    if _UNIT_LINE.match(bare):
        return replace(state, unit=price_unit_of(bare))
    when = date_in([line])
    if when and (
        re.search(r"report|sale|auction|week", line, re.IGNORECASE) or not state.date or state.columns
    ):
        status = (
            "Preliminary"
            if "prelim" in line.lower()
            else "Final"
            if re.search(r"\bfinal\b", line, re.IGNORECASE)
            else ""
        )
        fresh = _State(market=market_in(line) or state.market, date=when, status=status)
        return (
            fresh
            if re.search(r"report for|\breport\b", line, re.IGNORECASE) or not state.date
            else replace(state, date=when)
        )
    if len(bare) > LONGEST_HEADING or _SENTENCE.search(bare) or bare.endswith("."):
        return state
    market = market_in(line)
    if market:
        return replace(state, market=market)
    if re.search(r"\d{3,}", bare) or ": " in bare:
        return state
    return _class_line(bare, state)


def _class_line(bare: str, state: _State) -> _State:
    """Return the state after a line that may name class, grade and unit."""
    grade, animal = find_grade(bare), classify(bare)
    graded = f"{grade.frame} {grade.muscle}".strip()
    if sex_of(bare) or _ANIMALS.search(bare) or (animal.reason and not state.about):
        return replace(state, about=bare, grade=graded, unit=price_unit_of(bare))
    if animal.reason == NOT_FEEDER:
        return replace(state, about=f"{state.about} {bare}", grade=graded)
    if grade != Grade():
        return replace(state, grade=graded, unit=price_unit_of(bare) or state.unit)
    if parse_date(bare) is not None and len(bare) < 40:
        return replace(state, date=bare)
    return state
