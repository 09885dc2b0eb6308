import json

from outlooks import make_outlook
from plans import PASTURE, changed_program, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.documents import (
    comparison_document,
    flip_document,
    grid_document,
    months_document,
    option_document,
    plain,
    sorting_document,
)
from slidefit.decision.flips import flip, flip_grid
from slidefit.decision.lookup import find_option
from slidefit.decision.sorting import sort_by_weight


def test_every_document_is_json_with_dates_as_text():
    outlook, plan = make_outlook(), small_plan(programs=changed_program(pasture=PASTURE))
    comparison = compare(outlook, plan)
    documents = [
        months_document(comparison),
        option_document(find_option(comparison, "steers")),
        flip_document(flip(outlook, plan)),
        grid_document(flip_grid(outlook, plan, "gain", "feed_cost")),
        sorting_document(sort_by_weight(outlook, plan, "steers")),
    ]
    for document in documents:
        assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert documents[0]["months"][0]["sale_month"] == "2026-11"
    assert documents[1]["lines"][0]["arithmetic"]
    assert documents[2]["flips"][0]["swings"][0]["name"]
    assert len(documents[3]["gains"]) == len(documents[3]["y_values"])
    assert documents[4]["rows"][0]["sale_date"].startswith("202")


def test_numbers_that_are_not_finite_become_null():
    assert plain({"a": (float("nan"), float("inf"), 1.5)}) == {"a": [None, None, 1.5]}


def test_the_best_names_its_program_and_month():
    outlook = make_outlook()
    cheap = compare(outlook, small_plan(programs=changed_program(cost_head_day=0.2)))
    group = comparison_document(cheap)["groups"][0]
    best = next(each for each in group["keep"] if each["sale_month"] == group["best"]["sale_month"])
    assert group["best"]["program"] == "yard"
    assert best["gain_herd"] == max(each["gain_herd"] for each in group["keep"])
    assert best["net_herd"] == 50 * best["net_per_head"]
    dear = comparison_document(compare(outlook, small_plan(programs=changed_program(cost_head_day=9.0))))
    assert dear["groups"][0]["best"]["program"] is None
    assert dear["groups"][0]["best"]["sale_month"] == "2026-10"
