"""The views of slide, season and regions."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

import pandas as pd
from fastapi import APIRouter, Depends, Request
from matplotlib.figure import Figure
from starlette.datastructures import FormData
from starlette.responses import HTMLResponse, RedirectResponse, Response

from slidefit.errors import FitError, SlidefitError
from slidefit.market.market_fit import MarketFit
from slidefit.market.saved_fit import fit_text
from slidefit.regions.hand_edits import file_numbers, hand_edits, set_by_hand, write_fitted
from slidefit.regions.region import age_notes
from slidefit.regions.region_file import odd_notes, read_region
from slidefit.regions.region_folder import folder_entries, formers, go_back
from slidefit.regions.region_outlook import outlook_of_region, region_season, region_slides
from slidefit.report import formatting, sentences
from slidefit.report.charts.market_charts import price_by_weight, season_chart, slide_by_weight
from slidefit.report.market_content import season_table, slide_table
from slidefit.report.regions import change_content, region_content
from slidefit.report.regions.region_hand_outs import refresh_content
from slidefit.report.regions.region_sheet import region_sheet_html, write_hand_outs
from slidefit.web.jobs import FitProgress, refresh_regions
from slidefit.web.pages import (
    attachment,
    changing_form,
    csv_text,
    drawn_alone,
    fault_lines,
    office_of,
    picture,
    picture_response,
    said,
    stand_alone_policy,
)

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
        slides=slide_table(asked).without_constant("Month"),
        season=season_table(fit.season()),
        problem=problem,
        notes=fit.notes,
        rests_on=[
            f"{sentences.basis_line(fit.basis)}.",
            sentences.verdict_line(fit.basis.verdict),
            sentences.errors_line(fit.model.rule),
        ],
        alts={
            "price-by-weight": sentences.price_picture_alt(outlook),
            "slide-by-weight": f"{sentences.SLIDE_TITLE}. The numbers stand in the table.",
            "season": sentences.season_picture_alt(fit.season()),
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
    """Return a number from the address; None where it is empty."""
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
    since, until = (one_day(said(form, name)) for name in ("since", "until"))
    office.fitting.start(chosen, since, until)
    return RedirectResponse("/slide/fitting", status_code=303)


def one_day(text: str) -> date | None:
    """Return a day of a form; None where it is empty."""
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
    """Return a picture of the saved fit."""
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
    fit = office_of(request).desk.fit()
    if (name, kind) == ("slides", "csv"):
        return attachment(csv_text(asked_slides(request, fit)[0]), "slides.csv")
    if (name, kind) == ("season", "csv"):
        return attachment(csv_text(fit.season()), "season.csv")
    if (name, kind) == ("slide", "json"):
        return attachment(fit_text(fit), "slide.json")
    if kind == "csv" or kind == "json":
        raise FitError("there is no such file", remedy="Choose one on the page.")
    content = office_of(request).desk.picture(
        (name, kind, narrow), lambda: picture(figure_of(request, name), kind, narrow=narrow)
    )
    return picture_response(content, kind, save_as=name if kind == "png" else "")


@router.get("/regions")
def regions(request: Request) -> Response:
    """List the regions of the folder: how old, how far behind the book."""
    office = office_of(request)
    entries = folder_entries(office.desk.settings.regions, date.today(), office.desk.records())
    return office.page(request, "regions.html.j2", view="regions", entries=entries, words=region_content)


@router.post("/regions/make")
def make(request: Request, form: ChangingForm) -> Response:
    """Make a region from the saved fit; a file of that name is kept as its former version."""
    office = office_of(request)
    name = office.desk.make_region(said(form, "name"), date.today())
    return RedirectResponse(f"/regions/{name}", status_code=303)


@router.post("/regions/refresh")
def refresh(request: Request, form: ChangingForm) -> Response:
    """Fit every region of the folder anew, in the background; or write what was shown, with its hand-outs."""
    office = office_of(request)
    folder, work, today = office.desk.settings.regions, office.refreshing.made, date.today()
    if said(form, "write") == "yes" and work is not None and office.refreshing.progress.state == "done":
        work.write(folder)
        with drawn_alone():
            write_hand_outs(work, folder / "hand-outs", today, lambda _: None)
        office.refreshing.end(FitProgress())
        return RedirectResponse("/regions", status_code=303)
    office.refreshing.begin(refresh_regions, folder, office.desk.settings.book, today)
    return RedirectResponse("/regions/refresh", status_code=303)


@router.get("/regions/refresh")
def refreshing(request: Request) -> Response:
    """Show how far the season's work is, the page asking again by itself; then one table of all regions."""
    office = office_of(request)
    progress, work = office.refreshing.progress, office.refreshing.made
    if progress.state == "idle":
        return RedirectResponse("/regions", status_code=303)
    document = refresh_content(work, date.today(), written=False) if progress.state == "done" else None
    response = office.page(request, "refresh.html.j2", view="regions", progress=progress, document=document)
    if progress.state == "running":
        response.headers["Refresh"] = "1"
    return response


