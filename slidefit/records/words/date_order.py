"""Whether the day or the month comes first in a column of dates, and whether Oct-12 is a day or a month of a year."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise

from slidefit.records.words.dates import (
    MONTH_AND_TWO,
    from_numbers,
    full_year,
    month_number,
    numeric_parts,
    parse_date,
)

_LONE_DAY = re.compile(r"^[A-Za-z]{3,9}\.?[\s-]+\d$")
_SAME_WEEKDAY_SHARE = 0.9
SLIPS_SHARE = 0.05  # dates of the other order up to this share are slips of the pen
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

    @property
    def by_custom(self) -> bool:
        """Whether no date proves the order."""
        return self.how in (OrderEvidence.CUSTOM_DAY, OrderEvidence.CUSTOM_MONTH)


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
    order = _numeric_order(cells, today, metric, mixed)
    return DateOrder(order.day_first, order.how, by_day, order.question)


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
