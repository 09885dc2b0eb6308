"""Pictures of prices, the season and the slide: what they plot, and how they are labeled."""

import numpy as np
import pandas as pd
import pytest
from drawn_figure import all_text, axes_of, by_gid
from example_market import a_season, an_outlook, some_records, some_slides

from slidefit.market.to_outlook import comparable_prices
from slidefit.report.charts.market_charts import price_by_weight, season_chart, slide_by_weight


@pytest.fixture(scope="module")
def outlook():
    return an_outlook()


@pytest.fixture(scope="module")
def records(outlook):
    return some_records(outlook)


def test_price_curve_is_the_outlooks_price(outlook):
    axes = axes_of(price_by_weight(outlook))
    weights, price = by_gid(axes, "curve-heifer").get_data()
    assert (weights.min(), weights.max()) == (320.0, 880.0)
    np.testing.assert_allclose(price, outlook.price_cwt("heifer", weights, outlook.as_of))


def test_price_band_is_the_95_percent_interval_of_level_and_slide(outlook):
    axes = axes_of(price_by_weight(outlook))
    outline = by_gid(axes, "band-steer").get_paths()[0].vertices
    weights, price = by_gid(axes, "curve-steer").get_data()
    for at in (0, 40, 119):
        ends = np.log(outline[np.isclose(outline[:, 0], weights[at])][:, 1] / price[at])
        sd = np.hypot(outlook.level_sd, outlook.slide_sd("steer", 550.0, weights[at]))
        assert (ends.min(), ends.max()) == pytest.approx((-1.96 * sd, 1.96 * sd), rel=1e-3)


def test_price_dots_are_the_comparable_lots(outlook, records):
    axes = axes_of(price_by_weight(outlook, records))
    points = comparable_prices(outlook, records).lots
    steers = points[points["sex"] == "steer"]
    drawn = by_gid(axes, "lots-steer").get_offsets()
    np.testing.assert_allclose(drawn, steers[["weight_lb", "price_cwt"]].to_numpy())


def test_price_labels_carry_units_counts_and_source(outlook, records):
    figure = price_by_weight(outlook, records)
    axes = axes_of(figure)
    assert axes.get_xlabel().endswith("lb")
    assert axes.get_ylabel() == "Price, dollars per hundredweight"
    told = " ".join(all_text(figure))
    count = len(comparable_prices(outlook, records).lots)
    for part in ("Oct 12, 2026", f"{count:,} lots", "95% interval", "4,812 lots in 412 sales", "$400"):
        assert part in told, part


def test_price_view_holds_the_curves_and_says_what_it_hides(outlook, records):
    wild = records.assign(price_cwt=records["price_cwt"].where(records.index != 3, 5000.0))
    figure = price_by_weight(outlook, wild)
    low, high = axes_of(figure).get_ylim()
    for sex in ("steer", "heifer"):
        ends = outlook.price_cwt(sex, [320.0, 880.0], outlook.as_of)
        assert low < ends.min() and ends.max() < high
    assert high < 1000.0
    assert any("outside the picture" in text for text in all_text(figure))


def test_season_plots_index_and_interval():
    axes = axes_of(season_chart(a_season(), an_outlook().basis))
    np.testing.assert_allclose(by_gid(axes, "index").get_ydata(), a_season()["index"])
    segments = by_gid(axes, "intervals").get_segments()
    np.testing.assert_allclose([s[:, 1] for s in segments], a_season()[["low", "high"]].to_numpy())
    assert [label.get_text() for label in axes.get_xticklabels()][:2] == ["Jan", "Feb"]


def test_season_names_the_highest_and_lowest_month():
    told = all_text(season_chart(a_season(), an_outlook().basis))
    assert "Apr 105.0" in told and "Oct 95.0" in told and "mean of the year" in told


def test_slide_plots_the_years_mean_in_order_of_weight():
    axes = axes_of(slide_by_weight(some_slides(), an_outlook().basis))
    weights, percent = by_gid(axes, "slide-steer").get_data()
    assert list(weights) == [450.0, 550.0, 650.0]
    assert list(percent) == [10.0, 10.0, 10.0]
    assert axes.get_ylim()[0] <= 0.0


def test_a_flat_season_names_no_highest_month():
    flat = pd.DataFrame({"month": range(1, 13), "index": 100.0, "low": 91.0, "high": 110.0})
    told = all_text(season_chart(flat, an_outlook().basis))
    assert "mean of the year" in told
    assert not [text for text in told if text.endswith(" 100.0")]
