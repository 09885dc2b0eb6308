"""The page as one application: views, JSON interface, the door before them, and what happens on a fault."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.staticfiles import StaticFiles

from slidefit import __version__
from slidefit.errors import SlidefitError
from slidefit.web import api, decide_views, entry_views, records_views, region_views, slide_views
from slidefit.web.desk import Desk
from slidefit.web.entry import Entry
from slidefit.web.guard import HEADERS, Guard, TooLargeError
from slidefit.web.pages import Office, WrongTokenError, office_of
from slidefit.web.settings import Settings

log = logging.getLogger("slidefit.page")
ABOUT = (
    "The price slide of feeder calves from local sale records, and keep or sell on top of it. Weights are in "
    "pounds, prices in dollars per hundredweight. An estimate, no promise."
)


def create_app(settings: Settings) -> FastAPI:
    """Return the application for a book and a fit."""
    office = Office(Desk(settings))

    @asynccontextmanager
    async def running(_: FastAPI) -> AsyncIterator[None]:
        yield
        office.uploads.close()

    app = FastAPI(
        title="slidefit",
        version=__version__,
        description=ABOUT,
        docs_url=None,
        redoc_url=None,
        lifespan=running,
    )
    app.state.office = office
    app.add_api_route("/", home, include_in_schema=False)
    app.include_router(entry_views.router)
    app.include_router(records_views.router)
    app.include_router(slide_views.router)
    app.include_router(decide_views.router)
    app.include_router(region_views.router)
    app.include_router(api.router)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    app.add_exception_handler(SlidefitError, on_fault)
    app.add_exception_handler(WrongTokenError, on_wrong_token)
    app.add_exception_handler(TooLargeError, on_too_large)
    app.add_exception_handler(RequestValidationError, on_misshapen)
    app.add_exception_handler(HTTPException, on_status)
    app.add_exception_handler(Exception, on_crash)
    app.add_middleware(Entry, lock=office.lock)
    app.add_middleware(Guard, settings=settings)
    return app


def home(request: Request) -> Response:
    """Go to where the work goes on: the records first, the decision once there is a fit."""
    return RedirectResponse("/decide" if office_of(request).desk.has_fit() else "/records", status_code=303)


def is_api(request: Request) -> bool:
    """Tell whether a request is for the JSON interface."""
    return request.url.path.startswith("/api/")


def on_fault(request: Request, fault: Exception) -> Response:
    """Tell a fault of the input."""
    assert isinstance(fault, SlidefitError)
    return api.told(request, fault) if is_api(request) else office_of(request).fault(request, fault)


def on_wrong_token(request: Request, _: Exception) -> Response:
    """Refuse a change that does not come from our own page."""
    fault = SlidefitError(
        "this page is out of date", remedy="Go back, load it again and repeat what you did."
    )
    return office_of(request).page(
        request,
        "fault.html.j2",
        status=403,
        view="",
        title="Nothing was changed",
        lines=[fault.text()],
        back="/",
    )


def on_misshapen(request: Request, fault: Exception) -> Response:
    """Tell what does not fit the description of the interface."""
    if is_api(request):
        return api.misshapen(request, fault)
    return plain_page(request, 404, "There is no such page", "Choose one above.")


def on_status(request: Request, fault: Exception) -> Response:
    """Tell that there is no such page, or that it can't be asked so."""
    assert isinstance(fault, HTTPException)
    if isinstance(fault.__cause__, TooLargeError):
        return on_too_large(request, fault.__cause__)
    if is_api(request):
        answer = api.faults([SlidefitError(str(fault.detail))], fault.status_code)
        answer.headers.update(fault.headers or {})
        return answer
    return plain_page(request, fault.status_code, "There is no such page", "Choose one above.")


def on_too_large(request: Request, fault: Exception) -> Response:
    """Refuse a request that grew beyond its limit while it came in."""
    return PlainTextResponse(f"{fault}\n", status_code=413, headers={"Connection": "close"})


def on_crash(request: Request, fault: Exception) -> Response:
    """Tell that a fault of ours stopped this request, and nothing else."""
    log.error("fault in %s", request.url.path, exc_info=fault)
    what = "a fault of the program stopped this request; nothing was changed by it and the page goes on"
    if is_api(request):
        answer: Response = api.faults([SlidefitError(what)], 500)
    else:
        answer = plain_page(request, 500, "A fault of the program", f"{what[:1].upper()}{what[1:]}.")
    answer.headers.update({**HEADERS, "Connection": "close"})  # goes out past the door, and ends the line
    return answer


def plain_page(request: Request, status: int, title: str, line: str) -> Response:
    """Return a page with one sentence."""
    return office_of(request).page(
        request, "fault.html.j2", status=status, view="", title=title, lines=[line], back="/"
    )
