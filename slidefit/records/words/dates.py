"""Dates as people write them; what a column of dates stands for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache

from slidefit.records.words.numerals import is_missing
from slidefit.records.words.vocabulary import VOCABULARY, words_of

_MONTH_NUMBERS: dict[str, int] = {
    name: number for number, names in enumerate(VOCABULARY["months"].values(), 1) for name in names.split()
}

ENGLISH_MONTHS = [*VOCABULARY["months"], "sept", *(name[:3] for name in VOCABULARY["months"])]
_FIRST_YEAR = 1950
_SERIAL_EPOCH = date(1899, 12, 30)
_SERIAL_RANGE = (18_264, 73_050)  # 1950 to 2099
_WEEK_SPAN_DAYS = 10
SAME_SALE_DAYS = 3

_LONG_NAMES = [name for name in _MONTH_NUMBERS if len(name) > 3 or name in ENGLISH_MONTHS]
_MONTH, _NAME = ("|".join(sorted(names, key=len, reverse=True)) for names in (_MONTH_NUMBERS, _LONG_NAMES))
_PARTS = {
    **{name: rf"(?P<{name}>(?:{_MONTH}))\b\.?" for name in ("month", "month2")},
    "name": f"(?:{_NAME})",
    "weekday": r"(?:(?:mon|tue|tues|wed|wednes|thu|thur|thurs|fri|sat|satur|sun)(?:day)?s?\b\.?)",
}
WEEKDAY = re.compile(rf"\b{_PARTS['weekday']}", re.IGNORECASE)
_REORDERED = (  # 100826; 9302026; 20261008; 08OCT26; 2026-Oct-08; Oct-08-2026; 10/2026
    (re.compile(r"^(\d{2})(\d{2})(\d{2})$"), r"\1/\2/\3"),
    (re.compile(r"^(\d{1,2})(\d{2})((?:19|20)\d{2})$"), r"\1/\2/\3"),
    (re.compile(r"^((?:19|20)\d{2})(\d{2})(\d{2})$"), r"\1/\2/\3"),
    (re.compile(r"^(\d{1,2})([A-Za-z]{3})(\d{2}|\d{4})$"), r"\1 \2 \3"),
    (re.compile(r"^(\d{4})[\s-]([^\W\d]{3,9})\.?[\s-](\d{1,2})$"), r"\3 \2 \1"),
    (re.compile(r"^([^\W\d]{3,9})\.?-(\d{1,2})-(\d{4})$"), r"\2 \1 \3"),
    (re.compile(r"^(\d{1,2})\s*[-/.]\s*((?:19|20)\d{2})$"), r"\2-\1"),
)
MONTH_AND_TWO = words_of("dates", "month_and_two", _PARTS)
_NO_YEAR = re.compile(r"^\d{1,2}/\d{1,2}$")
_NUMERIC = re.compile(r"(?<![\d/.-])(\d{1,4})\s?[/.-]\s?(\d{1,4})\s?[/.-]\s?(\d{1,4})(?!\d)")
_MONTH_DAYS_YEAR = words_of("dates", "month_day_year", _PARTS)
_DAY_MONTH_YEAR = words_of("dates", "day_month_year", _PARTS)
_MONTH_YEAR = words_of("dates", "month_year", _PARTS)
_YEAR_MONTH_NAME = words_of("dates", "year_month_name", _PARTS)
_YEAR_MONTH = re.compile(r"^(?P<year>(?:19|20)\d{2})\s*[-/.mM]\s*(?P<month>\d{1,2})$")
_YEAR_WEEK = words_of("dates", "year_week")
DAY_TEXT = words_of("dates", "in_text", _PARTS)
_WEEK_WORDS = re.compile(r"\bw(?:ee)?k\b|weekly", re.IGNORECASE)
_TIME = words_of("dates", "time")


@dataclass(frozen=True)
class SaleDate:
    """A date and how closely it is known: day, week or month."""

    day: date
    precision: str = "day"


def full_year(text: str) -> int:
    """Return the year that two or four digits mean; two digits below 70 are this century.

    >>> full_year("10"), full_year("98"), full_year("2019")
    (2010, 1998, 2019)
    """
    year = int(text)
    if year >= 100:
        return year
    return year + (2000 if year < 70 else 1900)


def _safe(year: int, month: int, day: int) -> date | None:
    """Return the date, or None when there is no such day or the year is out of reason."""
    try:
        return date(year, month, day) if _FIRST_YEAR <= year < 2100 else None
    except ValueError:
        return None


def month_number(text: str) -> int | None:
    """Return 1 to 12 for a month's name, abbreviation or number.

    >>> month_number("Mar."), month_number("FEB"), month_number("12"), month_number("Avg.")
    (3, 2, 12, None)
    """
    bare = text.strip().strip(".*").lower()
    if bare.isdecimal():
        return int(bare) if 1 <= int(bare) <= 12 else None
    return _MONTH_NUMBERS.get(bare)


_DAY_AND_MONTH = words_of("dates", "neighbors")


def neighbors_in_date(text: str) -> tuple[int, int] | None:
    """Return the two neighbors that a spreadsheet made a date of, as 5-6 becomes 6-May; None for any other text.

    >>> neighbors_in_date("6-May"), neighbors_in_date("2026-05-06"), neighbors_in_date("9-May")
    ((5, 6), (5, 6), None)
    """
    found = _DAY_AND_MONTH.match(text)
    month = month_number(found[2] or found[3] or found[5]) if found else None
    if found is None or month is None:
        return None
    day = int(found[1] or found[4] or found[6])
    return (min(day, month), max(day, month)) if abs(day - month) == 1 else None


def _reordered(text: str) -> str:
    """Return a date without its time of day, and one of the odd orders in a usual one."""
    text = _TIME.sub("", text)
    for written, order in _REORDERED:
        text = written.sub(order, text)
    return text


def numeric_parts(text: str) -> tuple[str, str, str] | None:
    """Return the three numbers of a numeric date such as 05/03/2024, or None."""
    found = _NUMERIC.search(_reordered(text.strip()))
    return (found[1], found[2], found[3]) if found else None


def with_year(text: str, year: int | str | None) -> str:
    """Return a day and a month with a stroke between them, completed by the year that stands elsewhere.

    >>> with_year("10/3", 2026), with_year("10/3/25", 2026), with_year("10/3", None)
    ('10/3/2026', '10/3/25', '10/3')
    """
    bare = text.strip()
    return f"{bare}/{year}" if year and _NO_YEAR.match(bare) else text


@lru_cache(maxsize=1 << 14)
def parse_date(
    text: str, *, day_first: bool = False, year: int | None = None, by_day: bool = False
) -> SaleDate | None:
    """Return the sale date in a text, or None.

    A range within three days is one sale of two days (its first day stands), a longer one of up to ten days is a
    week (its last day stands).

    Parameters
    ----------
    day_first : bool
        Read 05/03/2024 as the 5th of March.
    year : int, optional
        Stands in where the text has no year.
    by_day : bool
        The column holds days: ``Oct. 16`` is a day without a year, never October 2016.

    Examples
    --------
    >>> parse_date("05/03/2024 0:00", day_first=True).day.isoformat()
    '2024-03-05'
    >>> parse_date("Friday-Saturday, October 5 & 6, 2018").day.isoformat()
    '2018-10-05'
    >>> parse_date("03/09/2026 - 03/13/2026")
    SaleDate(day=datetime.date(2026, 3, 13), precision='week')
    >>> parse_date("2026-Oct-08").day == parse_date("Oct-08-2026").day == parse_date("08OCT26").day
    True
    >>> parse_date("Mar 2019")
    SaleDate(day=datetime.date(2019, 3, 1), precision='month')
    """
    bare = with_year(text.strip(), year)
    if is_missing(bare):
        return None
    week = "week" if _WEEK_WORDS.search(bare) else "day"
    bare = _reordered(bare)
    if by_day:
        bare = MONTH_AND_TWO.sub(r"\g<month> \g<two>", bare)
    numeric = _NUMERIC.findall(bare)
    if numeric:
        days = [day for day in (from_numbers(parts, day_first) for parts in numeric) if day]
        if len(days) >= 2 and len(days) == len(numeric):
            return _span(days[0], days[1])
        return SaleDate(days[0], week) if days and len(days) == len(numeric) else None
    return _plain_number(bare) or _named(bare, year, week) or _month_only(bare, by_day)


_SHORT_NUMBER = re.compile(r"\d{1,7}(?:\.\d{1,7})?")


def is_full_date(text: str) -> bool:
    """Tell whether a cell is a date by itself; of plain numbers only 20231003 and seconds since 1970 are.

    >>> is_full_date("10/03/2023"), is_full_date("20231003"), is_full_date("45202"), is_full_date("251.25")
    (True, True, False, False)
    """
    bare = text.strip()
    if _SHORT_NUMBER.fullmatch(bare):
        return False
    found = parse_date(bare) or parse_date(bare, day_first=True)
    return found is not None and (not bare.isdecimal() or len(bare) != 9)


def is_date(text: str) -> bool:
    """Tell whether a text holds a date, whichever of day and month comes first.

    >>> is_date("14/10/2025"), is_date("Hd"), is_date("Price")
    (True, False, False)
    """
    return any(parse_date(text, day_first=order) is not None for order in (False, True))


def from_numbers(parts: tuple[str, str, str], day_first: bool) -> date | None:
    """Return the date that three numbers make, a year of four digits first or last; None where they make none.

    >>> from_numbers(("05", "03", "2024"), True), from_numbers(("13", "13", "2024"), True)
    (datetime.date(2024, 3, 5), None)
    """
    first, second, third = parts
    if len(first) == 4:
        return _safe(int(first), int(second), int(third))
    if len(first) > 3 or len(second) > 3 or len(third) == 3:
        return None
    day, month = (first, second) if day_first else (second, first)
    return _safe(full_year(third), int(month), int(day))


def _span(first: date, last: date) -> SaleDate | None:
    """Return the one date that stands for a range of days."""
    days = (last - first).days
    if 0 <= days <= SAME_SALE_DAYS:
        return SaleDate(first, "day")
    return SaleDate(last, "week") if 0 < days <= _WEEK_SPAN_DAYS else None


def _plain_number(text: str) -> SaleDate | None:
    """Read seconds since 1970, and a spreadsheet's day count."""
    if re.fullmatch(r"1\d{9}(?:\d{3})?(?:\.0+)?", text):  # seconds or milliseconds since 1970, universal time
        seconds = int(text[:10])
        return SaleDate(datetime.fromtimestamp(seconds, tz=UTC).date())
    if re.fullmatch(r"\d{5}(?:\.\d+)?", text) and _SERIAL_RANGE[0] <= float(text) <= _SERIAL_RANGE[1]:
        return SaleDate(_SERIAL_EPOCH + timedelta(days=int(float(text))))
    return None


