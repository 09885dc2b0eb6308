"""The page about reading results names only what exists, and says what the code says."""

import re
from importlib import import_module
from pathlib import Path

from slidefit.report.charts import answer_charts, market_charts

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "results.md").read_text()


def test_imports_on_the_page_work():
    found = re.findall(r"from (slidefit[\w.]*) import (\w+)", PAGE)
    assert len(found) == 4
    for module, name in found:
        assert callable(getattr(import_module(module), name))
    for dotted in re.findall(r"`(slidefit(?:\.\w+)+)`", PAGE):
        parent, name = dotted.rsplit(".", 1)
        assert hasattr(import_module(parent), name) or import_module(dotted)


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


def test_every_sample_of_the_page_runs(monkeypatch, tmp_path, capsys):
    """One after the other, as a reader would run them from the top folder."""
    top = Path(__file__).resolve().parents[2]
    (tmp_path / "data_demo").symlink_to(top / "data_demo")
    monkeypatch.chdir(tmp_path)
    samples = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    assert len(samples) >= 8
    names: dict[str, object] = {}
    for place, sample in enumerate(samples):
        exec(compile(sample, f"docs/results.md, sample {place + 1}", "exec"), names)
    said = capsys.readouterr().out
    assert "clustered by" in said and "percent_per_cwt" in said and "mean_ci_lower" in said
    assert (tmp_path / "slide.png").stat().st_size > 5_000 and "<html" in str(names["page"])
