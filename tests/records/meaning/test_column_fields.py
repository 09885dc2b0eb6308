"""A sale day in the title against a column of later days: decided once, told, and changed by a word."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.records.read import read

VIDEO = """Video auction results; sale day August 3 2023
Date,Head,Class,Weight,Price
{first},80,Steers,575,249.00
10/15/2023,120,Heifers,545,227.00
"""


def days(path: Path, first: str, sale_day: str | None = None) -> tuple[set[str], str]:
    path.write_text(VIDEO.format(first=first))
    result = read(path, sale_day=sale_day)
    return set(result.records["sale_date"].dt.strftime("%Y-%m-%d")), " ".join(result.notes)


@pytest.mark.parametrize(
    ("first", "sale_day", "wanted"),
    [
        ("10/01/2023", None, {"2023-08-03"}),
        ("8/7/2023", None, {"2023-08-03"}),  # four days later: a delivery
        ("8/6/2023", None, {"2023-08-06", "2023-10-15"}),  # three days: the same sale may last as long
        ("10/01/2023", "column", {"2023-10-01", "2023-10-15"}),
        ("8/6/2023", "title", {"2023-08-03"}),
    ],
)
def test_later_days_are_deliveries(
    tmp_path: Path, first: str, sale_day: str | None, wanted: set[str]
) -> None:
    found, notes = days(tmp_path / "video.csv", first, sale_day)
    assert found == wanted
    assert ("taken as deliveries" in notes) == (wanted == {"2023-08-03"})
