"""The day of sale in prose: after the sale's own words, from a dateline, or a weekday before it."""

from __future__ import annotations

import pytest

from slidefit.records.words.report_days import sale_day


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
