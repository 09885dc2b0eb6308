"""Pictures of an answer: what they plot, and how they are labeled."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_figure import all_text, axes_of, by_gid
from example_comparison import DRY_LOT, PASTURE, a_group
from example_flips import SWINGS, a_flip, a_grid

from slidefit.report.charts import style
from slidefit.report.charts.answer_charts import flip_grid_chart, gain_by_month, swings_chart


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
