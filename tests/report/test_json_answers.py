"""The market's results as JSON."""

import json

import pytest
from outlooks import make_outlook
from plans import PASTURE, changed_program, small_plan

from slidefit.decision.choices import find_option
from slidefit.decision.comparison import compare
from slidefit.decision.risk.answer_changes import flip, flip_grid
from slidefit.decision.risk.sorting import sort_by_weight
from slidefit.report.json_answers import json_of, months_answer, season_answer


def test_every_document_is_json_with_dates_as_text():
    outlook, plan = make_outlook(), small_plan(programs=changed_program(pasture=PASTURE))
    comparison = compare(outlook, plan)
    documents = [
        json_of(months_answer(comparison)),
        json_of(find_option(comparison, "steers")),
        json_of({"flips": flip(outlook, plan)}),
        json_of(flip_grid(outlook, plan, "gain", "feed_cost")),
        json_of(sort_by_weight(outlook, plan, "steers")),
    ]
    for document in documents:
        assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert documents[0]["months"][0]["sale_month"] == "2026-11"
    assert documents[1]["lines"][0]["arithmetic"]
    assert documents[2]["flips"][0]["swings"][0]["name"]
    assert len(documents[3]["gains"]) == len(documents[3]["y_values"])
    assert documents[4]["rows"][0]["sale_date"].startswith("202")


def test_numbers_that_are_not_finite_become_null():
    assert json_of({"a": (float("nan"), float("inf"), 1.5)}) == {"a": [None, None, 1.5]}


def test_the_best_names_its_program_and_month():
    outlook = make_outlook()
    cheap = compare(outlook, small_plan(programs=changed_program(cost_head_day=0.2)))
    group = json_of(cheap)["groups"][0]
    best = next(each for each in group["keep"] if each["sale_month"] == group["best"]["sale_month"])
    assert group["best"]["program"] == "yard"
    assert best["gain_herd"] == max(each["gain_herd"] for each in group["keep"])
    assert best["net_herd"] == pytest.approx(50 * best["net_per_head"], rel=1e-8)
    dear = json_of(compare(outlook, small_plan(programs=changed_program(cost_head_day=9.0))))
    assert dear["groups"][0]["best"]["program"] is None
    assert dear["groups"][0]["best"]["sale_month"] == "2026-10"


def test_slides_have_the_promised_keys_and_null_for_the_year(fitted):
    document = json.loads(
        json.dumps(json_of({"slides": fitted.slide(weight_lb=550, month=[None, 3])}), allow_nan=False)
    )
    rows = document["slides"]
    assert [row["month"] for row in rows] == [None, 3, None, 3]
    promised = {
        "sex",
        "from_lb",
        "to_lb",
        "month",
        "percent_per_cwt",
        "percent_low",
        "percent_high",
        "dollars_per_cwt_per_cwt",
    }
    assert promised <= set(rows[0])
    assert (rows[0]["from_lb"], rows[0]["to_lb"]) == (500.0, 600.0)
    assert isinstance(rows[1]["month"], int)


def test_the_season_has_twelve_months_around_100(fitted):
    document = json.loads(json.dumps(json_of(season_answer(fitted)), allow_nan=False))
    assert [m["month"] for m in document["months"]] == list(range(1, 13))
    assert sum(m["index"] for m in document["months"]) / 12 == pytest.approx(100.0, abs=1e-3)
    assert all(set(m) == {"month", "index", "low", "high"} for m in document["months"])


def test_what_was_fitted_is_told(fitted):
    document = json.loads(json.dumps(json_of(fitted), allow_nan=False))
    assert document["lots"] == 225 * 14 and document["sales"] == 225
    assert document["clustered_by"] == "crop year" and document["clusters"] == 9
    assert document["first_sale"] == "2017-10-04"
    assert document["slides"] and isinstance(document["notes"], list)
    assert document["model"] in {c.label for c in fitted.slide_fit.candidates}
