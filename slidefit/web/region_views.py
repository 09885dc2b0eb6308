"""Regions: the folder of default files, one of them, old against new, update, back, and the sheet to print."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.datastructures import FormData
from starlette.responses import HTMLResponse, RedirectResponse, Response

from slidefit.regions.age import age_notes
from slidefit.regions.checks import odd_notes
from slidefit.regions.folder import folder_entries
from slidefit.regions.history import formers, go_back, replace_region
from slidefit.regions.reading import read_region
from slidefit.regions.tables import region_season, region_slides
from slidefit.regions.to_outlook import outlook_of_region
from slidefit.show import region_text, region_wording, tables, wording
from slidefit.show.region_sheet import region_sheet_html
from slidefit.web.downloads import attachment, drawn_alone, stand_alone_policy
from slidefit.web.pages import changing_form, office_of, said
from slidefit.web.tables import cells, without_constant

router = APIRouter(include_in_schema=False)
ChangingForm = Annotated[FormData, Depends(changing_form)]


@router.get("/regions")
def regions(request: Request) -> Response:
    """List the regions of the folder: how old, how far behind the book."""
    office = office_of(request)
    entries = folder_entries(office.desk.settings.regions, date.today(), office.desk.records())
    return office.page(request, "regions.html.j2", view="regions", entries=entries, words=region_wording)


@router.post("/regions/make")
def make(request: Request, form: ChangingForm) -> Response:
    """Make a region from the saved fit; a file of that name is kept as its former version."""
    office = office_of(request)
    name = office.desk.make_region(said(form, "name"), date.today())
    return RedirectResponse(f"/regions/{name}", status_code=303)


@router.get("/regions/{name}")
def region(request: Request, name: str) -> Response:
    """Show one region: its slide, its season, its former versions."""
    office = office_of(request)
    path = office.desk.region_path(name)
    read = read_region(path)
    today = date.today()
    slides, by_month = (
        tables.slide_table(region_slides(read, months=months))
        for months in ([None], region_text.WEANING_MONTHS)
    )
    slides.caption = region_wording.slide_caption(read)
    return office.page(
        request, "region.html.j2", view="regions", file=path.name, region=read, words=region_wording,
        basis=wording.basis_line(outlook_of_region(read).basis),
        notes=[*read.remarks, *age_notes(read, today), *odd_notes(read)],
        slides=without_constant(cells(slides), "Month"), slides_by_month=by_month,
        season=tables.season_table(region_season(read)),
        formers=formers(path), renewal=None,
    )  # fmt: skip


@router.get("/regions/{name}/file.toml")
def region_file(request: Request, name: str) -> Response:
    """Hand out a region's file."""
    return attachment(office_of(request).desk.region_path(name).read_bytes(), "region.toml")


@router.get("/regions/{name}/sheet")
def sheet(request: Request, name: str) -> Response:
    """Show the sheet of a region, to print and hand out."""
    read = read_region(office_of(request).desk.region_path(name))
    with drawn_alone():
        text = region_sheet_html(read, date.today())
    return HTMLResponse(text, headers={"Content-Security-Policy": stand_alone_policy(text)})


@router.post("/regions/{name}/renew")
def renew(request: Request, name: str, form: ChangingForm) -> Response:
    """Show a region as it stands against the records' own; write the new one only when told to."""
    office = office_of(request)
    path = office.desk.region_path(name)
    renewal = office.desk.renewal(path, date.today())
    if said(form, "write") == "yes":
        replace_region(renewal.new, path)
        return RedirectResponse(f"/regions/{path.name}", status_code=303)
    moved = [change for change in renewal.changes if change.moved]
    told: dict[str, Any] = {
        "file": path.name,
        "renewal": renewal,
        "words": region_wording,
        "moved": region_wording.moved_line(moved, len(renewal.changes) - 1),
        "moved_table": region_text.changes_table(renewal.old, renewal.new, moved) if moved else None,
        "table": region_text.changes_table(renewal.old, renewal.new, renewal.changes),
    }
    return office.page(request, "renew.html.j2", view="regions", **told)


@router.post("/regions/{name}/back")
def back(request: Request, name: str, form: ChangingForm) -> Response:
    """Put a former version of a region in place again."""
    path = office_of(request).desk.region_path(name)
    wanted = said(form, "version")
    go_back(path, int(wanted) if wanted.isdigit() and len(wanted) < 9 else None)
    return RedirectResponse(f"/regions/{path.name}", status_code=303)
