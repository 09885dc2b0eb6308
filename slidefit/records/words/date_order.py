"""Whether day, month or year comes first in a column of dates, and whether Oct-12 is a day or a month of a year."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from itertools import pairwise

from slidefit.records.words.dates import (
    MONTH_AND_TWO,
    SaleDate,
    from_numbers,
    full_year,
    month_number,
    numeric_parts,
    parse_date,
)

_LONE_DAY = re.compile(r"^[A-Za-z]{3,9}\.?[\s-]+\d$")
_SAME_WEEKDAY_SHARE = 0.9
SLIPS_SHARE = 0.05  # dates of the other order up to this share are slips of the pen
_CLOSER = (
    5.0  # times: the days of one file lie nearer together, or one day nearer to today (a choice of ours)
)
_PATTERN = re.compile(r"(?<![^\W_])(?:y+|m+|d+)(?:[/. -]?(?:y+|m+|d+)){2}(?![^\W_])", re.IGNORECASE)
_WEEKLY_DAYS = 6  # sales of one barn lie a week apart, or a day less before a holiday


class OrderEvidence(StrEnum):
    """What shows the order of day and month, in the words in which it is told."""

    NONE = ""
    SAID = "said by the user"
    YEARS = "numbers beyond 31 show years"
    WEEKS = "a month and a day, a week from sale to sale"
    MONTHS = "a month and the last two digits of its year"
    YEAR_TOLD = "a month and a day of the year told"
    UNSAID = "nothing says which"
    BOTH = "dates speak for both orders"
    OVER_12 = "a number over 12 shows which is the day"
    FUTURE = "the other order would give dates in the future"
    PATTERN = "its heading says so"
    CLOSE = "days by another order are in the future, far apart or no days"
    WEEKDAY = "only this order keeps the sales on one weekday"
    SAME_NUMBER = "day and month are the same number in every date"
    CUSTOM_DAY = "no date proves it: day first, as goes with the units of the file"
    CUSTOM_MONTH = "no date proves it: month first, as goes with the units of the file"


@dataclass(frozen=True)
class DateOrder:
    """Whether numeric dates have the day first, and what shows it; ``question`` where nothing can say.

    Where no setting can answer the question, ``in_file`` says what to write into the file.
    """

    day_first: bool
    how: OrderEvidence
    by_day: bool = False
    question: str = ""
    in_file: str = ""
    year_first: bool = False

    @property
    def name(self) -> str:
        """What comes first."""
        return "year first" if self.year_first else "day first" if self.day_first else "month first"

    def read(self, text: str, year: int | None = None) -> SaleDate | None:
        """Return the date in a text; ``year`` stands in where it has none.

        >>> DateOrder(False, OrderEvidence.SAID, year_first=True).read("261008").day.isoformat()
        '2026-10-08'
        """
        parts = numeric_parts(text) if self.year_first else None
        if parts and all(len(part) == 2 for part in parts):
            text = "-".join([str(full_year(parts[0])), *parts[1:]])
        return parse_date(text, day_first=self.day_first, year=year, by_day=self.by_day)

    @property
    def by_custom(self) -> bool:
        """Whether no date proves the order."""
        return self.how in (OrderEvidence.CUSTOM_DAY, OrderEvidence.CUSTOM_MONTH)


def pattern_in(text: str) -> str:
    """Return the pattern of letters for year, month and day that a text holds, or blank.

    >>> pattern_in("Sale date (YYMMDD)"), pattern_in("dy, dd/mm/yy"), pattern_in("my dad")
    ('YYMMDD', 'dd/mm/yy', '')
    """
    found = _PATTERN.search(text)
    return found.group() if found and {*"ymd"} <= {*found.group().lower()} else ""


def said_order(order: str, how: OrderEvidence) -> DateOrder:
    """Return the order that letters tell: ``mdy``, ``dmy`` or ``ymd``, each once or more."""
    first = order.lower()[:1]
    return DateOrder(first == "d", how, by_day=True, year_first=first == "y")


def is_month_and_two(text: str) -> bool:
    """Tell whether a text is a month and two digits, of a day or of a year.

    >>> is_month_and_two("Oct 26"), is_month_and_two("Oct 26, 2026")
    (True, False)
    """
    return bool(MONTH_AND_TWO.match(text.strip()))


def decide_order(
    texts: Iterable[str],
    *,
    today: date,
    metric: bool = False,
    mixed: bool = False,
    year_known: bool = False,
    year: int = 0,
) -> DateOrder:
    """Decide for a whole column whether the day or the month comes first.

    A number over 12 settles it; then dates in the future; then the weekday (sales keep to one); then the
    custom that goes with the units of the file, which the note says. Where both orders are proven, or custom is
    ``mixed``, the order carries a question. A month's name and two digits are a day where the file tells the year
    elsewhere (``year_known``) and its sales lie a week apart, or that ``year`` is none of the two digits.

    Examples
    --------
    >>> decide_order(["05/03/2024", "26/03/2024"], today=date(2025, 1, 1)).day_first
    True
    """
    cells = [text for text in texts if any(map(str.isdecimal, text))]
    found_days = [parse_date(text) for text in cells]
    by_day = sum(found is not None and found.precision != "month" for found in found_days) > 0.5 * len(cells)
    by_day |= any(map(_LONE_DAY.match, map(str.strip, cells)))  # beside Oct 6, Oct 13 is a day
    short = [found for found in map(MONTH_AND_TWO.match, map(str.strip, cells)) if found]
    if not by_day and 2 * len(short) > len(cells):
        return _days_or_years(short, today, year_known, year)
    order = _year_first(cells, today) or _numeric_order(cells, today, metric, mixed)
    return replace(order, by_day=by_day)


def _days_or_years(cells: list[re.Match[str]], today: date, year_known: bool, year: int) -> DateOrder:
    """Decide whether Oct-12 is the twelfth of October or October 2012: by the future, a week between sales, a year
    told elsewhere."""
    of_month: dict[int, list[int]] = {}
    for number, two in sorted({((month_number(cell["month"]) or 0), int(cell["two"])) for cell in cells}):
        of_month.setdefault(number, []).append(two)
    every = {two for numbers in of_month.values() for two in numbers}
    if not all(1 <= two <= 31 for two in every):
        return DateOrder(False, OrderEvidence.YEARS)
    if year and year % 100 not in every:
        return DateOrder(False, OrderEvidence.YEAR_TOLD, by_day=True)
    shared = any(sum(two in numbers for numbers in of_month.values()) > 1 for two in every)
    steps = [b - a for numbers in of_month.values() for a, b in pairwise(numbers)]
    told = ((full_year(str(two)), number) for number, numbers in of_month.items() for two in numbers)
    ahead = max(told) > (today.year, today.month)
    weekly = ahead or (steps and min(steps) >= _WEEKLY_DAYS)
    if not weekly and (shared or steps):
        return DateOrder(False, OrderEvidence.MONTHS)
    if year_known:
        return DateOrder(False, OrderEvidence.WEEKS if weekly else OrderEvidence.YEAR_TOLD, by_day=True)
    cell = cells[0]
    day, year = f"{cell['month']} {int(cell['two'])}", full_year(cell["two"])
    return DateOrder(
        False,
        OrderEvidence.UNSAID,
        question=f"nothing says whether {cell.group()!r} is {day} of some year or {cell['month']} {year}",
        in_file=f"Write the year into the file in full, such as {day}, 2026, or {cell['month']} {year}.",
    )


def _year_first(texts: list[str], today: date) -> DateOrder | None:
    """Return the order of three numbers of two digits where the year may stand first; None where it does not.

    Days must be real and past; of several readings that holds by which they lie far nearer together, or a lone one
    far nearer to today. Between strokes the year does not stand first but where only that makes days.
    """
    parts = [found for found in map(numeric_parts, texts) if found]
    if not parts or any(len(part) != 2 for found in parts for part in found):
        return None
    early = [(str(full_year(year)), month, day) for year, month, day in parts]
    own = _spread([from_numbers(each, False) for each in early], today)
    others = (_spread([from_numbers(each, order) for each in parts], today) for order in (False, True))
    other = min(others)
    if own == math.inf or other * _CLOSER <= own:
        return None
    if own * _CLOSER <= other:
        return DateOrder(False, OrderEvidence.CLOSE, year_first=True)
    shown = next(filter(numeric_parts, texts))
    asked = f"nothing says which of the numbers of {shown} is the year, the month and the day"
    return None if "/" in shown else DateOrder(False, OrderEvidence.UNSAID, question=asked)


def _spread(days: list[date | None], today: date) -> float:
    """Return how many days lie from first to last, or from a lone one to today; infinity where many are none."""
    real = sorted(day for day in days if day and day <= today)
    if len(real) < (1.0 - SLIPS_SHARE) * len(days):
        return math.inf
    return max((real[-1] - real[0]).days or (today - real[0]).days, 1)


def _numeric_order(texts: list[str], today: date, metric: bool, mixed: bool) -> DateOrder:
    parts = [found for found in map(numeric_parts, texts) if found and len(found[0]) < 4]
    if not parts:
        return DateOrder(False, OrderEvidence.NONE)
    days = [["/".join(p) for p in parts if 12 < int(p[at]) <= 31] for at in (0, 1)]
    first, second = map(len, days)
    if min(first, second) > SLIPS_SHARE * (first + second):
        what = f"{days[0][0]} has the day first, but {days[1][0]} the month"
        return DateOrder(first > second, OrderEvidence.BOTH, question=what)
    if first != second:
        return DateOrder(first > second, OrderEvidence.OVER_12)
    readings = [[day for p in parts if (day := from_numbers(p, order))] for order in (False, True)]
    ahead = [sum(day > today for day in each) for each in readings]
    if ahead[False] != ahead[True]:
        return DateOrder(ahead[True] < ahead[False], OrderEvidence.FUTURE)
    regular = [*map(_weekday_share, readings)]
    best = regular[True] > regular[False]
    if regular[best] >= _SAME_WEEKDAY_SHARE > regular[not best]:
        return DateOrder(best, OrderEvidence.WEEKDAY)
    shown = next(("/".join(p) for p in parts if int(p[0]) != int(p[1])), "")
    if not shown:
        return DateOrder(metric, OrderEvidence.SAME_NUMBER)
    what = f"nothing says whether {shown} has the month or the day first" if mixed else ""
    return DateOrder(
        metric, OrderEvidence.CUSTOM_DAY if metric else OrderEvidence.CUSTOM_MONTH, question=what
    )


def _weekday_share(days: list[date]) -> float:
    distinct = set(days)
    return max(Counter(map(date.weekday, distinct)).values()) / len(distinct) if len(distinct) > 3 else 0.0
