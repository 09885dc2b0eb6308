"""Pictures and pages of regions: what they say, and that they stand alone."""

from __future__ import annotations

from datetime import date

from slidefit.regions.moved.change import changes
from slidefit.regions.pooling import PooledSlide
from slidefit.regions.region import Region
from slidefit.report.charts.market_charts import pooling_chart, region_change_chart
from slidefit.report.charts.style import rendered
from slidefit.report.regions.change_content import shown
from slidefit.report.regions.region_content import region_content
from slidefit.report.render.terminal import document_text
from tests.report.regions.conftest import shared

TODAY = date(2026, 10, 20)


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


def test_region_text_fits_a_narrow_terminal(shipped: Region) -> None:
    text = document_text(region_content(shipped, TODAY), width=72)
    assert "Kettle Fork country" in text and "commission 3.0%" in text
    assert max(map(len, text.splitlines())) <= 80
