"""Keep or sell: the plan as a form, the answer beside it, and the same as a file and as a report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.datastructures import FormData
from starlette.responses import HTMLResponse, RedirectResponse, Response

from slidefit.decision.results import Comparison
from slidefit.errors import PlanError, SlidefitError
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import parse_plan, read_plan, write_plan
from slidefit.report import answer_tables, answers, sentences
from slidefit.report import formatting as f
from slidefit.report.charts.answer_charts import gain_by_month, swings_chart
from slidefit.report.document import Document
from slidefit.report.render.html import document_html
from slidefit.report.render.pdf import PaperSize, document_pdf
from slidefit.report.report_content import report_of
from slidefit.web.pages import (
    Context,
    attachment,
    changing_form,
    drawn_alone,
    fault_lines,
    files_of,
    office_of,
    picture,
    stand_alone_policy,
)
from slidefit.web.plan_address import Values, added, address, given, plan_of, removed, values_of
from slidefit.web.plan_form import form_of, label_path, problems_by_field
from slidefit.web.service import check_size, lighter

router = APIRouter(include_in_schema=False)
ChangingForm = Annotated[FormData, Depends(changing_form)]
BLANK: Values = {"groups.0.name": "Group 1", "programs.0.name": "Way 1"}
PRICES = "prices"
MOST_PLAN_BYTES = 256 << 10


@dataclass(frozen=True)
class Asked:
    """What an address asks for: its fields, the plan or its problems, and the answer or why there is none."""

    values: Values
    prices: str
    plan: Plan | None
    comparison: Comparison | None
    problems: dict[str, str]
    fault: tuple[str, ...]

    @property
    def query(self) -> str:
        """The address of the plan, without what is not filled in."""
        return address({**({PRICES: self.prices} if self.prices else {}), **self.values})


def asked_of(request: Request, *, full: bool = False) -> Asked:
    """Return what an address asks for; the answer with all draws of the plan, or with as many as are quick."""
    values = given(request.query_params.multi_items())
    prices = request.query_params.get(PRICES, "")
    desk = office_of(request).desk
    try:
        plan = plan_of(values)
    except PlanError as fault:
        return Asked(values, prices, None, None, problems_by_field(fault), ())
    try:
        plan = desk.with_terms(plan, prices)
        check_size(plan)
        comparison = desk.comparison(plan if full else lighter(plan), prices)
    except SlidefitError as fault:
        return Asked(values, prices, plan, None, {}, tuple(fault_lines(fault)))
    return Asked(values, prices, plan, comparison, {}, ())


def answer_parts(office: Context, asked: Asked) -> dict[str, Any]:
    """Return what the answer's template draws."""
    groups = []
    for place, group in enumerate(asked.comparison.groups if asked.comparison else ()):
        shown = answers.shown_option(group)
        groups.append(
            {
                "place": place,
                "group": group,
                "answer": answers.answer(group),
                "sure": answers.how_sure(group),
                "short": answers.short_answer(group),
                "months": answer_tables.month_table(group).without_constant("Program")
                if group.keep
                else None,
                "shown": shown,
                "breakevens": None if shown is None else answer_tables.breakeven_table(shown),
                "cash": None if shown is None else answer_tables.cash_table(shown),
            }
        )
    told: dict[str, Any] = {
        "asked": asked,
        "groups": groups,
        "query": asked.query,
        "herd": "",
        "rests_on": [],
    }
    told["problems"] = [(name, label_path(name, asked.values), text) for name, text in asked.problems.items()]
    if asked.comparison is not None:
        outlook = office.desk.outlook(asked.prices)
        told["herd"] = answers.herd_answer(asked.comparison)
        told["rests_on"] = [*answers.rests_on(asked.comparison, outlook.basis), *draws_line(asked)]
        told["notes"] = list(dict.fromkeys((*outlook.notes, *asked.comparison.notes)))
        told["defaults"] = answer_tables.defaults_table(asked.comparison)
        told["budget_table"] = answer_tables.budget_table
    return told


def draws_line(asked: Asked) -> list[str]:
    """Return that the page draws less than the plan says, where it does."""
    if asked.plan is None or asked.comparison is None or asked.plan.risk.draws == asked.comparison.draws:
        return []
    return [
        f"To keep up with your typing this page draws {f.count(asked.comparison.draws)}; the report draws "
        f"{f.count(asked.plan.risk.draws)}, as planned, so its odds can differ by a point."
    ]


@router.get("/decide")
def decide(request: Request) -> Response:
    """Show the plan's form with the answer beside it; without a plan, ways to start one."""
    office = office_of(request)
    asked = request.query_params
    action = asked.get("do", "")
    if action:
        return acted(given(asked.multi_items()), action, asked.get(PRICES, ""))
    if not asked:
        return office.page(request, "start.html.j2", view="decide", blank=address(BLANK), problem=[])
    wanted = asked_of(request)
    flips = office.desk.flips(wanted.plan, wanted.prices) if wanted.plan and wanted.comparison else ()
    return office.page(
        request,
        "decide.html.j2",
        view="decide",
        form=form_of(wanted.values, wanted.problems),
        sources=office.desk.region_names(),
        flips=flips,
        later=False,
        **answer_parts(office, wanted),
    )


