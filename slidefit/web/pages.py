"""How a view becomes a page: the templates, what every page knows, and the words for faults."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any, cast

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.datastructures import FormData, UploadFile
from starlette.responses import HTMLResponse, Response

from slidefit.errors import BookError, SlidefitError
from slidefit.show import formatting, wording
from slidefit.web.desk import Desk
from slidefit.web.entry import Lock
from slidefit.web.fitting import Fitting
from slidefit.web.tables import cells
from slidefit.web.tokens import FIELD, Tokens
from slidefit.web.uploads import Uploads

HERE = Path(__file__).parent
MOST_FIELDS = 3000
MOST_FORM_FILES = 60
FLAG_WORDS = {
    "--price-unit": "the unit of price below,",
    "--weight-unit": "the unit of weight below,",
    "--date-order": "the order of dates below,",
    "--sheet": "the sheet below",
    "--market": "the market below",
    "--map": "what the column is, below,",
    "--book": "another book",
    "--weight": "weight",
    "--month": "month",
}
MAP_FLAG = re.compile(r'--map "[^"]*=(\w+)"')
COMMAND_WORDS = {
    "Fit again from the book: slidefit fit": "Fit again below.",
    "Fit again: slidefit fit": "Fit again below.",
}
BUSY = ("another program is using",)


class Office:
    """What every view works with: the desk, the uploads, the fit under way, tokens, lock and templates."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.uploads = Uploads()
        self.fitting = Fitting(desk)
        self.tokens = Tokens()
        self.lock = Lock(desk.settings.key)
        self._templates = Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._templates.globals.update(cells=cells, f=formatting, wording=wording)

    def page(self, request: Request, template: str, *, status: int = 200, **told: Any) -> Response:
        """Return a page drawn from a template."""
        browser = self.tokens.browser(request)
        text = self._templates.get_template(template).render(
            token=self.tokens.token(browser),
            token_field=FIELD,
            has_book=self.desk.has_book(),
            has_fit=self.desk.has_fit(),
            **told,
        )
        response = HTMLResponse(text, status_code=status)
        self.tokens.remember(request, response)
        return response

    def fault(self, request: Request, fault: SlidefitError, *, view: str = "", back: str = "/") -> Response:
        """Return the page that tells a fault of the input, or that the book is busy."""
        busy = isinstance(fault, BookError) and fault.what.startswith(BUSY)
        return self.page(
            request,
            "fault.html.j2",
            status=503 if busy else 400,
            view=view,
            title="The sale book is in use" if busy else "That did not work",
            lines=fault_lines(fault),
            back=back,
        )


def office_of(request: Request) -> Office:
    """Return the office of the running page."""
    return cast(Office, request.app.state.office)


def fault_lines(fault: SlidefitError) -> list[str]:
    """Return a fault's message a line each, with what the page offers in place of the command's flags."""
    text = MAP_FLAG.sub(r"give its heading below, as \1", fault.text())
    for command, words in COMMAND_WORDS.items():
        text = text.replace(command, words)
    for flag, words in FLAG_WORDS.items():
        text = text.replace(f"{flag} ", f"{words} ")
        text = text.replace(flag, words.rstrip(","))
    return text.split("\n")


class WrongTokenError(Exception):
    """A change was asked for without the token of our own pages."""


async def changing_form(request: Request) -> AsyncIterator[FormData]:
    """Yield the form of a change, its token checked, and close its files after the answer.

    Raises
    ------
    WrongTokenError
        The token is missing or another browser's.
    """
    async with request.form(max_files=MOST_FORM_FILES, max_fields=MOST_FIELDS) as form:
        if not office_of(request).tokens.fits(request, form.get(FIELD)):
            raise WrongTokenError
        yield form


def said(form: FormData, name: str) -> str:
    """Return a text of a form; empty when it is missing."""
    found = form.get(name)
    return found.strip() if isinstance(found, str) else ""


def files_of(form: FormData, name: str) -> list[UploadFile]:
    """Return the files of a form that hold a name or content."""
    return [
        item for item in form.getlist(name) if isinstance(item, UploadFile) and (item.filename or item.size)
    ]
