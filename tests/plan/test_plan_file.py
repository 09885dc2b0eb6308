import re
import runpy
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import PASTURE, raw_plan

from slidefit.errors import PlanError
from slidefit.plan.plan_file import build_plan, parse_plan, read_plan, write_plan
from slidefit.toml_tables import TomlTable, cards

DEMO = Path(__file__).parents[2] / "data_demo" / "plan.toml"


def told(text):
    with pytest.raises(PlanError) as caught:
        parse_plan(text, "plan.toml")
    return [problem.text() for problem in caught.value.problems]


def changed(old, new):
    text = DEMO.read_text()
    assert text.count(old) == 1, old
    return text.replace(old, new)


def test_the_demo_plan_reads_and_writes_back():
    plan = read_plan(DEMO)
    assert parse_plan(write_plan(plan)) == plan
    assert len(plan.groups) >= 3


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("weight_lb = 585", "weight_lb = 5.85", ["weight_lb", "is 5.85", "hundredweight", "585 lb"]),
        ("weight_lb = 585", "weight_lb = -585", ["is -585", "can't be negative"]),
        ("weight_lb = 585", "weigth_lb = 585", ["weigth_lb", "Did you mean weight_lb?"]),
        ("weight_lb = 585", "weight = 585", ["Did you mean weight_lb?"]),
        ("weight_lb = 585", 'weight_lb = "585 lb"', ["valid number", "Unit: lb"]),
        ("weight_lb = 585", "weight_lb = nan", ["finite"]),
        ("weight_lb = 585", "weight_lb = 585\nbid_cwt = 3.85", ["bid_cwt", "385", "per hundredweight"]),
        ("weight_lb = 585", "weight_lb = 585\nbid_cwt = 2100", ["not dollars per head"]),
        ("commission_pct = 3.0", "commission_pct = 0.03", ["commission_pct", "3 percent is 3"]),
        ("commission_pct = 3.0", "commission_pct = 3.0\ncommission_head = 20", ["Keep one of the two"]),
        ('sex = "heifer"', 'sex = "cow"', ["'cow'", "'heifer'"]),
        ('name = "Heifers"', 'name = "Light steers"', ["used twice"]),
        ('last_sale = "2027-04"', 'last_sale = "2026-04"', ["before first_sale", "order"]),
        ('last_sale = "2027-04"', "last_sale = 2027-04", ["Put months in quotes"]),
        ('last_sale = "2027-04"', 'last_sale = "April"', ["year and month in quotes"]),
        ('first_sale = "2026-11"', 'first_sale = "2026-08"', ["before weaning"]),
        ("wait_cost_head_day = 1.35", "", ["earliest_on", "wait_cost_head_day"]),
        ("intake_pct = 2.6", "", ["no intake is given"]),
        ("grow_acre = 46 ", "grow_acre = 46\ncost_acre = 160 ", ["Keep the total or the items"]),
        ("grow_acre = 46 ", 'grow_acre = 46\ngrow_items = [["lime", 9.0]] ', ["Keep the sum or its items"]),
        ("sale_day = 15", "sale_day = 31", ["is 31", "1 to 28"]),
        ("weaning = 2026-10-14", "", ["dates.weaning", "is missing", "Add weaning"]),
        ("[money]", "[mony]", ["mony", "Did you mean money?"]),
        ("miles = 45", "", ["freight_loaded_mile and miles"]),
        ("weaning = 2026-10-14", 'weaning = "soon"', ["must be a date", "such as 2026-10-14"]),
        ("weaning = 2026-10-14", "weaning = 2026-10-14T08:00:00", ["2026-10-14T08:00:00; it must be a date"]),
        ("[selling]", "[[selling]]", ["is a list; it must be a table", "Write [selling]"]),
        ("[programs.pasture]", "[[programs.pasture]]", ["must be a table"]),
        ('name = "Heifers"', "name = 3", ["is 3; it must be text"]),
    ],
)
def test_a_fault_is_named_with_its_line_value_and_remedy(old, new, said):
    problems = told(changed(old, new))
    line = DEMO.read_text()[: DEMO.read_text().index(old)].count("\n") + 1
    assert any(all(word in problem for word in said) for problem in problems), problems
    if new:
        assert any("line " in problem for problem in problems)
        numbers = {int(found) for each in problems for found in re.findall(r"line (\d+)", each)}
        assert any(abs(number - line) <= 25 for number in numbers)


def test_the_line_is_exact_where_the_key_stands_in_the_file():
    problems = told(changed("weight_lb = 585", "weight_lb = 5.85"))
    line = DEMO.read_text()[: DEMO.read_text().index("weight_lb = 585")].count("\n") + 1
    assert len(problems) == 1
    assert problems[0].startswith(f"plan.toml, line {line}, groups[1].weight_lb:")


def test_all_problems_are_told_at_once_in_the_order_of_the_file():
    text = changed("weight_lb = 585", "weight = 5.85").replace("gain_lb_day = 2.1", "gain_lb_day = 21")
    text = text.replace("death_loss_pct = 2.5", "death_loss_pct = 0.025").replace("head = 61", "head = 0")
    problems = told(text)
    assert len(problems) == 4
    numbers = [int(problem.split("line ")[1].split(",")[0]) for problem in problems]
    assert numbers == sorted(numbers)


