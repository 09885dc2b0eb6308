"""Files that the page hands out: CSV that no spreadsheet runs, and pictures drawn one at a time."""

from __future__ import annotations

import base64
import hashlib
import re
import threading
from typing import Literal

import pandas as pd
from matplotlib.figure import Figure
from starlette.responses import Response

from slidefit.show.charts.style import narrowed, rendered

DANGEROUS = re.compile(r"[=+@\-\t\r\n]")
NUMBER = re.compile(r"[+-]?[\d.,]*\d[\d.,]*%?|-+")
KINDS = {
    "csv": "text/csv; charset=utf-8",
    "toml": "application/toml",
    "json": "application/json",
    "pdf": "application/pdf",
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


def picture(
    figure: Figure, kind: Literal["png", "svg"], *, save_as: str = "", narrow: bool = False
) -> Response:
    """Return a chart as an image; charts are drawn one at a time, for the drawing library shares its state."""
    with _drawing:
        content = rendered(narrowed(figure) if narrow else figure, kind)
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