def _named(text: str, year: int | None, week: str) -> SaleDate | None:
    for pattern in (_MONTH_DAYS_YEAR, _DAY_MONTH_YEAR):
        for found in pattern.finditer(text):
            said = found["year"]
            written = full_year(said) if said else year
            if written is None or (not said and re.search(r"(?:19|20)\d{2}", text) and year is None):
                continue
            month = _MONTH_NUMBERS[found["month"].lower()]
            first = _safe(written, month, int(found["day"]))
            if first is None:
                continue
            if found["day2"]:
                second = found.groupdict().get("month2")
                last = _safe(written, _MONTH_NUMBERS[second.lower()] if second else month, int(found["day2"]))
                return _span(first, last) if last else None
            return SaleDate(first, week)
    return None


def _month_only(text: str, by_day: bool) -> SaleDate | None:
    """Read a month and year, or a year and week, without a day."""
    week = _YEAR_WEEK.search(text)
    if week:
        return week_date(int(week["year"] or week["year2"]), int(week["week"] or week["week2"]))
    for pattern in (_YEAR_MONTH, _MONTH_YEAR, _YEAR_MONTH_NAME):
        found = pattern.search(text)
        if found and not (len(found["year"]) == 2 and (by_day or WEEKDAY.search(text))):
            month = month_number(found["month"])
            day = _safe(full_year(found["year"]), month, 1) if month else None
            return SaleDate(day, "month") if day else None
    return None


def week_date(year: int, week: int) -> SaleDate | None:
    """Return the Monday of a numbered week (ISO 8601 counting).

    >>> week_date(2024, 1).day.isoformat()
    '2024-01-01'
    """
    try:
        return SaleDate(date.fromisocalendar(year, week, 1), "week")
    except ValueError:
        return None
