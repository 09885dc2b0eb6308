"""The quick answer: keep or sell from a few numbers, with or without records; the page's first view."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from slidefit.decision.notes import BID_FAR_SHARE
from slidefit.decision.quick import MISSING, QuickAnswer, QuickGrid, check_question, grid_of, quick_answer
from slidefit.errors import SlidefitError
from slidefit.market.outlook import Outlook
from slidefit.plan.quick_fields import BY_NAME
from slidefit.plan.typed_numbers import number_of
from slidefit.report import answers
from slidefit.report import formatting as f
from slidefit.report.take_home.scripts import quick_script
from slidefit.web.forms.quick_form import (
    ACROSS,
    COSTS,
    EITHER,
    PASTURE,
    SPOKEN,
    STEPS,
    TITLES,
    UNITS,
    Typed,
    place_of,
    sale_weight_of,
    typed_of,
    whole_plan,
)
from slidefit.web.pages import Context, office_of

router = APIRouter(include_in_schema=False)
TYPED_ONLY = "typed"
SOURCE = "source"
EVEN_HEAD, STRONG_HEAD = 15.0, 150.0
"""Dollars a head within which a cell of the table is about even, and from which it is a strong one: our choice."""
USUAL_TABLE = ("later_price_cwt", "gain_lb_day")
SIDE = 2
"""Steps on each side of the middle of the two-way table."""
EVEN_WORDS = {
    "later_price_cwt": ("the price then is at least", "/cwt"),
    "gain_lb_day": ("they gain at least", " lb a day"),
    "cost_head_day": ("a day costs no more than", ""),
    "price_cwt": ("today's bid is under", "/cwt"),
    "slide_pct": ("the slide is under", "%"),
    "death_loss_pct": ("deaths stay under", "%"),
    "forage_lb_acre": ("pasture grows at least", " lb an acre"),
}
"""What holds while keeping pays, in the order of the page."""


@dataclass(frozen=True)
class QuickRequest:
    """What an address asks: the source of prices (its value and name), its outlook, what it expects, the question."""

    source: tuple[str, str]
    outlook: Outlook | None
    found: dict[str, dict[str, Any]]
    typed: Typed


def asked_of(request: Request) -> QuickRequest:
    """Return what an address asks, prices that nobody typed filled in from the source."""
    office, typed = office_of(request), typed_of(request.query_params)
    source = source_of(request)
    outlook = outlook_at(office, source[0])
    found = expected(outlook, source[1], typed, date.today())
    return QuickRequest(source, outlook, found, filled_in(typed, found))


def sources_of(office: Context) -> list[tuple[str, str]]:
    """Return where prices can come from, as value and name: the book's fit, the regions, and typed ones."""
    found = [("fit", "your records")] if office.desk.has_fit() else []
    found += [(file, f"region {name}") for file, name in office.desk.region_names()]
    return [*found, (TYPED_ONLY, "only what I type")]


def source_of(request: Request) -> tuple[str, str]:
    """Return the source that an address names, else the fit, else the only region, else typed prices."""
    sources = sources_of(office_of(request))
    wanted = request.query_params.get(SOURCE, "")
    for each in sources:
        if each[0] == wanted:
            return each
    return sources[0] if sources[0][0] == "fit" or len(sources) == 2 else sources[-1]


def outlook_at(office: Context, source: str) -> Outlook | None:
    """Return a source's outlook; None for typed prices and where it can't be read."""
    if source == TYPED_ONLY:
        return None
    try:
        return office.desk.outlook("" if source == "fit" else source)
    except SlidefitError:
        return None


def expected(outlook: Outlook | None, source: str, typed: Typed, today: date) -> dict[str, dict[str, Any]]:
    """Return what a source expects for prices that are not typed: field to value and where it is from."""
    asked = typed.asked
    if outlook is None or "weight_lb" not in asked:
        return {}
    sale_lb = asked.get("later_weight_lb", sale_weight_of(asked))
    wanted = {"price_cwt": (asked["weight_lb"], today)}
    if typed.later == "later_price_cwt" and sale_lb is not None and "days" in asked:
        wanted["later"] = (sale_lb, today + timedelta(days=int(asked["days"])))
    out: dict[str, dict[str, Any]] = {}
    for name, (weight, day) in wanted.items():
        try:
            outlook.check_weight(typed.sex, weight)
            price = float(outlook.price_cwt(typed.sex, weight, day))
        except SlidefitError:
            continue
        words = f"from {source}"
        words += f": {f.weight_lb(weight)} on {f.day(day)}" if name == "later" else ""
        out[name] = {"value": round(price, 2), "from": words, "far": answers.far_bid(price)}
    return out


