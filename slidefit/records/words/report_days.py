"""The day of sale in lines of prose: behind "sale of" and the like, else the dateline, else a weekday before it."""

from __future__ import annotations

import re
from datetime import date, timedelta

from slidefit.records.words.dates import parse_date
from slidefit.records.words.vocabulary import words_of

_SALE_DAY = words_of("reports", "sale_day")
_OTHER_DAY = words_of("reports", "other_day")
_A_DAY = words_of("reports", "a_day")
_WEEKDAY = words_of("reports", "weekday")
_OWN_WEEKDAY = re.compile(r"\b(mon|tue|wed|thu|fri|sat|sun)[a-z]{0,6}\.?,?\s{1,3}$", re.IGNORECASE)
_HALF_YEAR_DAYS = 183  # a day without a year further ahead than that is of the year before
_WEEKDAYS = ("mon", "tues", "wednes", "thurs", "fri", "satur", "sun")


def sale_day(line: str, known: str, written: str, year: str) -> tuple[str, str]:
    """Return the day of sale after a line of prose, and the first day written; one without a year takes its year.

    A day behind "sale of", "sold on" and the like, or behind its own weekday as in "Monday, Nov. 2", beats the
    dateline, the first day written.
    """
    for found in _A_DAY.finditer(line):
        day = _day_of(found, written or year)
        if day is not None and not written and _is_whole(found.group()):
            written = day.isoformat()
            known = known or _as_written(found.group(), day)
    if sold := day_sold(line, written, year):
        return sold, written
    weekday = _WEEKDAY.search(line)
    if written and weekday and not _OTHER_DAY.search(line[: weekday.end()]):
        base = date.fromisoformat(written)
        back = (base.weekday() - _weekday(weekday[1])) % 7
        return (base - timedelta(days=back)).isoformat(), written
    return known, written


def day_sold(line: str, written: str, year: str = "") -> str:
    """Return the day behind "sale of", "sold on" or its own weekday, of the year that lies near the day written."""
    for found in _A_DAY.finditer(line):
        day, before = _day_of(found, written or year), line[: found.start()]
        if day is None:
            continue
        late = bool(written) and (day - date.fromisoformat(written)).days > _HALF_YEAR_DAYS
        if late and not _is_whole(found.group()):
            day = day.replace(year=day.year - 1)
        own = _OWN_WEEKDAY.search(before)
        of_sale = _SALE_DAY.search(before) or (written and own and day.weekday() == _weekday(own[1]))
        if of_sale:
            return _as_written(found.group(), day)
    return ""


def first_day(line: str, year: str) -> str:
    """Return the first day in a line, of a year where it has none of its own; blank where there is none.

    >>> first_day("Wren Fork - Oct 3", "2026"), first_day("Wren Fork", "2026")
    ('2026-10-03', '')
    """
    found = _A_DAY.search(line)
    day = _day_of(found, year) if found else None
    return _as_written(found.group(), day) if found and day else ""


def _weekday(name: str) -> int:
    return next(at for at, full in enumerate(_WEEKDAYS) if full.startswith(name[:3].lower()))


def _day_of(found: re.Match[str], written: str) -> date | None:
    """Return the day of a match, of the year written where it has none; None for a month, or another's day."""
    day = parse_date(found.group(), year=int(written[:4]) if written[:4].isdecimal() else None)
    apart = day is None or day.precision == "month" or _OTHER_DAY.search(found.string[: found.start()])
    return None if day is None or apart else day.day


def _is_whole(text: str) -> bool:
    return bool(re.search(r"\d{4}|[/-]\d{2}$", text))


def _as_written(text: str, day: date) -> str:
    """Return numbers as they stand, whose order the file decides; a day that names its month in ISO form."""
    return text if re.match(r"\d", text) else day.isoformat()
