import numpy as np
import pytest

from slidefit.decision.budget.expressions import Key, price_at
from slidefit.decision.budget.table import Budget, Entry

DAYS = Entry("days", "days", "days", "calves", "input", default=100.0)
COST = Entry("cost_day", "cost", "$/head-day", "feed", "input")
FEED = Entry("feed", "feed", "$/head", "feed", "cost", Key("days") * Key("cost_day"))


def test_a_line_rests_on_keys_above_it_and_stands_once():
    for entries in ((FEED, DAYS, COST), (DAYS, DAYS, COST), (DAYS, Entry("ab12", "", "", "", "input"))):
        with pytest.raises(ValueError, match=r"rests on|twice"):
            Budget(entries)


def test_only_the_lines_asked_for_are_run():
    priced = Entry("price", "price", "$/cwt", "price", "line", price_at(Key("days"), 0))
    budget = Budget((DAYS, COST, priced, FEED))
    run = budget.function(("feed",))
    assert run({"days": 2.0, "cost_day": np.array([1.0, 2.0])}, None)[0].tolist() == [2.0, 4.0]
    assert budget.needed(["feed"]) == {"feed", "days", "cost_day"}
    assert budget.values({}, lambda weight, day: 3.0 * weight)["price"] == 300.0


def test_single_precision_stays_single():
    (feed,) = Budget((DAYS, COST, FEED)).function(("feed",))(
        {"days": 2.0, "cost_day": np.ones(2, np.float32)}, None
    )
    assert feed.dtype == np.float32
