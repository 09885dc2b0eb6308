import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.decision.quick import grid_of, question_of, quick_answer
from slidefit.errors import SlidefitError
from slidefit.plan.quick_fields import QUICK_FIELDS

PLAIN = {
    "weight_lb": 520.0,
    "price_cwt": 312.0,
    "to_weight_lb": 700.0,
    "later_price_cwt": 262.0,
    "days": 90.0,
}


@pytest.mark.parametrize(
    ("start", "price", "end", "later", "gain"),
    [
        # Noble Foundation, 1 May 2005; Rasby, University of Nebraska, Nov 2015; Peel, Oklahoma State University,
        # 1 Sept 2025 (two pairs) and 13 Oct 2014: value added, exact from their prices.
        (500, 140.00, 600, 126.00, 56.00),
        (550, 230.00, 750, 190.00, 160.00),
        (475, 204.98, 775, 176.77, 396.3125),
        (475, 481.50, 775, 372.12, 596.805),
        (450, 301.73, 700, 253.24, 414.895),
    ],
)
def test_two_typed_prices_reproduce_published_values_of_gain(start, price, end, later, gain):
    asked = {
        "weight_lb": start,
        "price_cwt": price,
        "to_weight_lb": end,
        "later_price_cwt": later,
        "days": 120,
    }
    answer = quick_answer(asked)
    assert answer.gain_per_head == pytest.approx(gain, abs=1e-9)
    assert answer.value_of_gain_per_lb == pytest.approx(gain / (end - start))


def test_a_published_stocker_budget():
    # Bevers, Texas A&M AgriLife Extension, 2016: 4.75 cwt at $225, 0.970 x 7.95 cwt at $160, total cost $1,419.05.
    asked = {"weight_lb": 475, "price_cwt": 225, "to_weight_lb": 795, "later_price_cwt": 160, "days": 150}
    asked |= {"death_loss_pct": 3, "other_head": 1419.05 - 1068.75}
    answer = quick_answer(asked)
    assert answer.gain_per_head == pytest.approx(-185.21, abs=0.01)
    assert answer.breakeven["price_cwt"] == pytest.approx(186.01, abs=0.01)
    assert answer.breakeven["later_price_cwt"] == pytest.approx(184.02, abs=0.01)
    lighter = quick_answer({**asked, "to_weight_lb": 731})
    assert lighter.breakeven["price_cwt"] == pytest.approx(165.10, abs=0.01)
    assert lighter.breakeven["later_price_cwt"] == pytest.approx(200.13, abs=0.01)


def test_a_published_pasture_and_a_budget_by_hand_per_acre():
    # 3,400 lb x 52% / 15 lb = 117.87 head-days an acre; 90 days: 1.3096 head an acre; $154 x 90 / 117.87 a head.
    acre = {"acre_cost": 154, "forage_lb_acre": 3400, "eaten_pct": 52, "intake_lb_day": 15}
    answer = quick_answer({**PLAIN, **acre})
    carries = 3400 * 0.52 / 15
    gain = 7.00 * 262 - 5.20 * 312 - 154 * 90 / carries
    assert answer.gain_per_head == pytest.approx(gain)
    assert answer.head_per_acre == pytest.approx(carries / 90)
    assert answer.gain_per_acre == pytest.approx(gain * carries / 90)


def test_a_slide_stands_in_for_a_later_price():
    # Burdine, University of Kentucky, 2024, in percent: 500 lb at $140, 10% a cwt, 600 lb -> $126.
    asked = {"weight_lb": 500, "price_cwt": 140, "gain_lb_day": 2, "days": 50, "slide_pct": 10}
    assert quick_answer(asked).sale_price_cwt == pytest.approx(126)
    assert quick_answer(PLAIN).slide_pct == pytest.approx(100 * (1 - (262 / 312) ** (1 / 1.8)))


amounts = st.floats(0, 1).map(lambda share: round(share, 4))


@settings(max_examples=40, deadline=None)
@given(
    weight=st.integers(350, 700),
    price=st.integers(120, 480),
    gain=st.floats(0.5, 3.0),
    days=st.integers(20, 250),
    slide=st.floats(0.0, 15.0),
    later=st.one_of(st.none(), st.floats(0.6, 1.2)),
    shares=st.lists(amounts, min_size=7, max_size=7),
    pasture=st.booleans(),
)
def test_every_breakeven_holds_when_it_is_typed(weight, price, gain, days, slide, later, shares, pasture):
    asked = {"weight_lb": weight, "price_cwt": price, "gain_lb_day": gain, "days": days}
    asked |= {"slide_pct": slide} if later is None else {"later_price_cwt": max(40.0, price * later)}
    cost, health, death, shrink, commission, sold, interest = shares
    asked |= {"cost_head_day": 2 * cost, "health_head": 60 * health, "death_loss_pct": 8 * death}
    asked |= {"shrink_pct": 6 * shrink, "commission_pct": 5 * commission, "selling_head": 20 * sold}
    asked |= {"interest_pct": 12 * interest}
    if pasture:
        asked |= {"acre_cost": 154, "forage_lb_acre": 3400, "eaten_pct": 52, "intake_pct": 2.6}
    for name, value in quick_answer(asked).breakeven.items():
        if value is not None:
            field = {each.name: each for each in QUICK_FIELDS}[name]
            if field.low <= value <= field.high:
                assert (
                    abs(quick_answer(question_of(asked).with_values({name: value})).gain_per_head) < 0.05
                ), name


def test_the_grid_is_the_answer_at_each_cell():
    grid = grid_of(PLAIN, "later_price_cwt", (250.0, 262.0), "days", (60.0, 90.0, 120.0))
    assert len(grid.gains) == 3
    assert grid.gains[1][1] == pytest.approx(quick_answer(PLAIN).gain_per_head)
    longer = quick_answer(question_of(PLAIN).with_values({"days": 120.0, "later_price_cwt": 250.0}))
    assert grid.gains[2][0] == pytest.approx(longer.gain_per_head)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"price_cwt": 3.12}, "price_cwt"),
        ({"gain_lb_day": 2.0}, "gain_lb_day"),
        ({"forage_lb_acre": 3000.0}, "eaten_pct"),
        ({"hat": 1.0}, ""),
    ],
)
def test_what_can_not_be_is_refused_by_its_field(change, where):
    with pytest.raises(SlidefitError) as refused:
        quick_answer({**PLAIN, **change})
    assert (refused.value.where or "") == where


def test_what_is_missing_is_named():
    with pytest.raises(SlidefitError, match="days kept"):
        quick_answer({k: v for k, v in PLAIN.items() if k != "days"})
    assert "feed and every other cost a day" in quick_answer(PLAIN).left_out
    full = quick_answer({**PLAIN, "cost_head_day": 1.55, "interest_pct": 8})
    assert "interest" not in full.left_out
    assert "death loss" in full.left_out