def filled_in(typed: Typed, found: Mapping[str, Mapping[str, Any]]) -> Typed:
    """Return a question with the prices that nobody typed filled in from their source."""
    asked, filled = dict(typed.asked), {}
    for place, each in found.items():
        name = typed.later if place == "later" else place
        if name not in asked and place not in typed.faults:
            asked[name] = each["value"]
            filled[place] = each["from"]
    return replace(typed, asked=asked, filled=filled)


def answered(typed: Typed) -> tuple[QuickAnswer | None, dict[str, str]]:
    """Return the answer, or what stands in its way by field."""
    if typed.faults:
        return None, typed.faults
    try:
        check_question(typed.asked)
        return quick_answer(typed.asked), {}
    except SlidefitError as fault:
        place = place_of(fault, typed)
        return None, {place: _missing(place) if fault.code == MISSING else fault.what}


def _missing(place: str) -> str:
    return {
        "growth": "Give the gain, or the weight at sale.",
        "later": "Give the price then, or a slide.",
    }.get(place, "Give this number.")


def side_of(query: Mapping[str, str], side: str, answer: QuickAnswer) -> tuple[str, float, float]:
    """Return a side of the two-way table: its field, its middle and its step."""
    usual = dict(zip(("x", "y"), USUAL_TABLE, strict=True))[side]
    name = query.get(side, "") if query.get(side, "") in ACROSS else usual
    middle = number_of(query.get(f"{side}_mid", ""))
    step = number_of(query.get(f"{side}_step", ""))
    planned = answer.planned[name]
    return name, planned if middle is None else middle, STEPS[name] if not step or step <= 0 else step


def table_of(typed: Typed, answer: QuickAnswer) -> tuple[QuickGrid | None, str]:
    """Return the two-way table, or why there is none."""
    sides = [side_of(typed.texts, side, answer) for side in ("x", "y")]
    values = [[middle + step * k for k in range(-SIDE, SIDE + 1)] for _, middle, step in sides]
    try:
        return grid_of(typed.asked, sides[0][0], values[0], sides[1][0], values[1]), ""
    except SlidefitError as fault:
        return None, fault.text()


def shade(gain: float) -> str:
    """Return how a cell of the two-way table is drawn: its class and its word.

    >>> [shade(gain) for gain in (150, 15, 14.9, -15, -150)]
    ['k2', 'k1', 'e', 's1', 's2']
    """
    if abs(gain) < EVEN_HEAD:
        return "e"
    return f"{'k' if gain > 0 else 's'}{2 if abs(gain) >= STRONG_HEAD else 1}"


def even_rows(answer: QuickAnswer) -> list[tuple[str, str, str]]:
    """Return what keeps keeping worth it: field, words, number."""
    rows = []
    for name, (words, unit) in EVEN_WORDS.items():
        value = answer.breakeven.get(name)
        if value is not None:
            rows.append((name, words, f"{written(name, value)}{unit}"))
    return rows


def written(name: str, value: float) -> str:
    """Return a number of the quick question as the page writes it."""
    if name in ("later_price_cwt", "price_cwt"):
        return f.money(value)
    if name == "cost_head_day":
        return f.money_cents(value)
    if name in ("gain_lb_day",):
        return f"{value:.2f}"
    return f.count(value) if name in ("days", "forage_lb_acre") else f"{value:.1f}"


