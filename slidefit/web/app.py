"""The app with its routes; started and stopped; the entry view."""

from __future__ import annotations

import gc
import logging
import socket
import threading
import webbrowser
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import uvicorn
from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.staticfiles import StaticFiles

from slidefit import __version__
from slidefit.errors import SlidefitError
from slidefit.files import disk_fault
from slidefit.web import api, decide_views, market_views, paper_views, quick_views, records_views
from slidefit.web.door import Spoken
from slidefit.web.pages import Context, WrongTokenError, office_of, said
from slidefit.web.security import (
    ENTER,
    HEADERS,
    HERE,
    EntryForm,
    SecurityMiddleware,
    Settings,
    TooLargeError,
    TooSlowError,
    is_loopback,
    new_key,
    sender_of,
)
from slidefit.web.service import Service
from slidefit.web.workers import warm

log = logging.getLogger("slidefit.page")
ABOUT = (
    "The price slide of feeder calves from local sale records, and keep or sell on top of it. Weights are in "
    "pounds, prices in dollars per hundredweight. An estimate, not a promise."
)


def create_app(settings: Settings) -> FastAPI:
    """Return the application for a book and a fit."""
    office = Context(Service(settings))

    @asynccontextmanager
    async def running(_: FastAPI) -> AsyncIterator[None]:
        warm()
        gc.freeze()  # what is loaded by now stays: no later look for garbage goes over it again
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
    app.add_api_route("/", quick_views.home, include_in_schema=False)
    app.include_router(entry_router)
    app.include_router(records_views.router)
    app.include_router(market_views.router)
    app.include_router(decide_views.router)
    app.include_router(quick_views.router)
    app.include_router(paper_views.router)
    app.include_router(api.router)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    app.add_exception_handler(SlidefitError, on_fault)
    app.add_exception_handler(OSError, on_disk)
    app.add_exception_handler(WrongTokenError, on_wrong_token)
    for kind in CUT_SHORT:
        app.add_exception_handler(kind, on_cut_short)
    app.add_exception_handler(RequestValidationError, on_misshapen)
    app.add_exception_handler(HTTPException, on_status)
    app.add_exception_handler(Exception, on_crash)
    app.add_middleware(Spoken)
    app.add_middleware(EntryForm, lock=office.lock)
    app.add_middleware(SecurityMiddleware, settings=settings)
    return app


def is_api(request: Request) -> bool:
    """Tell whether a request is for the JSON interface."""
    return request.url.path.startswith("/api/")


def on_fault(request: Request, fault: Exception) -> Response:
    """Tell a fault of the input."""
    assert isinstance(fault, SlidefitError)
    return api.told(request, fault) if is_api(request) else office_of(request).fault(request, fault)


def on_disk(request: Request, fault: Exception) -> Response:
    """Tell what the disk refused, as a fault that its owner can see to."""
    assert isinstance(fault, OSError)
    log.warning("the system refused something for %s: %s", request.url.path, fault)
    return on_fault(request, disk_fault(fault, Path(str(fault.filename or "."))))


def on_wrong_token(request: Request, _: Exception) -> Response:
    """Refuse a change that does not come from our own page."""
    fault = SlidefitError(
        "this page is out of date", remedy="Go back, load it again and repeat what you did."
    )
    return plain_page(request, 403, "Nothing was changed", fault.text())


def on_misshapen(request: Request, fault: Exception) -> Response:
    """Tell what does not fit the description of the interface."""
    if is_api(request):
        return api.misshapen(request, fault)
    return plain_page(request, 404, "There is no such page", "Choose one above.")


def on_status(request: Request, fault: Exception) -> Response:
    """Tell that there is no such page, or that it can't be asked so."""
    assert isinstance(fault, HTTPException)
    cause = fault.__cause__
    if isinstance(cause, Exception) and type(cause) in CUT_SHORT:
        return on_cut_short(request, cause)
    if is_api(request):
        answer = api.faults([SlidefitError(str(fault.detail))], fault.status_code)
        answer.headers.update(fault.headers or {})
        return answer
    return plain_page(request, fault.status_code, "There is no such page", "Choose one above.")


CUT_SHORT: dict[type[Exception], tuple[int, str]] = {
    TooLargeError: (413, ""),
    TooSlowError: (408, "gave up a request for %s: its body did not come in time"),
    ClientDisconnect: (400, "a request for %s was broken off by its sender"),
}
"""What ends a request while it comes in: the status of the answer, and what is noted."""


