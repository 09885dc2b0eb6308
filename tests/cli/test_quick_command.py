import json

import pytest

QUESTION = "quick --weight 520 --price $312 --to-weight 700 --later 262 --days 90 --cost-day 1.55"
ASKED = QUESTION.split()


def test_the_answer_as_json(run):
    done = json.loads(run(*ASKED, "--json").out)
    hand = 7.00 * 262 - 90 * 1.55 - 5.20 * 312
    assert done["gain_per_head"] == pytest.approx(hand)
    assert done["net_later"] - done["net_now"] == pytest.approx(hand)
    assert done["gain_per_acre"] is None
    assert done["grid"] is None
    # the price that covers what the calf is worth today and the cost, over seven hundredweight
    assert done["breakeven"]["later_price_cwt"] == pytest.approx((5.20 * 312 + 139.50) / 7.00)


def test_per_acre_and_a_slide_in_place_of_a_later_price(run):
    asked = "quick --weight 500 --price 140 --gain 2 --slide 10% --days 50 --acre-cost 100 --forage 3000 --eaten 50%"
    pounds = json.loads(run(*asked.split(), "--intake", "15", "--json").out)
    assert pounds["head_per_acre"] == pytest.approx(3000 * 0.5 / 15 / 50)
    assert pounds["gain_per_acre"] == pytest.approx((56.0 - 100 / 2) * 2)
    share = json.loads(run(*asked.split(), "--intake", "2.5%", "--json").out)
    assert share["head_per_acre"] == pytest.approx(3000 * 0.5 / (0.025 * 550) / 50)


def test_the_table_has_the_steps_asked_for(run):
    grid = json.loads(run(*ASKED, "--grid", "later=250:275:5", "--grid", "days=60:120:30", "--json").out)[
        "grid"
    ]
    assert grid["x_values"] == [250, 255, 260, 265, 270, 275]
    assert grid["y_values"] == [60, 90, 120]
    assert len(grid["gains"]) == 3
    text = run(*ASKED, "--grid", "later=250:275:5", "--grid", "days=60:120:30").out
    assert "Across: price later, $/cwt" in text and "days kept" in text


def test_words_say_where_the_prices_come_from_and_what_is_left_out(run):
    text = run(*ASKED).out
    assert text.startswith("Typed prices; not from your records. On these numbers keeping gains $72 a head")
    assert "90 days x $1.55" in text
    assert "Left blank, counted as zero: " in text
    assert "not a promise" in text


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("--days", "0"), "--days"),
        (("--price", "3.12"), "--price"),
        (("--gain", "2"), "--gain"),
        (("--grid", "later=250:275:5"), "Give --grid twice"),
        (("--grid", "hat=1:2:1", "--grid", "days=1:2:1"), "later=250:275:5"),
        (("--forage", "3000"), "--eaten"),
        (("--weight", "heavy"), "not a number"),
    ],
)
def test_what_is_wrong_is_told_by_its_option(run, change, told):
    refused = run(*ASKED, *change)
    assert refused.code == 2
    assert told in refused.err


def test_numbers_are_taken_as_people_type_them(run):
    plain = run(*ASKED, "--json").json
    units = ["--weight", "520 lb", "--to-weight", "700lbs", "--days", "90 days", "--cost-day", "$1.55 a day"]
    assert run(*ASKED, *units, "--json").json == plain
    refused = run(*ASKED, "--days", "about 90")
    assert refused.code == 2 and "'about 90' is not a number" in refused.err


def test_what_is_missing_is_named_with_its_options(run):
    told = run("quick", "--weight", "520").err
    assert "missing: price today, days kept, weight at sale or daily gain, price later or slide." in told
    assert "--to-weight or --gain, --later or --slide" in told