def test_files_that_are_not_plans(tmp_path):
    with pytest.raises(PlanError, match="no such file"):
        read_plan(tmp_path / "none.toml")
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PlanError, match="can't be read as text"):
        read_plan(tmp_path / "b.toml")
    (tmp_path / "e.toml").write_text("")
    with pytest.raises(PlanError, match="dates: is missing"):
        read_plan(tmp_path / "e.toml")
    with pytest.raises(PlanError, match="can't be read"):
        parse_plan("[[groups]\nname = 3")


def test_unknown_names_are_told():
    plan = raw_plan()
    plan["groups"][0]["programs"] = ["yrd"]
    plan["selling"]["contract"] = {
        "price_cwt": 300,
        "base_weight_lb": 600,
        "slide_cwt": 8,
        "groups": ["cows"],
    }
    with pytest.raises(PlanError) as caught:
        build_plan(plan)
    assert "Did you mean 'yard'?" in str(caught.value)
    assert "'cows'" in str(caught.value)


def test_phases_and_weights_have_their_own_checks():
    plan = raw_plan()
    phases = [{"gain_lb_day": 1.0}, {"gain_lb_day": 2.0, "pasture": {**PASTURE, "intake_lb_day": 15.0}}]
    plan["programs"][0]["phases"] = phases
    plan["groups"][0].update(weights_lb=[500.0, 5.0], head=3)
    with pytest.raises(PlanError) as caught:
        build_plan(plan)
    text = str(caught.value)
    for word in (
        "beside phases",
        "Only the last phase",
        "both given",
        "beside weight_lb",
        "is 5;",
        "2 weights for 3",
    ):
        assert word in text


@given(
    title=st.text(max_size=20).filter(lambda text: "\x00" not in text),
    weight=st.floats(150, 1400),
    head=st.integers(1, 999),
    spread=st.floats(0, 200),
)
@settings(max_examples=30, deadline=None)
def test_any_plan_comes_back_from_its_own_text(title, weight, head, spread):
    raw = raw_plan(title=title)
    raw["groups"][0].update(weight_lb=weight, head=head, weight_sd_lb=spread, name=title or "x")
    raw["programs"][0]["pasture"] = PASTURE
    plan = build_plan(raw)
    assert parse_plan(write_plan(plan)) == plan


PAGE = Path(__file__).parents[2] / "docs" / "plan.md"
MADE = runpy.run_path(str(PAGE.with_name("plan_page.py")))
TABLES, plan_document = MADE["TABLES"], MADE["plan_document"]


def test_the_page_is_what_the_declarations_say():
    assert PAGE.read_text(encoding="utf-8") == plan_document()


def test_every_table_and_field_is_on_the_page_with_a_meaning():
    page = plan_document()
    shown = {table for _, table, _ in TABLES}
    made = {t for each in TomlTable.__subclasses__() for t in (each, *each.__subclasses__())}
    assert shown == {
        t for t in made if t.__module__ in {f"slidefit.plan.{m}" for m in ("plan", "feeding", "selling")}
    }
    for table in shown:
        for card in cards(table):
            assert f"| `{card.name}` |" in page
            assert card.meaning.endswith("."), card


def test_pasture_costs_of_earlier_versions_are_read_as_items_and_told():
    raw = raw_plan()
    former = {
        "seed_acre": 27.0,
        "establishment_acre": 31.0,
        "fence_acre": 6.0,
        "rent_acre": 40.0,
        "water_acre": 0.0,
    }
    raw["programs"][0]["pasture"] = {
        "forage_lb_acre": 3000.0,
        "utilization_pct": 50.0,
        "intake_pct": 2.5,
        **former,
    }
    pasture = build_plan(raw).programs[0].pasture
    assert pasture.establish_items == (("seed", 27.0), ("tillage and planting", 31.0))
    assert pasture.total_cost_acre == 104.0
    assert set(pasture.former) == set(former)
    assert "seed_acre" not in write_plan(build_plan(raw))


def test_a_program_without_any_feed_is_refused_and_free_feed_is_typed_on_purpose():
    raw = raw_plan()
    del raw["programs"][0]["cost_head_day"]
    with pytest.raises(PlanError, match=r"no cost of feed is given.*cost_head_day = 0"):
        build_plan(raw)
    raw["programs"][0]["cost_head_day"] = 0.0
    assert build_plan(raw).programs[0].model_fields_set >= {"cost_head_day"}


def test_typed_prices_need_a_slide_or_a_later_price():
    prices = {"weight_lb": 520.0, "price_cwt": 312.0}
    later = {"later_month": "2027-01", "later_weight_lb": 700.0, "later_price_cwt": 262.0}
    assert build_plan(raw_plan(prices={**prices, **later})).prices.later_price_cwt == 262.0
    for wrong, told in (
        ({}, "neither a slide nor a later price"),
        ({"later_month": "2027-01"}, "needs its month and its weight"),
        ({"slide_pct": 9.0, "slide_cwt": 20.0}, "beside slide_pct"),
        ({"slide_pct": 9.0, **later}, "beside a later price"),
        ({**later, "later_weight_lb": 530.0}, "within 20 lb"),
        ({"slide_pct": 9.0, "season_pct": [1.0]}, "holds 1 numbers"),
    ):
        with pytest.raises(PlanError, match=told):
            build_plan(raw_plan(prices={**prices, **wrong}))


def test_a_futures_contract_is_named_in_any_usual_way_and_a_wrong_one_is_told():
    quote = {"contract": "Jan 2027", "settlement": 331.4, "as_of": "2026-11-04"}
    assert build_plan(raw_plan(futures=[quote])).futures[0].quote().contract == "2027-01"
    with pytest.raises(PlanError, match="futures"):
        build_plan(raw_plan(futures=[{**quote, "contract": "soon"}]))