def on_cut_short(request: Request, fault: Exception) -> Response:
    """Refuse a request that grew beyond its limit, stopped coming or was broken off; nothing more is read of it."""
    status, note = CUT_SHORT[type(fault)]
    if note:
        log.warning(note, request.url.path)
    return PlainTextResponse(f"{fault}\n", status_code=status, headers={"Connection": "close"})


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


OPEN_TO_ALL = (
    "Mind: whoever is on this network and has the key can see the records and change them, and what goes over the "
    "network can be read on its way. Give the key to nobody else; leave --host out to keep the page to this machine."
)
EVERYWHERE = ("0.0.0.0", "::")
NOBODY = "192.0.2.1"
"""An address that is kept for examples; nothing is sent to it, only the way there is looked up."""
SIMULTANEOUS = 128


def listening(settings: Settings) -> socket.socket:
    """Return a socket that listens where the settings say."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((settings.host, settings.port))
        made.listen(SIMULTANEOUS)
    except (OSError, OverflowError) as fault:
        made.close()
        raise SlidefitError(
            f"can't listen there ({getattr(fault, 'strerror', None) or fault})",
            where=f"{settings.host}, port {settings.port}",
            remedy="Choose another port with --port, or stop the program that uses this one.",
        ) from fault
    return made


def address_of(settings: Settings, port: int) -> str:
    """Return the address to open on this machine, with the key if there is one.

    >>> from pathlib import Path
    >>> address_of(Settings(Path("b"), Path("f"), host="::1"), 80)
    'http://[::1]:80/'
    """
    return _written(HERE if settings.host in EVERYWHERE else settings.host, port, settings.key)


def network_address_of(settings: Settings, port: int) -> str:
    """Return the address to open on another machine of the network."""
    return _written(own_address() if settings.host in EVERYWHERE else settings.host, port, settings.key)


def own_address() -> str:
    """Return this machine's address on its network, or its name where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect((NOBODY, 9))
        except OSError:
            return socket.gethostname()
        return str(way.getsockname()[0])


def _written(host: str, port: int, key: str) -> str:
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/{f'enter?key={key}' if key else ''}"


def serve(settings: Settings, *, open_browser: bool, tell: Callable[[str], None]) -> None:
    """Run the page until it is stopped from the keyboard; where others can reach it, it gets a key."""
    if not is_loopback(settings.host):
        settings = replace(settings, key=new_key())
    made = listening(settings)
    port = made.getsockname()[1]
    address = address_of(settings, port)
    tell(f"The page is at {address}  (stop it with Ctrl+C)")
    if settings.key:
        tell(f"From other machines: {network_address_of(settings, port)}\n{OPEN_TO_ALL}")
    if open_browser:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    config = uvicorn.Config(
        create_app(settings),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_keep_alive=15,
    )
    uvicorn.Server(config).run(sockets=[made])


entry_router = APIRouter(include_in_schema=False)
WRONG = "That is not the key. It stands at the end of the address that was printed when the page was started."
PAUSED = "Too many wrong keys came from here. Wait a minute, then try again."


@entry_router.get(ENTER)
def enter(request: Request, key: str = "") -> Response:
    """Let a browser in that comes with the key in its address; ask the others for it."""
    lock = office_of(request).lock
    if lock.knows(request):
        return RedirectResponse("/", status_code=303)
    return entered(request, key) if key else asked(request, "")


@entry_router.post(ENTER)
async def enter_typed(request: Request) -> Response:
    """Let a browser in whose user typed the key."""
    async with request.form() as form:
        return entered(request, said(form, "key"))


def entered(request: Request, key: str) -> Response:
    """Let a browser in, or say that the key is wrong."""
    lock, sender = office_of(request).lock, sender_of(request)
    if not lock.fits(key, sender):
        return asked(request, PAUSED if lock.pauses(sender) else WRONG)
    response = RedirectResponse("/", status_code=303)
    lock.let_in(response)
    return response


def asked(request: Request, problem: str) -> Response:
    """Return the page that asks for the key."""
    status = 401 if not problem else 429 if problem == PAUSED else 403
    return office_of(request).page(request, "enter.html.j2", status=status, view="", problem=problem)
