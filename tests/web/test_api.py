"""The JSON interface: as it describes itself, and fuzzed."""

from __future__ import annotations

import os
import tomllib
import warnings
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import given as for_all
from running import PLAN, Running

CASES = int(os.environ.get("FUZZ_CASES", "10"))  # of each operation; what more gave stands in docs/safety.md
OPERATIONS = (
    ("/api/book", "GET"),
    ("/api/fit", "GET"),
    ("/api/slide", "GET"),
    ("/api/season", "GET"),
    ("/api/compare", "POST"),
    ("/api/flip", "POST"),
)


@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_the_interface_is_as_it_describes_itself(page: Running, path: str, method: str) -> None:
    with warnings.catch_warnings():  # a second to load, for the process that runs this alone
        warnings.simplefilter("ignore")
        import schemathesis
        from schemathesis.checks import not_a_server_error
        from schemathesis.specs.openapi.checks import (
            content_type_conformance,
            response_schema_conformance,
            status_code_conformance,
        )

    checks = [
        not_a_server_error,
        status_code_conformance,
        content_type_conformance,
        response_schema_conformance,
    ]
    described = schemathesis.openapi.from_url(f"{page.address}/openapi.json")

    @for_all(case=described[path][method].as_strategy())
    @settings(
        max_examples=CASES,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    def fuzz(case: Any) -> None:
        case.call_and_validate(checks=checks)

    fuzz()


def test_every_operation_is_fuzzed(page: Running) -> None:
    with page.client() as client:
        paths = client.get("/openapi.json").json()["paths"]
    assert {(path, method.upper()) for path, each in paths.items() for method in each} == set(OPERATIONS)


def plan() -> dict[str, object]:
    raw = tomllib.loads(PLAN.read_text(encoding="utf-8"))
    raw["dates"] = {name: str(value) for name, value in raw["dates"].items()}
    for program in raw["programs"]:
        for name in ("earliest_on", "latest_off"):
            if name in program:
                program[name] = str(program[name])
    return raw


def test_it_compares_as_the_library_does(page: Running) -> None:
    from slidefit.decision.comparison import compare
    from slidefit.market.saved_fit import load_fit
    from slidefit.plan.plan_file import read_plan
    from slidefit.report.json_answers import json_of

    with page.client() as client:
        answer = client.post("/api/compare", json=plan())
        swings = client.post("/api/flip", json=plan())
    expected = json_of(compare(load_fit(page.settings.fit).outlook(), read_plan(PLAN)))
    assert answer.status_code == 200 and answer.json() == expected
    assert [each["group"] for each in swings.json()["flips"]] == [
        each["group"] for each in expected["groups"]
    ]


def test_faults_name_the_field(page: Running) -> None:
    broken = plan()
    broken["groups"][0]["weight_lb"] = 5.5  # type: ignore[index]
    twice = plan()
    twice["groups"][1]["name"] = twice["groups"][0]["name"]  # type: ignore[index]
    with page.client() as client:
        for body, where in ((broken, "weight_lb"), (twice, "groups[2].name")):
            answer = client.post("/api/compare", json=body)
            assert answer.status_code == 422
            assert where in answer.json()["faults"][0]["where"]


def test_slide_and_season_and_book(page: Running) -> None:
    with page.client() as client:
        slides = client.get("/api/slide", params={"sex": "steer", "weight_lb": 550, "month": 10}).json()[
            "slides"
        ]
        assert [(row["sex"], row["from_lb"], row["month"]) for row in slides] == [("steer", 500.0, 10)]
        assert len(client.get("/api/season").json()["months"]) == 12
        assert client.get("/api/book").json()["records"] > 3000
        assert str(page.settings.book) not in client.get("/api/book").text
        assert client.get("/api/slide", params={"weight_lb": 2500}).status_code == 400


def test_without_a_fit_it_says_so(empty_page: Running) -> None:
    with empty_page.client() as client:
        for answer in (
            client.get("/api/slide"),
            client.get("/api/book"),
            client.post("/api/compare", json=plan()),
        ):
            assert answer.status_code == 404 and answer.json()["faults"][0]["what"]
