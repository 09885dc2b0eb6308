"""The day of sale in lines of prose: behind "sale of" and the like, else the dateline, else a weekday before it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta

from slidefit.records.words.dates import DAY_TEXT, parse_date
from slidefit.records.words.vocabulary import words_of

_SALE_DAY = words_of("reports", "sale_day")
_OTHER_DAY = words_of("reports", "other_day")
_WEEKDAY = words_of("reports", "weekday")
_YESTERDAY = re.compile(r"\byesterday\b", re.IGNORECASE)
_HALF_YEAR_DAYS = 183  # a day without a year further ahead than that is of the year before
_WEEKDAYS = ("mon", "tues", "wednes", "thurs", "fri", "satur", "sun")


def sale_day(line: str, known: str, written: str, year: str) -> tuple[str, str]:
    """Return the day of sale after a line of prose, and the first day written; one without a year takes its year.

    A day behind "sale of", "sold on" and the like, or behind its own weekday as in "Monday, Nov. 2", beats the
    dateline, the first day written; so do "sold Monday" and "sold yesterday", before it.
    """
    for found in DAY_TEXT.finditer(line):
        day = _day_of(found, written or year)
        if day is not None and not written and is_whole(found):
            written = day.isoformat()
            known = known or _as_written(found, day)
    if sold := day_sold(line, written, year):
        return sold, written
    weekday = _WEEKDAY.search(line) or _YESTERDAY.search(line)
    if written and weekday and not _OTHER_DAY.search(line[: weekday.end()]):
        base = date.fromisoformat(written)
        back = (base.weekday() - _weekday(weekday[1])) % 7 if weekday.re is _WEEKDAY else 1
        return (base - timedelta(days=back)).isoformat(), written
    return known, written


def day_sold(line: str, written: str, year: str = "") -> str:
    """Return the day behind "sale of", "sold on" or its own weekday, of the year that lies near the day written."""
    for found in DAY_TEXT.finditer(line):
        day = _day_of(found, written or year)
        if day is None:
            continue
        late = bool(written) and (day - date.fromisoformat(written)).days > _HALF_YEAR_DAYS
        if late and not is_whole(found):
            day = day.replace(year=day.year - 1)
        own = written and found["weekday"] and day.weekday() == _weekday(found["weekday"])
        if own or _SALE_DAY.search(line[: found.start()]):
            return _as_written(found, day)
    return ""


def first_day(line: str, year: str) -> str:
    """Return the first day in a line, of a year where it has none of its own; blank where there is none.

    >>> first_day("Wren Fork - Oct 3", "2026"), first_day("FRI 30OCT2026", ""), first_day("Wren Fork", "2026")
    ('2026-10-03', '2026-10-30', '')
    """
    found = DAY_TEXT.search(line)
    day = _day_of(found, year) if found else None
    return _as_written(found, day) if found and day else ""


def days_told(lines: Iterable[str]) -> list[str]:
    """Return the whole days that lines tell, each once, whatever they are the days of.

    >>> days_told(["Issue 45, November 10, 2026", "sold Thursday, Nov 5"])
    ['November 10, 2026']
    """
    found = (found for line in lines for found in DAY_TEXT.finditer(line) if is_whole(found))
    return list(dict.fromkeys(each["day"] for each in found))


def _weekday(name: str) -> int:
    return next(at for at, full in enumerate(_WEEKDAYS) if full.startswith(name[:3].lower()))


def _day_of(found: re.Match[str], written: str) -> date | None:
    """Return the day of a match, of the year written where it has none; None for a month, or another's day."""
    year = int(written[:4]) if written[:4].isdecimal() and not is_whole(found) else None
    day = parse_date(found["day"], year=year)
    apart = day is None or day.precision == "month" or _OTHER_DAY.search(found.string[: found.start("day")])
    return None if day is None or apart else day.day


def is_whole(found: re.Match[str]) -> bool:
    """Tell whether a day names its year too."""
    day = found["day"]
    return day[-4:].isdecimal() if day[0].isalpha() else day[-1].isdecimal()


def _as_written(found: re.Match[str], day: date) -> str:
    """Return numbers as they stand, whose order the file decides; a day that names its month in ISO form."""
    return day.isoformat() if re.search(r"[a-z]", found["day"], re.IGNORECASE) else found["day"]
