"""Pictures and pages of regions: what they say, and that they stand alone."""

from __future__ import annotations

from datetime import date, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from slidefit.errors import SlidefitError
from slidefit.regions.moved.change import changes
from slidefit.regions.moved.renewal import Renewal
from slidefit.regions.pooling import PooledSlide
from slidefit.regions.region import Pool, Region
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import shifted
from slidefit.report.charts.market_charts import pooling_chart, region_change_chart
from slidefit.report.charts.style import rendered
from slidefit.report.regions.change_content import changes_content, shown
from slidefit.report.regions.region_content import region_content
from slidefit.report.regions.region_sheet import region_sheet_html
from slidefit.report.render.terminal import document_text

TODAY = date(2026, 10, 20)


@pytest.fixture(scope="module")
def shipped() -> Region:
    return read_region(Path(__file__).parents[3] / "data_demo" / "kettle_fork.toml")


@pytest.fixture(scope="module")
def steeper(shipped: Region) -> Region:
    table = shipped.sexes()["steer"]
    return shipped.model_copy(update={"steer": shifted(table, [2.5] * len(table.slide))})


def shared(region: Region, part: float) -> tuple[float, float]:
    """Lots that both files used, and those of the new one."""
    return part * region.source.lots, region.source.lots


def test_change_chart_marks_what_moved(shipped: Region, steeper: Region) -> None:
    found = changes(shipped, steeper, shared(shipped, 0.98)).rows
    figure = region_change_chart(shipped, steeper, found)
    (axes,) = figure.axes
    marks = [line.get_gid() for line in axes.lines if str(line.get_gid()).startswith(("moved", "same"))]
    moved = sum(str(gid).startswith("moved") for gid in marks)
    assert moved == sum(bool(change.moved) for change in found) > 0
    assert len(marks) == len(shown(found)) - 1 == len(axes.get_yticklabels())
    assert "dollars per head" in axes.get_xlabel()
    assert rendered(figure, "png").startswith(b"\x89PNG")


def test_change_text_has_every_verdict_and_why(shipped: Region, steeper: Region) -> None:
    found = Renewal(shipped, steeper, changes(shipped, steeper, shared(shipped, 0.98)))
    unsure = Renewal(shipped, steeper, changes(shipped, steeper, shared(shipped, 0.1)))
    text = document_text(changes_content(found)) + document_text(changes_content(unsure))
    for word in ("moved by about -$", "steady", "can't tell", "the market", "Steady (within $20 a head)"):
        assert word in text, word
    same = Renewal(shipped, shipped, changes(shipped, shipped, shared(shipped, 1.0)))
    assert "none moved" in document_text(changes_content(same))
    assert max(map(len, document_text(changes_content(found), width=80).splitlines()[2:])) <= 80


def test_pooling_chart_shows_own_and_pooled() -> None:
    slides = [
        PooledSlide("Birch <Landing> & $5", "steer", 12.0, 0.4, 11.9, 0.4, 0.9, 4000),
        PooledSlide("Stone Gap", "steer", 7.0, 3.0, 11.0, 1.0, 0.2, 60),
    ]
    figure = pooling_chart(slides, {"steer": 11.8})
    (axes,) = figure.axes
    where = {str(line.get_gid()): float(line.get_xdata()[0]) for line in axes.lines if line.get_gid()}
    assert where["own-0"] == 7.0 and where["pooled-0"] == 11.0 and where["own-1"] == 12.0
    assert rendered(figure, "svg")


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
    assert page.count("<li>") == 3 and "Caution" in page and "no promise" in page and "Oct 20, 2026" in page


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
    assert "lean on All &lt;barns&gt;" in page


def test_region_text_fits_a_narrow_terminal(shipped: Region) -> None:
    text = document_text(region_content(shipped, TODAY), width=72)
    assert "Kettle Fork country" in text and "commission 3.0%" in text
    assert max(map(len, text.splitlines())) <= 80
