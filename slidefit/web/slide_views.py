"""Slide: fit, and see the slide and the season with their intervals and what they rest on."""

from __future__ import annotations

import json
from datetime import date
from typing import Annotated, Any, Literal

import pandas as pd
from fastapi import APIRouter, Depends, Request
from matplotlib.figure import Figure
from starlette.datastructures import FormData
from starlette.responses import RedirectResponse, Response

from slidefit.errors import FitError, SlidefitError
from slidefit.market.marketfit import MarketFit
from slidefit.market.saved import FORMAT, VERSION, to_document
from slidefit.show import wording
from slidefit.show.charts.price_by_weight import price_by_weight
from slidefit.show.charts.season import season_chart
from slidefit.show.charts.slide_by_weight import slide_by_weight
from slidefit.show.tables import season_table, slide_table
from slidefit.web.downloads import attachment, csv_text, picture
from slidefit.web.pages import changing_form, fault_lines, office_of, said
from slidefit.web.tables import cells, without_constant

router = APIRouter(include_in_schema=False)
ChangingForm = Annotated[FormData, Depends(changing_form)]
PICTURES = ("price-by-weight", "slide-by-weight", "season")


@router.get("/slide")
def slide(request: Request) -> Response:
    """Show the slide and the season of the saved fit, or offer to fit."""
    office = office_of(request)
    progress = office.fitting.progress
    shared: dict[str, Any] = {"view": "slide", "progress": progress, "markets": markets(request)}
    if progress.state == "running":
        return RedirectResponse("/slide/fitting", status_code=303)
    if not office.desk.has_fit():
        return office.page(request, "slide.html.j2", fit=None, fault=[], **shared)
    try:
        fit = office.desk.fit()
        asked, problem = asked_slides(request, fit)
        outlook = office.desk.outlook()
    except SlidefitError as fault:
        return office.page(request, "slide.html.j2", status=400, fit=None, fault=fault_lines(fault), **shared)
    return office.page(
        request,
        "slide.html.j2",
        fit=fit,
        fault=[],
        sexes=fit.model.recipe.sexes,
        asked=request.query_params,
        slides=without_constant(cells(slide_table(asked)), "Month"),
        season=season_table(fit.season()),
        problem=problem,
        notes=[f"{note}." for note in fit.notes],
        rests_on=[
            f"{wording.basis_line(fit.basis)}.",
            wording.verdict_line(fit.basis.verdict),
            wording.errors_line(fit.model.rule),
        ],
        alts={
            "price-by-weight": wording.price_picture_alt(outlook),
            "slide-by-weight": f"{wording.SLIDE_TITLE}. The numbers stand in the table.",
            "season": wording.season_picture_alt(fit.season()),
        },
        query=request.url.query,
        **shared,
    )


def markets(request: Request) -> list[str]:
    """Return the markets of the book; none where it can't be read now."""
    desk = office_of(request).desk
    try:
        return [each.market for each in desk.summary().markets if each.market] if desk.has_book() else []
    except SlidefitError:
        return []


def asked_slides(request: Request, fit: MarketFit) -> tuple[pd.DataFrame, list[str]]:
    """Return the slides that the address asks for; those of the whole year where that can't be had, and why."""
    query = request.query_params
    try:
        sex = query.get("sex") or None
        weight = one_number(query.get("weight", ""), "weight")
        month = one_number(query.get("month", ""), "month")
        return fit.slide(sex, weight, None if month is None else int(month)), []
    except FitError as fault:
        return fit.slide(), fault_lines(fault)


def one_number(text: str, name: str) -> float | None:
    """Return a number from the address; None where it is empty.

    Raises
    ------
    FitError
        It is no number.
    """
    if not text.strip():
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 0.0 < value < 10_000.0:
        raise FitError(f"{text!r} is no {name}", remedy="Give a number.")
    return value


@router.post("/slide/fit")
def start_fit(request: Request, form: ChangingForm) -> Response:
    """Start a fit of the book's records."""
    office = office_of(request)
    chosen = [value for value in form.getlist("market") if isinstance(value, str) and value]
    try:
        since, until = (one_day(said(form, name)) for name in ("since", "until"))
    except FitError as fault:
        return office.fault(request, fault, view="slide", back="/slide")
    office.fitting.start(chosen, since, until)
    return RedirectResponse("/slide/fitting", status_code=303)


def one_day(text: str) -> date | None:
    """Return a day of a form; None where it is empty.

    Raises
    ------
    FitError
        It is no day.
    """
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise FitError(f"{text!r} is no day", remedy="Write year-month-day, such as 2024-07-01.") from None


@router.get("/slide/fitting")
def fitting(request: Request) -> Response:
    """Show how far the fit is; the page asks again by itself."""
    office = office_of(request)
    progress = office.fitting.progress
    if progress.state in ("done", "idle"):
        return RedirectResponse("/slide", status_code=303)
    response = office.page(request, "fitting.html.j2", view="slide", progress=progress)
    if progress.state == "running":
        response.headers["Refresh"] = "1"
    return response


def figure_of(request: Request, name: str) -> Figure:
    """Return a picture of the saved fit.

    Raises
    ------
    SlidefitError
        There is no fit or no such picture.
    """
    desk = office_of(request).desk
    fit = desk.fit()
    if name == "price-by-weight":
        return price_by_weight(desk.outlook(), desk.records())
    if name == "slide-by-weight":
        return slide_by_weight(fit.slide(), fit.basis)
    if name == "season":
        return season_chart(fit.season(), fit.basis)
    raise FitError("there is no such picture", remedy=f"There are: {', '.join(PICTURES)}.")


@router.get("/slide/{name}.{kind}")
def download(
    request: Request, name: str, kind: Literal["svg", "png", "csv", "json"], narrow: bool = False
) -> Response:
    """Hand out a picture, the slides or the season as CSV, or the fit itself."""
    office = office_of(request)
    try:
        fit = office.desk.fit()
        if (name, kind) == ("slides", "csv"):
            return attachment(csv_text(asked_slides(request, fit)[0]), "slides.csv")
        if (name, kind) == ("season", "csv"):
            return attachment(csv_text(fit.season()), "season.csv")
        if (name, kind) == ("slide", "json"):
            document = {"format": FORMAT, "version": VERSION, **to_document(fit)}
            return attachment(json.dumps(document, indent=1, allow_nan=False) + "\n", "slide.json")
        if kind == "csv" or kind == "json":
            raise FitError("there is no such file", remedy="Choose one on the page.")
        return picture(figure_of(request, name), kind, save_as=name if kind == "png" else "", narrow=narrow)
    except SlidefitError as fault:
        return office.fault(request, fault, view="slide", back="/slide")
