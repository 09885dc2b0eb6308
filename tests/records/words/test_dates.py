"""Dates as people write them, and which number of a column is the day."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.records.words.dates import DateOrder, decide_order, full_year, parse_date, week_date

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
        "Report for %m/%d/%Y - Final",
    ):
        found = parse_date(day.strftime(form))
        assert found is not None and (found.day, found.precision) == (day, "day"), form
    assert parse_date(day.strftime("%d/%m/%Y"), day_first=True) is not None
    month = parse_date(day.strftime("%b %Y"))
    assert month is not None and (month.day, month.precision) == (day.replace(day=1), "month")


@pytest.mark.parametrize(
    ("texts", "day_first", "why"),
    [
        (["05/03/2024", "26/03/2024"], True, "over 12"),
        (["03/05/2024", "03/26/2024"], False, "over 12"),
        (["01/04/2024", "08/04/2024", "03/06/2024", "10/06/2024"], True, "weekday"),
        (["01/12/2024"], False, "no date proves it"),
        (["11/12/2024", "01/02/2024"], False, "no date proves it"),
        (["05/11/2024"], False, "no date proves it"),
        (["02/12/2024", "03/11/2024"], False, "future"),
        (["2024-05-06"], False, ""),
    ],
)
def test_the_order_of_dates_is_decided_by_evidence(texts: list[str], day_first: bool, why: str) -> None:
    today = date(2024, 6, 30) if why == "future" else date(2026, 1, 1)
    order = decide_order(texts, today=today)
    assert isinstance(order, DateOrder)
    assert (order.day_first, why in order.how) == (day_first, True)


@pytest.mark.parametrize(("right", "asked"), [(19, False), (18, True)])
def test_one_date_of_the_other_order_in_twenty_is_a_slip(right: int, asked: bool) -> None:
    order = decide_order(["03/25/2024"] * right + ["25/03/2024"], today=date(2026, 1, 1))
    assert (order.day_first, bool(order.question)) == (False, asked)


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


@pytest.mark.parametrize(
    ("texts", "year_known", "by_day", "asks"),
    [
        (["Oct-12", "Oct-19", "Oct-26", "Nov-02"], True, True, False),  # a week from sale to sale
        (["Oct-12", "Oct-18"], True, True, False),  # six days: before a holiday
        (["Oct-12", "Oct-17"], True, False, False),  # five are no week: October 2012 and 2017
        (["Oct-12", "Oct-19"], False, False, True),  # days, but of which year
        (["Oct-12"], True, True, False),
        (["Oct-12"], False, False, True),
        (["Jan-24", "Feb-24", "Mar-24"], True, False, False),  # three months share their number: a year
        (["Oct-98", "Oct-05"], True, False, False),  # no day 98
        (["Oct-27"], True, True, False),  # October 2027 has not come
    ],
)
def test_a_month_and_two_digits_are_a_day_or_a_year(
    texts: list[str], year_known: bool, by_day: bool, asks: bool
) -> None:
    order = decide_order(texts, today=date(2026, 11, 26), year_known=year_known)
    assert (order.by_day, bool(order.question)) == (by_day, asks)
    assert bool(order.in_file) == asks


def test_a_weekday_makes_a_day_of_it() -> None:
    assert parse_date("Monday Oct 12") is None
    assert parse_date("Monday Oct 12", year=2026) == parse_date("2026-10-12")
    assert parse_date("Oct-12", year=2026, by_day=True) == parse_date("2026-10-12")
    assert parse_date("Oct 12") == parse_date("Oct 2012")
