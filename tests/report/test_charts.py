"""Pictures: what they plot, how they are labelled, and that they can be told apart without colour."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from example_comparison import DRY_LOT, PASTURE, a_group
from example_flips import SWINGS, a_flip, a_grid
from example_market import an_outlook, some_records
from matplotlib.colors import to_rgb

from slidefit.market.to_outlook import comparable_prices
from slidefit.report.charts import style
from slidefit.report.charts.answer_charts import flip_grid_chart, gain_by_month, swings_chart
from slidefit.report.charts.market_charts import price_by_weight, season_chart, slide_by_weight


@pytest.fixture(scope="module")
def outlook():
    return an_outlook()


@pytest.fixture(scope="module")
def records(outlook):
    return some_records(outlook)


def axes_of(figure):
    (axes,) = figure.axes
    return axes


def by_gid(axes, gid):
    (found,) = [artist for artist in axes.get_children() if artist.get_gid() == gid]
    return found


def all_text(figure):
    figure.draw_without_rendering()
    return [text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text")) if text.get_text()]


def a_season():
    index = 100 + 5 * np.cos(2 * np.pi * (np.arange(12) - 3) / 12)
    return pd.DataFrame({"month": range(1, 13), "index": index, "low": index - 2, "high": index + 2})


def some_slides():
    rows = [
        (sex, middle - 50.0, middle + 50.0, month, 10.0, 8.0, 12.0)
        for sex in ("heifer", "steer")
        for middle in (650, 450, 550)
        for month in (None, 3)
    ]
    names = ["sex", "from_lb", "to_lb", "month", "percent_per_cwt", "percent_low", "percent_high"]
    return pd.DataFrame(rows, columns=names)


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


def test_gain_plots_budget_and_range():
    group = a_group()
    axes = axes_of(gain_by_month(group))
    options = [option for option in group.keep if option.program == PASTURE]
    days, gains = by_gid(axes, f"gain-{PASTURE}").get_data()
    assert list(gains) == [option.gain_per_head for option in options]
    for option, day in zip(options, days, strict=True):
        assert abs(day - option.sale_date.toordinal()) < 10
    segments = by_gid(axes, f"range-{PASTURE}").get_segments()
    np.testing.assert_allclose([s[:, 1] for s in segments], [(o.p10, o.p90) for o in options])


def test_gain_labels_the_zero_line_the_programs_and_the_best():
    figure = gain_by_month(a_group())
    axes = axes_of(figure)
    assert list(by_gid(axes, "selling-now").get_ydata()) == [0.0, 0.0]
    entries = [text.get_text() for text in axes.get_legend().get_texts()]
    assert entries == ["selling now", PASTURE, DRY_LOT]
    assert by_gid(axes, "best").get_text() == r"+\$130"
    assert axes.get_ylabel() == "Gain over selling now, dollars per head"
    ticks = [label.get_text() for label in axes.get_xticklabels()]
    assert ticks == ["Nov\n2026", "Dec", "Jan\n2027", "Feb", "Mar", "Apr"]


def test_gain_of_one_month_and_of_none_can_be_drawn():
    group = a_group()
    for keep in (group.keep[:1], ()):
        figure = gain_by_month(type(group)(**{**vars(group), "keep": keep}))
        assert len(style.rendered(figure, "png")) > 5000


@pytest.mark.parametrize("name", ["$5 or $6 <b>", "a_b^c", "Steers, " + "very " * 30 + "long"])
def test_a_users_name_is_drawn_as_it_stands(name):
    figure = gain_by_month(a_group(name))
    assert style.rendered(figure, "svg").startswith(b"<?xml")
    title = figure.get_suptitle()
    assert title.replace("\n", " ").replace(r"\$", "$").startswith(f"Gain from keeping {name}"[:40])


@pytest.mark.parametrize(
    "draw",
    [
        lambda: price_by_weight(an_outlook(), some_records(an_outlook(), sales=6)),
        lambda: season_chart(a_season(), an_outlook().basis),
        lambda: slide_by_weight(some_slides(), an_outlook().basis),
        lambda: gain_by_month(a_group("Heavy steers of the north pasture")),
        lambda: swings_chart(a_flip()),
        lambda: flip_grid_chart(a_grid(21, 21)),
    ],
)
def test_nothing_sticks_out_of_the_page_or_into_another_label(draw):
    figure = draw()
    figure.draw_without_rendering()
    page = figure.bbox
    axes = axes_of(figure)
    texts = [figure._suptitle, figure._supxlabel, axes.xaxis.label, axes.yaxis.label]
    for axis in (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        texts += [tick.label1 for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
    boxes = [text.get_window_extent() for text in texts if text is not None and text.get_text()]
    for box in boxes:
        assert page.x0 - 1 <= box.x0 and box.x1 <= page.x1 + 1
        assert page.y0 - 1 <= box.y0 and box.y1 <= page.y1 + 1
    named = [figure._suptitle, figure._supxlabel, axes.xaxis.label, axes.yaxis.label]
    apart = [text.get_window_extent() for text in named if text is not None and text.get_text()]
    for i, box in enumerate(apart):
        assert not any(box.overlaps(other) for other in apart[i + 1 :])


def test_the_same_picture_gives_the_same_bytes():
    for kind in ("svg", "png"):
        one, two = (style.rendered(gain_by_month(a_group()), kind) for _ in range(2))
        assert one == two


def test_series_can_be_told_apart_without_colour_and_never_red_against_green():
    looks = list(style.LOOKS)
    assert len({(look.dash, look.marker) for look in looks}) == len(looks)
    grey = sorted(
        0.299 * r + 0.587 * g + 0.114 * b for r, g, b in (to_rgb(look.colour) for look in looks[:3])
    )
    assert np.diff(grey).min() > 0.08
    for look in (*looks, *style.SEX_LOOKS.values()):
        red, green, blue = to_rgb(look.colour)
        assert not (green > red + 0.1 and green > blue + 0.1)
        assert not (red > green + 0.45 and red > blue + 0.45)


@pytest.mark.parametrize("ink", [style.INK, style.FAINT])
def test_text_on_white_has_enough_contrast(ink):
    """WCAG 2.1, relative luminance and contrast ratio: at least 4.5 to 1 for text."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(ink)]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    assert 1.05 / (luminance + 0.05) >= 4.5


