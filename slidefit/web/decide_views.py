"""Keep or sell: the plan as a form, the answer beside it, and the same as a file and as a report."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.datastructures import FormData
from starlette.responses import JSONResponse, RedirectResponse, Response

from slidefit.decision.results import Comparison
from slidefit.errors import PlanError, SlidefitError
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import parse_plan, read_plan, write_plan
from slidefit.report import formatting as f
from slidefit.report.document import Document, document
from slidefit.report.report_content import flips_content, grid_content, sorting_content
from slidefit.web.answer_view import answer_parts, bid_marks, problem_lines
from slidefit.web.forms.plan_address import (
    Values,
    added,
    address,
    count_of,
    given,
    plan_of,
    removed,
    values_of,
)
from slidefit.web.forms.plan_form import form_of, problems_by_field, says_of
from slidefit.web.pages import attachment, changing_form, fault_lines, files_of, office_of
from slidefit.web.service import Service, check_size, lighter

router = APIRouter(include_in_schema=False)
ChangingForm = Annotated[FormData, Depends(changing_form)]
BLANK: Values = added(added({}, "groups"), "programs")
PRICES = "prices"
MOST_PLAN_BYTES = 256 << 10
MOST_DIGITS = 5


@dataclass(frozen=True)
class PlanRequest:
    """What an address asks for: its fields, the plan or its problems, and the answer or why there is none.

    ``without`` names groups that are left out of the answer because something in them is missing or wrong.
    """

    values: Values
    prices: str
    plan: Plan | None
    comparison: Comparison | None
    problems: dict[str, str]
    fault: tuple[str, ...]
    without: tuple[str, ...] = ()

    @property
    def query(self) -> str:
        """The address of the plan, without what is not filled in."""
        return address({**({PRICES: self.prices} if self.prices else {}), **self.values})


def asked_of(request: Request, *, full: bool = False) -> PlanRequest:
    """Return what an address asks for; the answer with all draws of the plan, or with as many as are quick."""
    values = given(request.query_params.multi_items())
    desk = office_of(request).desk
    prices = desk.prices_for(request.query_params.get(PRICES, ""))
    problems: dict[str, str] = {}
    without: tuple[str, ...] = ()
    try:
        plan = plan_of(values)
    except PlanError as fault:
        problems = problems_by_field(fault)
        others = without_groups(values, problems)
        if others is None:
            return PlanRequest(values, prices, None, None, problems, ())
        try:
            plan, without = plan_of(others[0]), others[1]
        except PlanError:
            return PlanRequest(values, prices, None, None, problems, ())
    try:
        plan = desk.with_terms(plan, prices)
        check_size(plan)
        comparison = desk.comparison(plan if full else lighter(plan), prices)
    except SlidefitError as fault:
        return PlanRequest(values, prices, plan, None, problems, tuple(fault_lines(fault)), without)
    return PlanRequest(values, prices, plan, comparison, problems, (), without)


def without_groups(values: Values, problems: Mapping[str, str]) -> tuple[Values, tuple[str, ...]] | None:
    """Return a plan without the groups that hold all its problems, and their names; None where none would be left."""
    at_fault = set()
    for name in problems:
        path = name.split(".")
        if path[0] != "groups" or len(path) < 2:
            return None
        at_fault.add(int(path[1]))
    if not at_fault or len(at_fault) >= count_of(values, "groups"):
        return None
    kept = values
    for place in sorted(at_fault, reverse=True):
        kept = removed(kept, f"groups.{place}")
    return kept, tuple(values.get(f"groups.{place}.name", "a group") for place in sorted(at_fault))


def shown_parts(request: Request, asked: PlanRequest) -> dict[str, Any]:
    """Return what the answer's template shows."""
    look = request.query_params.get("look", "")
    told: dict[str, Any] = {
        "asked": asked,
        "query": asked.query,
        "problems": problem_lines(asked.values, asked.problems),
        "answer": None,
        "marks": {} if asked.comparison is None else bid_marks(asked.values, asked.comparison),
    }
    if asked.comparison is not None and asked.plan is not None:
        outlook = office_of(request).desk.outlook_for(asked.plan, asked.prices)
        place = int(look) if look.isdecimal() and len(look) < MOST_DIGITS else None
        told["answer"] = answer_parts(asked.comparison, outlook, place)
        told["answer"]["rests_on"] += draws_line(asked)
    return told


def draws_line(asked: PlanRequest) -> list[str]:
    """Return that the page draws less than the plan says, where it does."""
    if asked.plan is None or asked.comparison is None or asked.plan.risk.draws == asked.comparison.draws:
        return []
    return [
        f"To keep up with your typing this page makes {f.count(asked.comparison.draws)} runs. The report "
        f"makes {f.count(asked.plan.risk.draws)}, as planned, so its odds can differ by a point."
    ]


