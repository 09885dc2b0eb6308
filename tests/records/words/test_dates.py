"""Dates as people write them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.records.words.dates import full_year, parse_date, week_date

DATES = ["%m/%d/%Y", "%Y-%m-%d", "%d-%b-%Y", "%B %d, %Y", "%a %b %d, %Y"]


@settings(max_examples=50, deadline=None)
@given(st.dates(date(1990, 1, 1), date(2035, 12, 31)))
def test_dates_come_back(day: date) -> None:
    for form in (
        *DATES,
        "%Y%m%d",
        "%A, %b. %d, %Y",
        "%d %B %Y",
        "%m/%d/%Y 0:00",
        "%Y-%b-%d",
        "%Y %b %d",
        "%b-%d-%Y",
        "%m%d%y",
        "Report for %m/%d/%Y - Final",
    ):
        found = parse_date(day.strftime(form))
        assert found is not None and (found.day, found.precision) == (day, "day"), form
    assert parse_date(day.strftime("%d/%m/%Y"), day_first=True) is not None
    month = parse_date(day.strftime("%b %Y"))
    assert month is not None and (month.day, month.precision) == (day.replace(day=1), "month")


@pytest.mark.parametrize(
    ("text", "day", "precision"),
    [
        ("10/05/2018 - 10/08/2018", "2018-10-05", "day"),  # a sale of several days
        ("10/05/2018 - 10/09/2018", "2018-10-09", "week"),
        ("10/05/2018 - 10/15/2018", "2018-10-15", "week"),
        ("10/05/2018 - 10/16/2018", None, None),  # no week
        ("10/08/2018 - 10/05/2018", None, None),  # backward
        ("45000", "2023-03-15", "day"),  # day count of spreadsheets (ECMA-376 part 1, 18.17.4.1)
        ("18263", None, None),  # before 1950: no date of a sale
        ("18264", "1950-01-01", "day"),
        ("1700000000", "2023-11-14", "day"),  # seconds since 1970, universal time (POSIX)
        ("02/30/2024", None, None),
        ("2020-W53", "2020-12-28", "week"),  # ISO 8601: a year of 53 weeks
        ("2021-W53", None, None),
    ],
)
def test_spans_counts_and_weeks(text: str, day: str | None, precision: str | None) -> None:
    found = parse_date(text)
    assert (found and found.day.isoformat(), found and found.precision) == (day, precision)


def test_years_of_two_digits_turn_at_seventy() -> None:
    assert (full_year("69"), full_year("70")) == (2069, 1970)
    assert week_date(2024, 54) is None


def test_a_weekday_makes_a_day_of_it() -> None:
    assert parse_date("Monday Oct 12") is None
    assert parse_date("Monday Oct 12", year=2026) == parse_date("2026-10-12")
    assert parse_date("Oct-12", year=2026, by_day=True) == parse_date("2026-10-12")
    assert parse_date("Oct 12") == parse_date("Oct 2012")
