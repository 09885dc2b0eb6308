"""How numbers and dates are written, everywhere: rounded as far as they can be trusted and no further."""

from __future__ import annotations

import math
from datetime import date
from typing import Any, TypeGuard

UNKNOWN = "not known"
FORECAST_STEP_LB = 5.0
PRICE_STEP_CWT = 0.25
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def rows_of(table: Any) -> list[dict[str, Any]]:
    """Return the rows of a frame, a missing value as None; rows stay as they are."""
    if not hasattr(table, "notna"):
        return list(table)
    rows: list[dict[str, Any]] = table.astype(object).where(table.notna(), None).to_dict(orient="records")
    return rows


def _known(value: float | None) -> TypeGuard[float]:
    return value is not None and math.isfinite(value)


def _dollars(value: float, decimals: int, sign: bool) -> str:
    rounded = round(value, decimals)
    mark = "-" if rounded < 0 else "+" if sign and rounded > 0 else ""
    return f"{mark}${abs(rounded):,.{decimals}f}"


def count(value: float | None) -> str:
    """Return a whole number with thousands marked."""
    return f"{value:,.0f}" if _known(value) else UNKNOWN


def money(value: float | None, *, sign: bool = False) -> str:
    """Return dollars to the dollar, for a forecast per head, herd or acre.

    >>> money(-1234.4), money(87.5, sign=True), money(-0.3)
    ('-$1,234', '+$88', '$0')
    """
    return _dollars(value, 0, sign) if _known(value) else UNKNOWN


def money_cents(value: float | None, *, sign: bool = False) -> str:
    """Return dollars and cents: budget lines, which must be seen to add up, and prices per pound."""
    return _dollars(value, 2, sign) if _known(value) else UNKNOWN


def cents(value: float | None) -> str:
    """Return dollars and cents without the dollar sign, for a column that says dollars at its head.

    >>> cents(1832.377), cents(-0.001)
    ('1,832.38', '0.00')
    """
    return money_cents(value).replace("$", "") if _known(value) else UNKNOWN


def price_cwt(value: float | None, *, forecast: bool = False) -> str:
    """Return $/cwt: to the quarter when it was paid, to the dollar when it is expected.

    >>> price_cwt(371.13), price_cwt(371.13, forecast=True)
    ('$371.25', '$371')
    """
    if not _known(value):
        return UNKNOWN
    return (
        _dollars(value, 0, False)
        if forecast
        else _dollars(round(value / PRICE_STEP_CWT) * PRICE_STEP_CWT, 2, False)
    )


def weight_lb(value: float | None, *, forecast: bool = False) -> str:
    """Return pounds: to the pound when weighed, to the nearest five when expected.

    >>> weight_lb(1203.4), weight_lb(1203.4, forecast=True)
    ('1,203 lb', '1,205 lb')
    """
    if not _known(value):
        return UNKNOWN
    shown = round(value / FORECAST_STEP_LB) * FORECAST_STEP_LB if forecast else value
    return f"{shown:,.0f} lb"


def percent(value: float | None, *, decimals: int = 1) -> str:
    """Return a percentage that is already in percent.

    >>> percent(11.72), percent(-0.04)
    ('11.7%', '0.0%')
    """
    if not _known(value):
        return UNKNOWN
    rounded = round(value, decimals) + 0.0
    return f"{rounded:.{decimals}f}%"


def measure(value: float | None, unit: str) -> str:
    """Return a plan's or an outlook's input with its unit.

    >>> measure(351.2, "$/cwt"), measure(1.284, "$/head-day"), measure(9.87, "percent per cwt")
    ('$351/cwt', '$1.28/head-day', '9.9% per cwt')
    >>> measure(1.9, "lb/day"), measure(3400.0, "lb dry matter/acre")
    ('1.90 lb/day', '3,400 lb DM/acre')
    """
    if not _known(value):
        return UNKNOWN
    if unit == "$/cwt":
        return f"{price_cwt(value, forecast=True)}/cwt"
    if unit.startswith("$"):
        return f"{money_cents(value)}{unit[1:]}"
    if unit.startswith("percent"):
        return f"{percent(value)}{unit.removeprefix('percent')}"
    short = unit.replace("dry matter", "DM")
    return f"{value:,.2f} {short}" if unit == "lb/day" else f"{value:,.0f} {short}"


def odds_words(chance: float) -> str:
    """Return a chance as so many times in ten, never nearer to certainty than a forecast can be.

    >>> odds_words(0.68), odds_words(0.5), odds_words(0.999), odds_words(0.02)
    ('about 7 times in 10', 'about half the time', 'better than 19 times in 20', 'less than 1 time in 20')
    """
    if chance > 0.95:
        return "better than 19 times in 20"
    if chance < 0.05:
        return "less than 1 time in 20"
    tenths = min(max(round(chance * 10.0), 1), 9)
    return "about half the time" if tenths == 5 else f"about {tenths} time{'s' if tenths > 1 else ''} in 10"


def odds(chance: float | None) -> str:
    """Return a chance in words and in whole percent.

    >>> odds(0.684)
    'about 7 times in 10 (68%)'
    >>> odds(0.9996)
    'better than 19 times in 20 (over 99%)'
    """
    if not _known(chance):
        return UNKNOWN
    return f"{odds_words(chance)} ({odds_percent(chance)})"


def odds_percent(chance: float | None) -> str:
    """Return a chance in whole percent, never 0% or 100%."""
    if not _known(chance):
        return UNKNOWN
    return "over 99%" if chance > 0.99 else "under 1%" if chance < 0.01 else f"{100.0 * chance:.0f}%"


def day(value: date) -> str:
    """Return a day as ``Oct 12, 2026``."""
    return f"{MONTHS[value.month - 1][:3]} {value.day}, {value.year}"


def month_name(number: int, *, short: bool = False) -> str:
    """Return the name of a calendar month, 1 to 12."""
    name = MONTHS[number - 1]
    return name[:3] if short else name


def sale_month(value: str, *, short: bool = False) -> str:
    """Return ``2026-11`` as ``November 2026``.

    >>> sale_month("2026-11"), sale_month("2026-11", short=True)
    ('November 2026', 'Nov 2026')
    """
    year, number = value.split("-")[:2]
    return f"{month_name(int(number), short=short)} {year}"


def listed(words: list[str]) -> str:
    """Return ``a, b and c``."""
    return words[0] if len(words) == 1 else " and ".join([", ".join(words[:-1]), words[-1]]) if words else ""
