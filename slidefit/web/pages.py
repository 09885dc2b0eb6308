"""A view becomes a page; files in and out."""

from __future__ import annotations

import base64
import hashlib
import re
import secrets
import shutil
import tempfile
import threading
import time
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Literal, cast

import pandas as pd
from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from matplotlib.figure import Figure
from starlette.datastructures import FormData, UploadFile
from starlette.responses import HTMLResponse, Response

from slidefit.errors import RecordsError, SlidefitError
from slidefit.report import formatting, sentences
from slidefit.report.charts.style import narrowed, rendered
from slidefit.report.render.html import TEMPLATES
from slidefit.web.jobs import BackgroundFit, BackgroundWork
from slidefit.web.security import FIELD, Lock, Tokens
from slidefit.web.service import Service
from slidefit.web.workers import Readers

HELD_SECONDS = 1800.0
MOST_HELD = 40
MOST_FILES = 50
LONGEST_NAME = 240  # bytes; a file system takes 255
UNHELD = re.compile(r'[<>:"|?*]')  # no signs of a file's name on Windows
UNSHOWN = re.compile(r"[\x00-\x1f\x7f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True)
class Upload:
    """Files held for one browser, in the order in which they came, each under its name in a folder of its own."""

    owner: str
    folder: Path
    paths: tuple[Path, ...]
    until: float


def held_name(given: str | None) -> str:
    """Return the last part of a name from a browser, fit for a file: it may tell the day or the place of sale.

    >>> held_name("../../etc/passwd"), held_name("C:\\\\sales.csv"), held_name(".."), held_name("a?.csv")
    ('passwd', 'sales.csv', 'a file without a name', 'a_.csv')
    """
    last = re.split(r"[/\\]", given or "")[-1].encode("utf-8", "ignore")[-LONGEST_NAME:]
    name = UNHELD.sub("_", UNSHOWN.sub("", last.decode("utf-8", "ignore")))
    return name.strip(". ") or "a file without a name"


class Uploads:
    """Holds uploads by a number that can't be guessed; each is removed when it was used, or after half an hour."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: dict[str, Upload] = {}
        self._root = tempfile.TemporaryDirectory(prefix="slidefit-page-")

    def hold(self, owner: str, files: Sequence[tuple[str | None, BinaryIO]]) -> str:
        """Keep files for a browser; return the number to ask for them by."""
        if not files:
            raise RecordsError("no file was chosen", remedy="Choose one or more files of sale records.")
        if len(files) > MOST_FILES:
            raise RecordsError(
                f"{len(files)} files at once; the page takes {MOST_FILES}", remedy="Add them in parts."
            )
        folder = Path(tempfile.mkdtemp(dir=self._root.name))
        paths = tuple(folder / str(at) / held_name(given) for at, (given, _) in enumerate(files))
        for path, (_, stream) in zip(paths, files, strict=True):
            path.parent.mkdir()
            with path.open("wb") as file:
                shutil.copyfileobj(stream, file)
        number = secrets.token_hex(16)
        with self._lock:
            self._held[number] = Upload(owner, folder, paths, time.monotonic() + HELD_SECONDS)
        self.sweep()
        return number

    def find(self, number: str, owner: str) -> Upload:
        """Return what is held under a number for this browser."""
        self.sweep()
        with self._lock:
            found = self._held.get(number)
        if found is None or found.owner != owner:
            raise RecordsError("the files are no longer held here", remedy="Choose them again.")
        return found

    def drop(self, number: str) -> None:
        """Take the files of a number away."""
        with self._lock:
            found = self._held.pop(number, None)
        if found is not None:
            shutil.rmtree(found.folder, ignore_errors=True)

    def sweep(self) -> None:
        """Take away what is held too long, and the oldest when too much is held."""
        now = time.monotonic()
        with self._lock:
            old = [number for number, each in self._held.items() if each.until < now]
            spare = len(self._held) - len(old) - MOST_HELD
            old += [number for number in self._held if number not in old][: max(spare, 0)]
        for number in old:
            self.drop(number)

    def close(self) -> None:
        """Take everything away."""
        with self._lock:
            self._held.clear()
        self._root.cleanup()


HERE = Path(__file__).parent
MOST_FIELDS = 3000
MOST_FORM_FILES = 60
BUSY = "busy"
VIEWS = {**{name: name for name in ("records", "slide", "decide", "regions")}, "O": "decide"}
"""The view that an address belongs to, by its first part."""


class Context:
    """What every view works with: the desk, the uploads, the fit under way, tokens, lock and templates."""

    def __init__(self, desk: Service) -> None:
        self.desk = desk
        self.uploads = Uploads()
        self.fitting = BackgroundFit(desk.settings)
        self.refreshing = BackgroundWork()
        self.readers = Readers()
        self.tokens = Tokens()
        self.lock = Lock(desk.settings.key)
        self._templates = Environment(
            loader=FileSystemLoader([HERE / "templates", TEMPLATES]),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        self._templates.globals.update(f=formatting, sentences=sentences)

    def drawn(self, request: Request, template: str, **told: Any) -> str:
        """Return the text of a template."""
        return self._templates.get_template(template).render(
            token=self.tokens.token(self.tokens.browser(request)),
            token_field=FIELD,
            has_book=self.desk.has_book(),
            has_fit=self.desk.has_fit(),
            **told,
        )

    def page(self, request: Request, template: str, *, status: int = 200, **told: Any) -> Response:
        """Return a page drawn from a template."""
        response = HTMLResponse(self.drawn(request, template, **told), status_code=status)
        self.tokens.remember(request, response)
        return response

    def fault(self, request: Request, fault: SlidefitError) -> Response:
        """Return the page that tells a fault of the input, or that the book is busy; the way on is the view's own."""
        busy, path = fault.code == BUSY, request.url.path
        view = VIEWS.get(path.split("/")[1], "")
        plan = f"?{request.url.query}" if view == "decide" and request.url.query else ""
        return self.page(
            request,
            "fault.html.j2",
            status=503 if busy else 400,
            view=view,
            title="The sale book is in use" if busy else "That did not work",
            lines=fault_lines(fault),
            back="/" if path in ("/", f"/{view}") else f"/{view}{plan}",
        )


def office_of(request: Request) -> Context:
    """Return the office of the running page."""
    return cast(Context, request.app.state.office)


def fault_lines(fault: SlidefitError) -> list[str]:
    """Return a fault's message, a line each."""
    return fault.text().split("\n")


class WrongTokenError(Exception):
    """A change was asked for without the token of our own pages."""


async def changing_form(request: Request) -> AsyncIterator[FormData]:
    """Yield the form of a change, its token checked, and close its files after the answer."""
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


DANGEROUS = re.compile(r"[=+@\-\t\r\n]")
NUMBER = re.compile(r"[+-]?(?<![\d.,])[.,]*+\d[\d.,]*+%?|-+")
KINDS = {
    "csv": "text/csv; charset=utf-8",
    "toml": "application/toml",
    "json": "application/json",
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
PICTURE_KINDS: dict[Literal["png", "svg"], str] = {"png": "image/png", "svg": "image/svg+xml"}
STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_drawing = threading.Lock()


def inert(value: object) -> object:
    """Return a cell that no spreadsheet runs: text that begins like a formula gets an apostrophe before it.

    >>> inert("=1+1"), inert("-12.5"), inert("Alder Ford"), inert("@SUM(A1)")
    ("'=1+1", '-12.5', 'Alder Ford', "'@SUM(A1)")
    """
    if isinstance(value, str) and DANGEROUS.match(value) and not NUMBER.fullmatch(value):
        return f"'{value}"
    return value


def csv_text(table: pd.DataFrame) -> str:
    """Return a table as CSV with inert cells and headings."""
    safe = table.map(inert)
    safe.columns = pd.Index([inert(str(name)) for name in table.columns])
    return safe.to_csv(index=False)


def attachment(content: str | bytes, name: str) -> Response:
    """Return a file for the browser to save under a name of ours."""
    kind = KINDS[name.rpartition(".")[2]]
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=headers)


def picture(figure: Figure, kind: Literal["png", "svg"], *, narrow: bool = False) -> bytes:
    """Return a chart as a file; charts are drawn one at a time, for the drawing library shares its state."""
    with _drawing:
        return rendered(narrowed(figure) if narrow else figure, kind)


def picture_response(content: bytes, kind: Literal["png", "svg"], *, save_as: str = "") -> Response:
    """Return a picture to be shown, or to be saved under a name."""
    headers = {"Content-Disposition": f'attachment; filename="{save_as}.{kind}"'} if save_as else {}
    return Response(content, media_type=PICTURE_KINDS[kind], headers=headers)


def drawn_alone() -> threading.Lock:
    """Return the lock to hold while a page with charts of its own is drawn."""
    return _drawing


def stand_alone_policy(text: str) -> str:
    """Return the content policy of a page that stands alone: no script, its own style (by hash), its own pictures."""
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"
        for style in STYLE.findall(text)
    )
    return f"default-src 'none'; img-src data:; style-src {hashes}; base-uri 'none'; frame-ancestors 'none'"
