"""What a column of dates stands for: weeks, months, seasons, or periods too long for a record."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta

from slidefit.records.words.dates import full_year
from slidefit.records.words.vocabulary import words_of

SEASON = re.compile(r"(?<!\d)((?:19|20)\d{2})\s?[-/–]\s?(\d{2}|(?:19|20)\d{2})(?![\d/-])")
SEASON_BEGINS = 7


def season_year(text: str, month: int | None) -> int | None:
    """Return the year that a month of a season such as 2018-19 lies in, or None when the text is no season.

    A season begins in July, so that spring calves weaned in autumn and sold in winter are of one season
    (common practice, no source); without a month it can't be placed.

    >>> season_year("2018-19", 10), season_year("2018/2019", 1), season_year("2018-12", 3), season_year("2018-19", None)
    (2018, 2019, None, None)
    """
    found = SEASON.fullmatch(text.strip())
    if found is None or month is None:
        return None
    first, second = int(found[1]), full_year(found[2])
    if second % 100 != (first + 1) % 100:
        return None
    return first if month >= SEASON_BEGINS else first + 1


WEEK = "week"
_MONTH = "month"
LONG = "long"
FEWEST_DATES = 4
HEADINGS = {period: words_of("period_headings", period) for period in (LONG, _MONTH, WEEK)}
_LONG_CELL = words_of("periods", "long_cell")
_QUARTER_ENDS = frozenset({(3, 31), (6, 30), (9, 30), (12, 31)})
_QUARTER_STARTS = frozenset({(1, 1), (4, 1), (7, 1), (10, 1)})


def names_long_period(text: str) -> bool:
    """Tell whether a date cell names a quarter, a half year or a year's average.

    >>> names_long_period("Q1 2023"), names_long_period("2nd quarter 2022"), names_long_period("10/03/2023")
    (True, True, False)
    """
    return bool(_LONG_CELL.search(text))


def period_of(heading: str, days: Iterable[date]) -> tuple[str, str]:
    """Return ``week``, ``month`` or ``long`` when the dates stand for such periods (else blank), and how that shows.

    Prices of a month keep their month; prices of a quarter, a half year or a year are averages over seasons, and
    no records. Dates that are all firsts or lasts of a month are no days of sale.

    Examples
    --------
    >>> period_of("Quarterly", [])
    ('long', "the heading 'Quarterly' says so")
    >>> period_of("Date", [date(2023, month, 1) for month in range(1, 6)])
    ('month', 'every date is the first day of a month')
    >>> period_of("Date", [date(2023, 10, 3)])
    ('', '')
    """
    for period, pattern in HEADINGS.items():
        if pattern.search(heading):
            return period, f"the heading {heading!r} says so"
    distinct = set(days)
    if len(distinct) < FEWEST_DATES:
        return "", ""
    ends = {(day.month, day.day) for day in distinct}
    for edges, which in ((_QUARTER_ENDS, "last"), (_QUARTER_STARTS, "first")):
        if ends <= edges:
            return LONG, f"every date is the {which} day of a quarter"
    for days_on, which in ((0, "first"), (1, "last")):
        if all((day + timedelta(days=days_on)).day == 1 for day in distinct):
            return _MONTH, f"every date is the {which} day of a month"
    return "", ""
