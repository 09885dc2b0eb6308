"""Which number of a column of dates is the day."""

from __future__ import annotations

from datetime import date

import pytest

from slidefit.records.words.date_order import DateOrder, decide_order


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


@pytest.mark.parametrize(
    ("texts", "first"),
    [
        (["191003", "191107"], "year"),  # by the day first, four years lie between
        (["100826", "101526"], "month"),  # there is no month 15
        (["260903", "260910", "261001"], "year"),  # 1 March and 3 March of 2026 and 2010
        (["261001"], "year"),  # a lone day: eight weeks ago, not in 2001
        (["100126"], "month"),
        (["101112"], ""),  # 2010, 2011 or 2012: asked
        (["24-10-11", "24-10-18"], "year"),
        (["10/11/12"], "month"),  # strokes stand in US dates, as before
        (["26/09/03", "26/09/10"], "year"),
        (["9302026", "10072026"], "month"),
        (["22102026", "19112025"], "day"),
    ],
)
def test_the_year_stands_first_where_only_that_keeps_the_days_together(texts: list[str], first: str) -> None:
    order = decide_order(texts, today=date(2026, 11, 26))
    assert (order.name.split()[0] if not order.question else "") == first
    assert first == "" or all(order.read(text) for text in texts)
