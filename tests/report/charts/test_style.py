"""The one look of every picture: told apart without color, within its page, the same every time."""

import numpy as np
import pytest
from example_comparison import a_group
from example_flips import a_flip, a_grid
from example_market import a_season, an_outlook, some_records, some_slides
from matplotlib.colors import to_rgb

from slidefit.report.charts import style
from slidefit.report.charts.answer_charts import flip_grid_chart, gain_by_month, swings_chart
from slidefit.report.charts.market_charts import price_by_weight, season_chart, slide_by_weight


def axes_of(figure):
    (axes,) = figure.axes
    return axes


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


def test_series_can_be_told_apart_without_color_and_never_red_against_green():
    looks = list(style.LOOKS)
    assert len({(look.dash, look.marker) for look in looks}) == len(looks)
    grey = sorted(0.299 * r + 0.587 * g + 0.114 * b for r, g, b in (to_rgb(look.color) for look in looks[:3]))
    assert np.diff(grey).min() > 0.08
    for look in (*looks, *style.SEX_LOOKS.values()):
        red, green, blue = to_rgb(look.color)
        assert not (green > red + 0.1 and green > blue + 0.1)
        assert not (red > green + 0.45 and red > blue + 0.45)


@pytest.mark.parametrize("ink", [style.INK, style.FAINT])
def test_text_on_white_has_enough_contrast(ink):
    """WCAG 2.1, relative luminance and contrast ratio: at least 4.5 to 1 for text."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(ink)]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    assert 1.05 / (luminance + 0.05) >= 4.5


@pytest.mark.parametrize(("chars", "cut"), [(style.LABEL_CHARS, False), (style.LABEL_CHARS + 1, True)])
def test_a_name_too_long_for_a_legend_is_cut_with_a_mark(chars, cut):
    shown = style.short_label("x" * chars)
    assert len(shown) == style.LABEL_CHARS and shown.endswith("…") is cut


def test_a_phones_picture_is_narrow_and_its_words_are_all_there():
    figure = style.narrowed(gain_by_month(a_group("Heavy steers of the north pasture")))
    assert figure.get_size_inches()[0] == style.NARROW_WIDTH_IN
    lines = figure.get_suptitle().split("\n")
    assert max(map(len, lines)) <= style.NARROW_TITLE_CHARS and "north pasture" in " ".join(lines)
    figure.draw_without_rendering()
    assert figure._suptitle.get_window_extent().x1 <= figure.bbox.x1 + 1