@router.get("/decide")
def decide(request: Request) -> Response:
    """Show the plan's form with the answer beside it; without a plan, ways to start one."""
    office = office_of(request)
    asked = request.query_params
    action = asked.get("do", "")
    if action:
        return acted(given(asked.multi_items()), action, asked.get(PRICES, ""))
    if not given(asked.multi_items()):
        return office.page(request, "start.html.j2", view="decide", blank=address(BLANK), problem=[])
    wanted = asked_of(request)
    return office.page(
        request,
        "decide.html.j2",
        view="decide",
        form=form_of(wanted.values, wanted.problems),
        sources=office.desk.price_sources(wanted.prices),
        **shown_parts(request, wanted),
    )


def acted(values: Values, action: str, prices: str) -> Response:
    """Add or remove a group, a way to keep them, a feed or a phase, and show the form again."""
    what, _, path = action.partition(":")
    place = path.replace(".", "-")
    if what == "add":
        changed = added(values, path)
        place = f"{place}-{count_of(values, path) if changed != values else 0}"
    else:
        changed = removed(values, path)
        place = path.rpartition(".")[0].replace(".", "-")
    kept = {PRICES: prices} if prices else {}
    return RedirectResponse(f"/decide?{address({**kept, **changed})}#part-{place}", status_code=303)


@router.get("/decide/answer")
def answer(request: Request) -> Response:
    """Return the answer for a page that is open already, with what stands in its way field by field."""
    office = office_of(request)
    wanted = asked_of(request)
    parts = shown_parts(request, wanted)
    blocks = form_of(wanted.values, wanted.problems)
    told = {
        "answer": office.drawn(request, "answer.html.j2", **parts) if parts["answer"] else None,
        "pinned": office.drawn(request, "pinned.html.j2", **parts),
        "headline": parts["answer"]["headline"] if parts["answer"] else "",
        "problems": wanted.problems,
        "marks": parts["marks"],
        "fault": list(wanted.fault),
        "says": says_of(blocks),
        "query": wanted.query,
    }
    return JSONResponse(told)


@router.get("/decide/flips")
def flips(request: Request) -> Response:
    """Return what would flip the answer, for a page that is open already."""
    return later(
        request,
        lambda desk, plan, prices, group: (
            flips_content(desk.flips(lighter(plan), prices, group))
            + grid_content(desk.two_ways(plan, prices, group))
        ),
    )


@router.get("/decide/sorting")
def sorting(request: Request) -> Response:
    """Return what sorting a group by weight would bring, for a page that is open already."""
    return later(
        request, lambda desk, plan, prices, group: sorting_content(desk.sorting(plan, prices, group))
    )


def later(request: Request, make: Callable[[Service, Plan, str, str], Document]) -> Response:
    """Return what is worked out only when it is asked for, as a part of a page or as a page of its own."""
    office, wanted = office_of(request), asked_of(request)
    group = request.query_params.get("group", "")
    able = wanted.plan is not None and wanted.comparison is not None
    known = able and group in [each.group for each in wanted.comparison.groups]  # type: ignore[union-attr]
    found = make(office.desk, wanted.plan, wanted.prices, group) if known and wanted.plan else document()
    whole = "x-part" not in request.headers
    return office.page(
        request, "later.html.j2", view="decide", whole=whole, document=found, query=wanted.query
    )


@router.get("/decide/example")
def example(request: Request) -> Response:
    """Start from the example plan."""
    office = office_of(request)
    source = office.desk.settings.example_plan
    plan = read_plan(source) if source is not None else None
    return RedirectResponse(f"/decide?{address(values_of(plan) if plan else BLANK)}", status_code=303)


@router.post("/decide/load")
def load(request: Request, form: ChangingForm) -> Response:
    """Take a plan from a TOML file of the user's into the form."""
    office = office_of(request)
    found = files_of(form, "plan")
    try:
        plan = parse_plan(plan_text(found[0].file.read(MOST_PLAN_BYTES + 1) if found else b""), "the plan")
    except PlanError as fault:
        return office.page(
            request,
            "start.html.j2",
            status=400,
            view="decide",
            blank=address(BLANK),
            problem=fault_lines(fault),
        )
    return RedirectResponse(f"/decide?{address(values_of(plan))}", status_code=303)


def plan_text(content: bytes) -> str:
    """Return the text of a plan file."""
    what = "is empty" if not content else "is too large for a plan" if len(content) > MOST_PLAN_BYTES else ""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        what = "is no text"
    if what:
        raise PlanError([SlidefitError(what, where="the plan", remedy="Choose a plan in TOML.")])
    return text


@router.get("/decide/plan.toml")
def plan_file(request: Request) -> Response:
    """Hand out the plan as a TOML file."""
    plan = plan_of(given(request.query_params.multi_items()))
    return attachment(write_plan(plan), "plan.toml")