def fields_of(
    typed: Typed, problems: Mapping[str, str], found: Mapping[str, Mapping[str, Any]]
) -> dict[str, Any]:
    """Return the fields of the form, as the template draws them."""

    def field(
        place: str, label: str, unit: str, ways: tuple[tuple[str, str, str], ...] = ()
    ) -> dict[str, Any]:
        from_source = found.get(place, {})
        return {
            "name": place,
            "label": label,
            "unit": unit,
            "spoken": SPOKEN.get(unit, ""),
            "value": typed.texts.get(place, ""),
            "problem": problems.get(place, "") if typed.texts else "",
            "ways": ways,
            "way": getattr(typed, place, ""),
            "placeholder": f"{from_source['value']:g}" if from_source else "",
            "from": from_source.get("from", ""),
            "mark": from_source["far"] if is_far(place, from_source) else "",
        }

    def is_far(place: str, known: Mapping[str, Any]) -> bool:
        value = number_of(typed.texts.get(place, ""))
        return bool(known) and value is not None and abs(value / known["value"] - 1.0) > BID_FAR_SHARE

    first = [field(name, TITLES[name], UNITS[name]) for name in ("weight_lb", "price_cwt", "days")]
    either = {
        place: field(place, next(each[1] for each in ways if each[0] == getattr(typed, place)), "", ways)
        for place, ways in EITHER.items()
    }
    cost = field("cost_head_day", TITLES["cost_head_day"], UNITS["cost_head_day"])
    head = field("head", TITLES["head"], UNITS["head"])

    def plain(name: str) -> dict[str, Any]:
        each = BY_NAME[name]
        return field(name, each.label.capitalize(), each.unit)

    return {
        "first": [head, first[0], first[1], either["growth"], first[2], cost, either["later"]],
        "costs": [plain(name) for name in COSTS],
        "pasture": [plain(name) for name in PASTURE],
        "later_weight": field("later_weight_lb", TITLES["later_weight_lb"], "lb"),
    }


def home(request: Request) -> Response:
    """Show the quick answer."""
    office = office_of(request)
    asked = asked_of(request)
    typed = asked.typed
    answer, problems = answered(typed)
    grid, no_grid = (None, "") if answer is None else table_of(typed, answer)
    sides = {
        side: typed.texts.get(side) if typed.texts.get(side) in ACROSS else name
        for side, name in zip(("x", "y"), USUAL_TABLE, strict=True)
    }
    return office.page(
        request,
        "quick.html.j2",
        view="quick",
        fields=fields_of(typed, problems, asked.found),
        typed=typed,
        source=asked.source,
        sources=sources_of(office),
        answer=answer,
        herd=None if answer is None or typed.head is None else answer.gain_per_head * typed.head,
        grid=grid,
        no_grid=no_grid,
        sides=sides,
        even=[] if answer is None else even_rows(answer),
        names={name: BY_NAME[name].label for name in ACROSS},
        units={name: BY_NAME[name].unit for name in ACROSS},
        steps=STEPS,
        shade=shade,
        written=written,
        even_words=EVEN_WORDS,
        query=urlencode([(name, text) for name, text in request.query_params.multi_items() if text]),
    )


@router.get("/quick/budget.js")
def budget_script(_: Request) -> Response:
    """Return the declared budget as the browser computes it."""
    return Response(quick_script(), media_type="text/javascript")


@router.get("/quick/prices")
def prices(request: Request) -> Response:
    """Return what the chosen source expects for the prices of a question."""
    return JSONResponse(asked_of(request).found)


@router.get("/quick/answer")
def answer_json(request: Request) -> Response:
    """Return the server's answer to a question as numbers, or what is wrong by field."""
    answer, problems = answered(asked_of(request).typed)
    if answer is None:
        return JSONResponse({"problems": problems}, status_code=400)
    names = ("net_now", "net_later", "gain_per_head", "gain_per_acre", "head_per_acre", "slide_pct")
    return JSONResponse(
        {**{name: getattr(answer, name) for name in names}, "breakeven": dict(answer.breakeven)}
    )


@router.get("/quick/plan")
def plan(request: Request) -> Response:
    """Carry everything over into a full plan."""
    asked = asked_of(request)
    values = whole_plan(asked.typed, date.today(), from_prices=asked.outlook is not None)
    if asked.outlook is not None and asked.source[0] != "fit":
        values = {"prices": asked.source[0], **values}
    return RedirectResponse(f"/decide?{urlencode(values)}", status_code=303)