def test_swings_are_widest_on_top_and_meet_at_the_planned_gain():
    figure = swings_chart(a_flip())
    axes = axes_of(figure)
    names = [tick.get_text() for tick in axes.get_yticklabels()]
    assert names == ["Days kept", "Death loss", "Price at sale *"]
    for swing in SWINGS:
        for end, gain in (("low", swing.gain_low), ("high", swing.gain_high)):
            patch = by_gid(axes, f"swing-{swing.name}-{end}")
            ends = sorted((patch.get_x(), patch.get_x() + patch.get_width()))
            assert ends == pytest.approx(sorted((35.0, gain)))
    assert by_gid(axes, "planned").get_xdata() == [35.0, 35.0]
    assert {"\\$295/cwt", "\\$350/cwt", "4.0%", "138 days"} <= set(all_text(figure))


def test_the_flip_line_runs_where_the_gain_is_zero():
    axes = axes_of(flip_grid_chart(a_grid(6, 5)))
    for path in by_gid(axes, "flip-line").get_paths():
        on_line = path.vertices
        np.testing.assert_allclose(on_line[:, 0], 1.5 + 0.5 * on_line[:, 1], atol=1e-9)
    assert by_gid(axes, "planned").get_xydata().tolist() == [[2.0, 1.0]]
    assert len(axes.texts) == 30
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("Daily gain, lb/day", "Feed and pasture, $/head-day")


def test_a_grid_of_one_sign_has_no_flip_line_and_a_fine_one_few_numbers():
    axes = axes_of(flip_grid_chart(a_grid(21, 21, level=-9.0)))
    assert not [child for child in axes.get_children() if child.get_gid() == "flip-line"]
    assert len(axes.texts) == 36


def test_a_flat_season_names_no_highest_month():
    flat = pd.DataFrame({"month": range(1, 13), "index": 100.0, "low": 91.0, "high": 110.0})
    told = all_text(season_chart(flat, an_outlook().basis))
    assert "mean of the year" in told
    assert not [text for text in told if text.endswith(" 100.0")]


def test_many_programs_make_the_picture_taller_not_the_axes_flatter():
    def height(programs):
        keep = tuple(
            replace(option, program=f"a program with the long name {n}")
            for n in range(programs)
            for option in a_group().keep[:6]
        )
        figure = gain_by_month(replace(a_group(), keep=keep))
        figure.draw_without_rendering()
        return axes_of(figure).get_window_extent().height

    assert height(8) > 0.85 * height(2)
