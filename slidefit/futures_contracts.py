"""Futures quotes: the month of a contract in any usual spelling, and its last day."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from slidefit.errors import RecordsError

MONTH_CODES = "FGHJKMNQUVXZ"
"""The letters of contract months from January to December: the standard of every futures exchange."""
LISTED_MONTHS = (1, 3, 4, 5, 8, 9, 10, 11)
"""Months that feeder cattle contracts are listed for: seen in the stored settlements of 2016 to 2022."""
MONTH_NAMES = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
MONTHS_A_YEAR = 12
THIS_CENTURY = 70
"""Two digits below 70 are of this century."""
_CODE = re.compile(r"(?:GF)?\s?([FGHJKMNQUVXZ])\s?'?(\d{4}|\d{1,2})")
_NAMED = re.compile(
    r"([A-Za-z]{3,9})\.?[\s\-/']{0,3}(\d{4}|\d{2})?(?:\s{0,2}(?:contract|futures?|settle(?:ment)?))?"
)
_YEAR_NAMED = re.compile(r"(\d{4}|\d{2})[\s\-/]{0,2}([A-Za-z]{3,9})\.?")
_YEAR_FIRST = re.compile(r"(\d{4})[\-/.]?(\d{1,2})(?:[\-/.]\d{1,2})?(?:[T ][\d:.]{1,15})?")
_MONTH_FIRST = re.compile(r"(\d{1,2})[\-/.](?:\d{1,2}[\-/.])?(\d{4}|\d{2})")


@dataclass(frozen=True)
class FuturesQuote:
    """A settlement of one contract on one day.

    Attributes
    ----------
    contract : str
        The contract's month, ``YYYY-MM``.
    settlement_cwt : float [$/cwt]
    as_of : date
    """

    contract: str
    settlement_cwt: float
    as_of: date


def contract_month(text: str, *, as_of: date | None = None) -> str:
    """Return the month of a contract in any usual spelling, as ``YYYY-MM``.

    A spelling without a year, or with its last digit alone, means the first such month from ``as_of`` on.

    Raises
    ------
    RecordsError
        The text is not a contract month.

    Examples
    --------
    >>> [contract_month(text) for text in ("2027-01", "Jan 2027", "JAN27", "F27", "GFF27", "1/2027")]
    ['2027-01', '2027-01', '2027-01', '2027-01', '2027-01', '2027-01']
    >>> contract_month("F7", as_of=date(2026, 11, 4)), contract_month("March", as_of=date(2026, 11, 4))
    ('2027-01', '2027-03')
    """
    found = _month_of(" ".join(text.split()), as_of)
    if found is None:
        raise RecordsError(
            f"{text.strip()!r} is not a contract month", remedy="Write it as 2027-01, Jan 2027 or F27."
        )
    return found


def _month_of(text: str, as_of: date | None) -> str | None:
    code = _CODE.fullmatch(text.upper())
    if code and not text.islower():
        return _month_in(MONTH_CODES.index(code[1]) + 1, code[2], as_of)
    for pattern, month_group, year_group in (
        (_NAMED, 1, 2),
        (_YEAR_NAMED, 2, 1),
        (_YEAR_FIRST, 2, 1),
        (_MONTH_FIRST, 1, 2),
    ):
        found = pattern.fullmatch(text)
        month = _month_number(found[month_group]) if found else None
        if found and month:
            return _month_in(month, found[year_group], as_of)
    return None


def _month_number(text: str) -> int | None:
    """Return 1 to 12 for a month's name, its first letters or its number.

    >>> _month_number("Sept"), _month_number("may"), _month_number("12"), _month_number("ma"), _month_number("13")
    (9, 5, 12, None, None)
    """
    if text.isdecimal():
        return int(text) if 1 <= int(text) <= MONTHS_A_YEAR else None
    named = [k for k, name in enumerate(MONTH_NAMES, 1) if len(text) >= 3 and name.startswith(text.lower())]
    return named[0] if len(named) == 1 else None


def _month_in(month: int, year: str | None, as_of: date | None) -> str | None:
    """Return the month in the year that was written, or in the first year from ``as_of`` that fits it."""
    if year is not None and len(year) > 1:
        return f"{int(year) + 100 * (20 - (int(year) >= THIS_CENTURY)) * (len(year) == 2):04d}-{month:02d}"
    if as_of is None:
        return None
    first = as_of.year + (month < as_of.month)
    while year is not None and first % 10 != int(year):
        first += 1
    return f"{first:04d}-{month:02d}"


def expiry(contract: str) -> date:
    """Return about the last day of a contract: the last Thursday of its month, in November the third.

    Source: the last days quoted in the stored settlements of 2016 to 2020 (such as 2016-04-28 and 2019-11-21).

    >>> expiry("2016-04"), expiry("2019-11")
    (datetime.date(2016, 4, 28), datetime.date(2019, 11, 21))
    """
    year, month = int(contract[:4]), int(contract[5:])
    if month == 11:
        first = date(year, 11, 1)
        return first + timedelta((3 - first.weekday()) % 7 + 14)
    last = date(year + month // 12, month % 12 + 1, 1) - timedelta(1)
    return last - timedelta((last.weekday() - 3) % 7)


def nearest_expiry(day: date) -> date:
    """Return the expiry of the contract that is the nearest one on a day.

    >>> nearest_expiry(date(2016, 2, 10))
    datetime.date(2016, 3, 31)
    """
    for ahead in range(MONTHS_A_YEAR):
        year, month = divmod(day.year * MONTHS_A_YEAR + day.month - 1 + ahead, MONTHS_A_YEAR)
        if month + 1 in LISTED_MONTHS:
            last = expiry(f"{year:04d}-{month + 1:02d}")
            if last >= day:
                return last
    raise AssertionError("a contract is listed for eight months of every year")
