"""The day of sale in prose: after the sale's own words, from a dateline, or a weekday before it."""

from __future__ import annotations

import pytest

from slidefit.records.words.dates import DAY_TEXT, parse_date
from slidefit.records.words.report_days import sale_day, sale_day_in


@pytest.mark.parametrize(
    ("line", "known", "written", "day"),
    [
        ("Oct 9, 2025 - Buyers were in the seats", "", "", "2025-10-09"),
        ("Sale of Oct 7, 2025 went well", "2025-10-09", "2025-10-09", "2025-10-07"),
        (
            "Sold on December 30, says the barn",
            "2026-01-02",
            "2026-01-02",
            "2025-12-30",
        ),  # the year nearest to the dateline
        ("** OX FORD **  Monday, Nov. 2   Receipts 1,105", "2026-11-06", "2026-11-06", "2026-11-02"),
        ("** OX FORD **  Tuesday, Nov. 2   Receipts 1,105", "2026-11-06", "2026-11-06", "2026-11-06"),
        ("Next sale Thursday, Nov. 12", "2026-11-06", "2026-11-06", "2026-11-06"),
        ("Oak Bend sold on October 20", "2026-10-01", "2026-10-01", "2026-10-20"),
        ("Sold on July 1", "2026-01-01", "2026-01-01", "2026-07-01"),
        ("Sold on July 4", "2026-01-01", "2026-01-01", "2025-07-04"),
        ("At Tuesday's sale steers were steady", "2025-10-09", "2025-10-09", "2025-10-07"),
        ("Compared to Sep 30, 2025", "2025-10-09", "2025-10-09", "2025-10-09"),
        ("Calves sold yesterday at Rook Hill", "2025-10-09", "2025-10-09", "2025-10-08"),
        ("Here is what sold Tuesday (Oct 7) at Rook Hill", "2025-10-09", "2025-10-09", "2025-10-07"),
        ("Held Monday the 6th of October, 2025", "", "", "2025-10-06"),
        ("Thu 9 Oct 25, 540 head", "", "", "2025-10-09"),
        ("OX FORD FRI 10OCT2025 STRS", "", "", "2025-10-10"),
        (
            "WREN (Friday, Oct 10, 2025) - Fen Creek sold 900 on Wednesday, October 8, 2025",
            "",
            "",
            "2025-10-08",
        ),
        ("Mar 1,250 lb and 3 Sep 10:30", "", "", ""),
    ],
)
def test_the_day_after_a_line(line: str, known: str, written: str, day: str) -> None:
    assert sale_day(line, known, written, "2025")[0] == day


@pytest.mark.parametrize(
    ("titles", "day"),
    [
        (["Week of Sept. 28, 2026. Sale day Wednesday, Sept. 30"], "sale of 2026-09-30"),
        (["Week of 9/28/2026 - Sale day 9/30/2026"], "sale of 2026-09-30"),
        (["Vol. 3 No. 9, September 2026", "Sale date Sept. 30"], "sale of 2026-09-30"),
        (
            ["Week ending October 10, 2026", "Sale of October 6", "Sale of October 8"],
            "Week ending October 10, 2026",
        ),
        (
            ["Week ending October 10, 2026", "Sale of October 2"],
            "Week ending October 10, 2026",
        ),  # 8 days away
        (["Week ending October 10, 2026", "Next sale on October 14"], "Week ending October 10, 2026"),
        (["Date: Fri, 06 Nov 2026 06:30:00 -0700", "yesterday's calves"], "2026-11-05"),
        (["Date: Fri, 06 Nov 2026 06:30:00 -0700", "it rained yesterday"], ""),
    ],
)
def test_a_day_of_sale_beats_that_of_its_week_or_issue(titles: list[str], day: str) -> None:
    assert sale_day_in(titles) == day


def test_the_number_of_an_issue_is_no_day() -> None:
    for text in ("Newsletter No. 4, October 2026", "#4 October 2026", "Vol. 12, Issue 4, October 2026"):
        found = parse_date(text)
        assert found is not None and found.precision == "month" and not DAY_TEXT.search(text)
    assert parse_date("4 October 2026") == parse_date("Tuesday 4, October 2026")
