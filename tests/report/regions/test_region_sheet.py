"""The sheet of a region: it stands alone, ages and escapes names."""

from __future__ import annotations

from datetime import date, timedelta
from html.parser import HTMLParser

import pytest

from slidefit.errors import SlidefitError
from slidefit.regions.region import Pool, Region
from slidefit.report.regions.region_sheet import region_sheet_html

TODAY = date(2026, 10, 20)


class Tables(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.images: list[dict[str, str | None]] = []
        self.cell = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        self.cell = tag in ("td", "th")
        if tag == "img":
            self.images.append(dict(attrs))

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.cell = False

    def handle_data(self, data: str) -> None:
        if self.cell:
            self.rows[-1].append(data)


def test_sheet_stands_alone_with_todays_level_only(shipped: Region) -> None:
    page = region_sheet_html(shipped, TODAY, office="River <County> office")
    assert "http" not in page.replace("http-equiv", "") and "River &lt;County&gt; office" in page
    read = Tables()
    read.feed(page)
    prices = [row for row in read.rows if len(row) >= 13]
    assert [row[0] for row in prices].count("lb") == 2 and [row[0] for row in prices].count("\u00b1 %") == 2
    standard = next(row for row in prices if row[0] == "550")
    low, high = (float(side) for side in standard[13].split("-"))
    here = shipped.price.as_of.month
    assert low < float(standard[here]) < high
    assert float(standard[here]) == pytest.approx(shipped.price.standard_cwt, abs=1.5)
    assert "Kettle Fork country: calf prices of Oct 12, 2026 (8 days old)" in page
    assert any(row[0].startswith("grade ") for row in read.rows) and "500-600" in page
    assert len(read.images) == 1 and (read.images[0]["alt"] or "").startswith("Chart of the season")
    assert (
        page.count("<li>") == 3 and "Caution" in page and "not a promise" in page and "Oct 20, 2026" in page
    )


def test_old_prices_make_no_sheet_unless_asked_for_and_are_stamped(shipped: Region) -> None:
    """60 days are fine, 61 are not."""
    last = shipped.source.last_sale
    assert "OLD PRICES" not in region_sheet_html(shipped, last + timedelta(days=60))
    with pytest.raises(SlidefitError, match="61 days old"):
        region_sheet_html(shipped, last + timedelta(days=61))
    assert "OLD PRICES: 61 days" in region_sheet_html(shipped, last + timedelta(days=61), old=True)


def test_sheet_escapes_names_and_says_what_was_borrowed(shipped: Region) -> None:
    pool = Pool(name="All <barns>", markets=3, between_pct={"steer": 1.0})
    named = shipped.model_copy(
        update={"name": "<script>alert(1)</script>", "remarks": ("A & B <b>",), "pool": pool}
    )
    page = region_sheet_html(named, TODAY)
    assert "<script>" not in page and "&lt;script&gt;" in page and "A &amp; B &lt;b&gt;" in page
    assert "draw on All &lt;barns&gt;" in page