def acted(values: Values, action: str, prices: str) -> Response:
    """Add or remove a group, a way to keep them, a feed or a phase, and show the form again."""
    what, _, path = action.partition(":")
    place = path.replace(".", "-")
    if what == "add":
        changed = added(values, path)
        place = f"{place}-{len([n for n in changed if n not in values]) and path_count(changed, path)}"
    else:
        changed = removed(values, path)
        place = path.rpartition(".")[0].replace(".", "-")
    kept = {PRICES: prices} if prices else {}
    return RedirectResponse(f"/decide?{address({**kept, **changed})}#part-{place}", status_code=303)


def path_count(values: Values, path: str) -> int:
    """Return the position of the last table of a list."""
    start = f"{path}."
    return max(
        (int(name[len(start) :].split(".")[0]) for name in values if name.startswith(start)), default=0
    )


@router.get("/decide/answer")
def answer(request: Request) -> Response:
    """Return the answer alone, for a page that is open already."""
    office = office_of(request)
    wanted = asked_of(request)
    response = office.page(request, "answer.html.j2", flips=(), later=True, **answer_parts(office, wanted))
    response.headers["X-Plan"] = wanted.query
    return response


@router.get("/decide/flips")
def flips(request: Request) -> Response:
    """Return what would flip the answer, for a page that is open already."""
    office = office_of(request)
    wanted = asked_of(request)
    found = office.desk.flips(wanted.plan, wanted.prices) if wanted.plan and wanted.comparison else ()
    return office.page(request, "flips.html.j2", flips=found, query=wanted.query)


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
    """Return the text of a plan file.

    Raises
    ------
    PlanError
        It is empty, too large or no text.
    """
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
    office = office_of(request)
    try:
        plan = plan_of(given(request.query_params.multi_items()))
    except PlanError as fault:
        return office.fault(
            request, fault, view="decide", back=f"/decide?{urlencode(request.query_params.multi_items())}"
        )
    return attachment(write_plan(plan), "plan.toml")


@router.get("/decide/{name}-{place}.{kind}")
def group_picture(
    request: Request,
    name: Literal["months", "flips"],
    place: int,
    kind: Literal["svg", "png"],
    narrow: bool = False,
) -> Response:
    """Draw a group's gain by month, or what would flip its answer."""
    office = office_of(request)
    wanted = asked_of(request)
    if wanted.comparison is None or wanted.plan is None:
        return office.fault(
            request, SlidefitError("there is no answer to draw", remedy="Mend the plan first.")
        )
    group = dict(enumerate(wanted.comparison.groups)).get(place)
    if group is None or not group.keep:
        return office.fault(request, SlidefitError("there is no such group to draw"))
    if name == "months":
        return picture(gain_by_month(group), kind, narrow=narrow)
    (result,) = (each for each in office.desk.flips(wanted.plan, wanted.prices) if each.group == group.group)
    return picture(swings_chart(result), kind)


@router.get("/decide/report")
def report(request: Request) -> Response:
    """Show the report: the page to print and hand over, which stands alone."""
    made = report_asked(request)
    if isinstance(made, Response):
        return made
    query = asked_of(request).query
    ways = (
        (sentences.BACK_TO_PLAN, f"/decide?{query}"),
        (sentences.SAVE_PDF, f"/decide/report.pdf?{query}"),
        (sentences.SAVE_PDF_A4, f"/decide/report.pdf?{query}&paper=a4"),
    )
    with drawn_alone():
        text = document_html(made, ways=ways)
    return HTMLResponse(text, headers={"Content-Security-Policy": stand_alone_policy(text)})


@router.get("/decide/report.pdf")
def report_file(request: Request, paper: PaperSize = "letter") -> Response:
    """Hand out the report as a PDF."""
    made = report_asked(request)
    if isinstance(made, Response):
        return made
    with drawn_alone():
        content = document_pdf(made, size=paper)
    return attachment(content, "report.pdf")


def report_asked(request: Request) -> Document | Response:
    """Return the report of the plan that an address holds, or the page that tells why there is none."""
    office = office_of(request)
    wanted = asked_of(request, full=True)
    back = f"/decide?{wanted.query}"
    if wanted.comparison is None or wanted.plan is None:
        lines = wanted.fault or tuple(wanted.problems.values())
        return office.fault(request, SlidefitError(" ".join(lines)), view="decide", back=back)
    try:
        records = office.desk.records()
        season = office.desk.season(wanted.prices)
        outlook = office.desk.outlook(wanted.prices)
    except SlidefitError as fault:
        return office.fault(request, fault, view="decide", back=back)
    flips = office.desk.flips(wanted.plan, wanted.prices)
    with drawn_alone():
        return report_of(
            wanted.comparison, outlook, records=records, season=season, flips=flips, title=wanted.plan.title
        )
