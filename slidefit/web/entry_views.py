"""Where a page that is open to the network asks for its key."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from slidefit.web.entry import ENTER
from slidefit.web.pages import office_of, said

router = APIRouter(include_in_schema=False)
WRONG = "That is not the key. It stands at the end of the address that was printed when the page was started."
PAUSED = "Too many wrong keys came in. Wait a minute, then try again."


@router.get(ENTER)
def enter(request: Request, key: str = "") -> Response:
    """Let a browser in that comes with the key in its address; ask the others for it."""
    lock = office_of(request).lock
    if lock.knows(request):
        return RedirectResponse("/", status_code=303)
    return entered(request, key) if key else asked(request, "")


@router.post(ENTER)
async def enter_typed(request: Request) -> Response:
    """Let a browser in whose user typed the key."""
    async with request.form() as form:
        return entered(request, said(form, "key"))


def entered(request: Request, key: str) -> Response:
    """Let a browser in, or say that the key is wrong."""
    lock = office_of(request).lock
    if not lock.fits(key):
        return asked(request, PAUSED if lock.pauses() else WRONG)
    response = RedirectResponse("/", status_code=303)
    lock.let_in(response)
    return response


def asked(request: Request, problem: str) -> Response:
    """Return the page that asks for the key."""
    status = 401 if not problem else 429 if problem == PAUSED else 403
    return office_of(request).page(request, "enter.html.j2", status=status, view="", problem=problem)