@router.get("/regions/{name}")
def region(request: Request, name: str) -> Response:
    """Show one region: its slide, its season, its former versions."""
    office = office_of(request)
    path = office.desk.region_path(name)
    read = read_region(path)
    today = date.today()
    slides, by_month = (
        slide_table(region_slides(read, months=months), region_content.slide_caption(read))
        for months in ([None], region_content.WEANING_MONTHS)
    )
    return office.page(
        request, "region.html.j2", view="regions", file=path.name, region=read, words=region_content,
        basis=sentences.basis_line(outlook_of_region(read).basis),
        notes=[*read.remarks, *age_notes(read, today), *odd_notes(read)],
        slides=slides.without_constant("Month"), slides_by_month=by_month,
        season=season_table(region_season(read)),
        formers=formers(path), renewal=None, edits=[change_content.edit_line(edit) for edit in hand_edits(path)],
    )  # fmt: skip


@router.get("/regions/{name}/numbers")
def numbers(request: Request, name: str) -> Response:
    """Show every number of a region's file in a field of its own, the fitted one beside."""
    return _numbers_page(request, office_of(request).desk.region_path(name), {}, [])


def _numbers_page(request: Request, path: Path, typed: dict[str, str], fault: list[str]) -> Response:
    days = {edit.where: edit.on for edit in hand_edits(path)}
    groups: dict[str, list[dict[str, Any]]] = {}
    for where, value, fitted in file_numbers(path):
        key = json.dumps(where)
        field = {
            "key": key, "name": change_content.number_name(where), "value": typed.get(key, f"{value:g}"),
            "fitted": "" if fitted is None else f"{fitted:g}",
            "state": f"set by hand on {formatting.day(days[where])}" if where in days else "",
        }  # fmt: skip
        groups.setdefault(str(where[0]), []).append(field)
    return office_of(request).page(
        request, "numbers.html.j2", status=400 if fault else 200, view="regions", file=path.name,
        region=read_region(path), groups=groups, fault=fault,
    )  # fmt: skip


def _typed(text: str, where: tuple[str | int, ...]) -> float:
    try:
        return float(text.strip().rstrip("%"))
    except ValueError:
        name = change_content.number_name(where)
        raise SlidefitError(f"{text!r} is not a number", where=name, remedy="Give a number.") from None


@router.post("/regions/{name}/numbers")
def set_numbers(request: Request, name: str, form: ChangingForm) -> Response:
    """Write the numbers that differ from the file's as set by hand today; the former version is kept."""
    path = office_of(request).desk.region_path(name)
    asked = {json.dumps(where): (where, value) for where, value, _ in file_numbers(path)}
    typed = {key: said(form, key) for key in asked if key in form}
    try:
        changed = {asked[k][0]: text for k, text in typed.items() if text.strip() != f"{asked[k][1]:g}"}
        set_by_hand(path, {where: _typed(text, where) for where, text in changed.items()}, date.today())
    except SlidefitError as fault:
        return _numbers_page(request, path, typed, fault_lines(fault))
    return RedirectResponse(f"/regions/{path.name}", status_code=303)


@router.get("/regions/{name}/file.toml")
def region_file(request: Request, name: str) -> Response:
    """Hand out a region's file."""
    return attachment(office_of(request).desk.region_path(name).read_bytes(), "region.toml")


@router.get("/regions/{name}/sheet")
def sheet(request: Request, name: str) -> Response:
    """Show the sheet of a region, to print and hand out."""
    read = read_region(office_of(request).desk.region_path(name))
    with drawn_alone():
        text = region_sheet_html(read, date.today(), old=True)
    return HTMLResponse(text, headers={"Content-Security-Policy": stand_alone_policy(text)})


@router.post("/regions/{name}/renew")
def renew(request: Request, name: str, form: ChangingForm) -> Response:
    """Show a region as it stands against the records' own; write the new one only when told to."""
    office = office_of(request)
    path = office.desk.region_path(name)
    renewal = office.desk.renewal(path, date.today())
    if said(form, "write") == "yes":
        write_fitted(renewal.new, path, hand_edits(path))
        return RedirectResponse(f"/regions/{path.name}", status_code=303)
    moved = [change for change in renewal.changes if change.moved]
    told: dict[str, Any] = {
        "file": path.name,
        "renewal": renewal,
        "words": region_content,
        "moved": change_content.moved_line(moved, len(renewal.changes) - 1),
        "moved_table": change_content.changes_table(renewal.old, renewal.new, moved) if moved else None,
        "table": change_content.changes_table(renewal.old, renewal.new, renewal.changes),
    }
    return office.page(request, "renew.html.j2", view="regions", **told)


@router.post("/regions/{name}/back")
def back(request: Request, name: str, form: ChangingForm) -> Response:
    """Put a former version of a region in place again."""
    path = office_of(request).desk.region_path(name)
    wanted = said(form, "version")
    go_back(path, int(wanted) if wanted.isdecimal() and len(wanted) < 9 else None)
    return RedirectResponse(f"/regions/{path.name}", status_code=303)
