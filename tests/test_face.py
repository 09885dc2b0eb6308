"""slidefit's one face: every call with explicit parameters, plans in three shapes, errors in Python's words."""

import ast
import inspect
import json
from pathlib import Path

import pytest

import slidefit
from slidefit.errors import FitError, PlanError
from slidefit.market.market_fit import fit_market
from slidefit.plan.plan_file import read_plan
from tests.market.simulate import simulate

TOP = Path(__file__).parents[1]
PLAN = {
    "title": "Two groups",
    "dates": {"weaning": "2026-06-10", "first_sale": "2026-07", "last_sale": "2026-08"},
    "groups": [{"name": "Steers", "sex": "steer", "head": 20, "weight_lb": 560}],
    "programs": [{"name": "Hay", "gain_lb_day": 1.5, "cost_head_day": 1.6}],
}


@pytest.fixture(scope="module")
def records():
    return simulate(41, sales=90, lots=10, days_between=35).records


@pytest.fixture(scope="module")
def fitted(records):
    return fit_market(records)


def test_every_name_is_there_with_explicit_parameters_and_a_docstring():
    for name in slidefit.__all__:
        thing = getattr(slidefit, name)
        if not inspect.isfunction(thing):
            continue
        kinds = {parameter.kind for parameter in inspect.signature(thing).parameters.values()}
        assert inspect.Parameter.VAR_KEYWORD not in kinds, name
        assert "Raises" in (thing.__doc__ or "") or name == "book", name


def test_nothing_heavy_is_loaded_with_the_face():
    trees = [ast.parse((TOP / "slidefit" / name).read_text()) for name in ("__init__.py", "storage.py")]
    loaded = {node.module for tree in trees for node in tree.body if isinstance(node, ast.ImportFrom)}
    assert loaded == {"__future__", "os", "typing", "slidefit.errors", "slidefit.storage"}


def test_a_fit_is_made_of_a_frame_a_reading_and_a_book(records, tmp_path):
    records.to_csv(tmp_path / "sales.csv", index=False)
    read = slidefit.read(tmp_path / "sales.csv")
    book = slidefit.book(tmp_path / "sales.duckdb")
    book.add(read)
    assert len(read.records) + len(read.set_aside) == len(records)
    of_frame = slidefit.fit(read.records)
    for source in (read, book):
        again = slidefit.fit(source)
        assert again.basis.lots == len(read.records)
        assert again.params.to_numpy() == pytest.approx(of_frame.params.to_numpy(), rel=1e-9)
    assert list(slidefit.sources(tmp_path / "sales.duckdb")) == ["birch-landing"]


def test_a_fit_and_a_plan_come_back_from_their_files(fitted, tmp_path):
    slidefit.save(fitted, tmp_path / "slide.json")
    assert slidefit.load(tmp_path / "slide.json").params.equals(fitted.params)
    plan = read_plan(TOP / "data_demo" / "plan.toml")
    slidefit.save(plan, tmp_path / "plan.toml")
    assert slidefit.load(tmp_path / "plan.toml") == plan
    with pytest.raises(TypeError, match="a dict is not saved to a file"):
        slidefit.save({}, tmp_path / "x")


def test_regions_are_read_by_name_and_serve_as_outlooks(tmp_path):
    text = (TOP / "data_demo" / "kettle_fork.toml").read_text()
    (tmp_path / "kettle_fork.toml").write_text(text)
    ((name, region),) = slidefit.regions_in(tmp_path).items()
    assert region.name == name == slidefit.load(tmp_path / "kettle_fork.toml").name
    by_file, by_region = slidefit.outlook(tmp_path / "kettle_fork.toml"), slidefit.outlook(region)
    assert by_file.log_level == by_region.log_level


def test_a_plan_is_a_dictionary_an_object_or_a_file(fitted, tmp_path):
    from slidefit.plan.plan_file import build_plan

    plan = build_plan(PLAN)
    slidefit.save(plan, tmp_path / "plan.toml")
    answers = [slidefit.compare(fitted, shape) for shape in (PLAN, plan, tmp_path / "plan.toml")]
    gains = [answer.groups[0].best.gain_per_head for answer in answers]
    assert gains[0] == gains[1] == gains[2]


def test_faults_of_a_plan_are_told_in_pythons_words(fitted):
    with pytest.raises(PlanError) as refused:
        slidefit.compare(fitted, PLAN | {"groups": [{"name": "Steers", "sex": "steer", "head": -3}]})
    assert "groups[1]" in str(refused.value) and "--" not in str(refused.value)
    with pytest.raises(FitError) as refused:
        slidefit.load("no_such.json")
    assert "fit()" in refused.value.remedy


def test_dictionaries_are_what_the_terminal_prints(fitted):
    from slidefit.report.json_answers import json_of

    assert fitted.to_dict() == json_of(fitted)
    assert json.loads(fitted.to_json())["lots"] == fitted.basis.lots


def test_a_region_has_a_dictionary_too():
    region = slidefit.load(TOP / "data_demo" / "kettle_fork.toml")
    assert region.to_dict()["name"] == region.name
