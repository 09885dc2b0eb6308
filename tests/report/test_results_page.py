"""The page about reading results names only what exists, and says what the code says."""

from pathlib import Path

from slidefit.report.charts import answer_charts, market_charts

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "results.md").read_text()


def test_every_picture_has_a_row():
    pictures = {
        name
        for module in (answer_charts, market_charts)
        for name, made in vars(module).items()
        if getattr(made, "__module__", "") == module.__name__
        and getattr(made, "__annotations__", {}).get("return") == "Figure"
    }
    assert pictures == {
        "price_by_weight", "season_chart", "slide_by_weight", "gain_by_month", "gains_side_by_side", "swings_chart",
        "flip_grid_chart", "replay_chart", "region_change_chart", "pooling_chart", "regions_chart",
    }  # fmt: skip
    for row in (
        "price by weight",
        "season",
        "slide by weight",
        "gain by month of sale",
        "swings",
        "grid",
        "money by year",
        "region change",
        "regions",
        "pooling",
        "regions side by side",
    ):
        assert f"| {row} |" in PAGE
