"""The form is the plan: every field once, and nothing lost on the way through form, address and file."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import parse_qsl

import pytest
from hypothesis import given as for_all
from hypothesis import strategies as st
from running import PLAN, Running, token_in

from slidefit.errors import PlanError
from slidefit.plan.plan_file import parse_plan, read_plan
from slidefit.report.plan_labels import LABELS
from slidefit.web.forms.plan_address import Values, address, given, plan_of, raw_of, values_of
from slidefit.web.forms.plan_form import SHOWN, FormField, FormPart, form_of, label_path, problems_by_field


def entries(blocks: tuple[FormPart, ...]) -> Iterator[FormField]:
    for block in blocks:
        yield from (*block.entries, *block.more)
        yield from entries(block.blocks)


def whole() -> Values:
    return values_of(read_plan(PLAN))


def test_every_field_of_every_table_has_a_label() -> None:
    for table, labels in LABELS.items():
        assert sorted(labels) == sorted(table.model_fields), table
        assert set(SHOWN[table]) <= set(table.model_fields)


def test_a_plan_survives_the_form_and_the_address() -> None:
    values = whole()
    assert plan_of(values) == read_plan(PLAN)
    assert given(parse_qsl(address(values))) == values
    shown = {entry.name: entry.value for entry in entries(form_of(values, {})) if entry.value}
    assert shown == values


def test_the_form_shows_each_field_once() -> None:
    names = [entry.name for entry in entries(form_of(whole(), {}))]
    assert len(names) == len(set(names))
    for path in (
        "groups.0.",
        "programs.1.",
        "programs.1.ration.1.",
        "programs.0.pasture.",
        "selling.contract.",
        "risk.",
    ):
        assert any(name.startswith(path) for name in names)
    assert {"dates.weaning", "dates.sales", "programs.0.shrink_pct", "money.interest_pct", "title"} <= set(
        names
    )


def test_units_limits_and_defaults_come_from_the_plan() -> None:
    by_name = {entry.name: entry for entry in entries(form_of(whole(), {}))}
    shrink = by_name["selling.shrink_pct"]
    assert shrink.unit == "percent" and "0 to 20" in shrink.limits and "Weight lost" in shrink.meaning
    assert by_name["groups.0.head"].required and by_name["groups.0.head"].mode == "numeric"
    assert by_name["groups.0.frame"].default == "ML" and by_name["groups.0.frame"].kind == "choice"


def test_problems_stand_at_their_fields() -> None:
    values = {
        **whole(),
        "groups.1.weight_lb": "4.7",
        "programs.0.pasture.utilization_pct": "lots",
        "selling.miles": "",
    }
    with pytest.raises(PlanError) as fault:
        plan_of(given(values.items()))
    problems = problems_by_field(fault.value)
    assert "hundredweight" in problems["groups.1.weight_lb"]
    assert "programs.0.pasture.utilization_pct" in problems and "selling.miles" in problems
    at_fault = {entry.name for entry in entries(form_of(values, problems)) if entry.problem}
    assert set(problems) <= at_fault
    assert label_path("groups.1.weight_lb", values) == "Light steers: Mean weight"


@for_all(st.lists(st.tuples(st.text(max_size=40), st.text(max_size=20)), max_size=20))
def test_no_address_breaks_the_form(pairs: list[tuple[str, str]]) -> None:
    values = given(pairs)
    form_of(values, {})
    raw_of(values)


def test_a_file_goes_in_and_comes_out(page: Running) -> None:
    with page.client() as client:
        token = token_in(client.get("/decide").text)
        loaded = client.post(
            "/decide/load", data={"token": token}, files={"plan": ("p.toml", PLAN.read_bytes())}
        )
        assert loaded.status_code == 303
        saved = client.get(loaded.headers["location"].replace("/decide?", "/decide/plan.toml?"))
        assert parse_plan(saved.text) == read_plan(PLAN)
        for content in (b"", b"\xff\xfe\x00", b"title = ", b"x" * 300_000):
            bad = client.post("/decide/load", data={"token": token}, files={"plan": ("p.toml", content)})
            assert bad.status_code == 400 and 'role="alert"' in bad.text


def test_without_javascript_a_group_is_added_by_a_button(page: Running) -> None:
    with page.client() as client:
        query = client.get("/decide/example").headers["location"].partition("?")[2]
        answer = client.get(f"/decide?{query}&do=add:groups")
        assert answer.status_code == 303 and answer.headers["location"].endswith("#part-groups-3")
        assert "Calves 4" in client.get(answer.headers["location"]).text


def test_a_plan_too_large_for_a_page_is_refused(page: Running) -> None:
    with page.client() as client:
        query = client.get("/decide/example").headers["location"].partition("?")[2]
        assert "draws" in client.get(f"/decide/answer?{query}&risk.draws=200000").text
        many = "".join(
            f"&groups.{n}.name=G{n}&groups.{n}.sex=steer&groups.{n}.head=9&groups.{n}.weight_lb=500"
            for n in range(3, 39)
        )
        assert "works out" in client.get(f"/decide/answer?{query}{many}&dates.every_week=yes").text
