"""The JSON interface: what the book holds, the slide, the season, and keep or sell. It changes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse

from slidefit.errors import BookError, FitError, PlanError, SlidefitError
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import build_plan
from slidefit.report.json_answers import json_of, season_answer
from slidefit.web.pages import office_of

router = APIRouter(prefix="/api", tags=["slidefit"])


class PlanBody(Plan, defer_build=False):
    """A plan as the body of a request, its checks built with the interface's own and not when first used."""


Sex = Literal["steer", "heifer", "bull"]
Weight = Annotated[float, Field(ge=0, le=3000, allow_inf_nan=False)]
Month = Annotated[int, Field(ge=1, le=12)]
MOST_SEXES, MOST_WEIGHTS, MOST_MONTHS = 3, 12, 12
"""Longest lists of one address: every sex, the 100-lb steps from 250 to 1,350 lb, and every month."""


class Fault(BaseModel):
    """One thing that is wrong: where, what, and what to do."""

    where: str
    what: str
    remedy: str


class Faults(BaseModel):
    """Everything that is wrong with a request."""

    faults: list[Fault]


ANSWERS: dict[int | str, dict[str, Any]] = {
    400: {"model": Faults, "description": "What was asked for can't be worked out."},
    404: {"model": Faults, "description": "There is no book, or nothing is fitted yet."},
    422: {"model": Faults, "description": "The request is not of the form described here."},
    503: {"model": Faults, "description": "Another program is using the book."},
}


def faults(found: Sequence[SlidefitError], status: int) -> JSONResponse:
    """Return faults as the interface tells them."""
    told = [{"where": each.where, "what": each.what, "remedy": each.remedy} for each in found]
    return JSONResponse({"faults": told}, status_code=status)


def told(request: Request, fault: Exception) -> JSONResponse:
    """Return a fault of the input with its status: absent 404, busy 503, at fault 422 (a plan) or 400."""
    assert isinstance(fault, SlidefitError)
    if isinstance(fault, PlanError):
        return faults(fault.problems, 422)
    desk = office_of(request).desk
    if isinstance(fault, BookError):
        return faults([fault], 503 if desk.has_book() else 404)
    absent = isinstance(fault, FitError) and not desk.has_fit()
    return faults([fault], 404 if absent else 400)


def misshapen(request: Request, fault: Exception) -> JSONResponse:
    """Return what does not fit the description of the interface."""
    assert isinstance(fault, RequestValidationError)
    return faults(
        [
            SlidefitError(str(each["msg"]), where=".".join(str(part) for part in each["loc"]))
            for each in fault.errors()
        ],
        422,
    )


def answered(answer: object) -> dict[str, Any]:
    """Return an answer as JSON has it."""
    return dict(json_of(answer))


@router.get("/book", responses=ANSWERS)
def book(request: Request) -> dict[str, Any]:
    """Return what the book holds, by market, year and sex, with its batches and gaps."""
    return {**json_of(office_of(request).desk.summary()), "book": "book"}


@router.get("/fit", responses=ANSWERS)
def fit(request: Request) -> dict[str, Any]:
    """Return what was fitted, to what, and what to know of it."""
    return answered(office_of(request).desk.fit())


@router.get("/slide", responses=ANSWERS)
def slide(
    request: Request,
    sex: Annotated[list[Sex] | None, Query(max_length=MOST_SEXES)] = None,
    weight_lb: Annotated[
        list[Weight] | None,
        Query(max_length=MOST_WEIGHTS, description="Middles of the 100-lb steps, in pounds."),
    ] = None,
    month: Annotated[
        list[Month] | None, Query(max_length=MOST_MONTHS, description="Calendar months, 1 to 12.")
    ] = None,
) -> dict[str, Any]:
    """Return the fall of price over 100 lb by sex, weight and month, with 95% intervals."""
    fitted = office_of(request).desk.fit()
    return answered({"slides": fitted.slide(sex, weight_lb, list[int | None](month) if month else None)})


@router.get("/season", responses=ANSWERS)
def season(request: Request) -> dict[str, Any]:
    """Return the season, mean of the year = 100."""
    return answered(season_answer(office_of(request).desk.fit()))


@router.post("/compare", responses=ANSWERS)
def compare(request: Request, plan: PlanBody) -> dict[str, Any]:
    """Compare selling now with keeping, for every group, way to keep them and month of sale of a plan."""
    return answered(office_of(request).desk.comparison(checked(plan)))


@router.post("/flip", responses=ANSWERS)
def flip(request: Request, plan: PlanBody) -> dict[str, Any]:
    """Return what would flip the answer of each group of a plan."""
    return answered({"flips": office_of(request).desk.flips(checked(plan))})


def checked(plan: Plan) -> Plan:
    """Return a plan whose fields also agree with each other."""
    return build_plan(plan.model_dump(mode="json", exclude_unset=True))
