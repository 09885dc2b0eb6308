"""A document as a page of HTML that stands alone: no other file, no script, no network."""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from matplotlib.figure import Figure

from slidefit.report.document import Document, Picture

TEMPLATES = Path(__file__).parent.parent / "templates"


def document_html(document: Document, *, ways: tuple[tuple[str, str], ...] = ()) -> str:
    """Return a document as the text of one HTML page.

    Parameters
    ----------
    ways : tuple of (words, address)
        Links above the document that are not printed; none for a page that is handed over.

    Notes
    -----
    Columns that belong to groups stand side by side on paper; on the screen each group has a table of its own.
    """
    return page_template("report.html.j2").render(document=document, ways=ways, picture=_address)


def notebook_fragment(document: Document) -> str:
    """Return a document as HTML to stand inside another page, such as a notebook's."""
    return page_template("fragment.html.j2").render(document=document, picture=_address)


@cache
def page_template(name: str) -> Template:
    """Return a page's template by its file name, escaping what is put into it."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)


def picture_address(figure: Figure) -> str:
    """Return a figure as an address that holds the picture itself."""
    from slidefit.report.charts.style import rendered

    return f"data:image/svg+xml;base64,{base64.b64encode(rendered(figure, 'svg')).decode()}"


def _address(picture: Picture) -> str:
    return picture_address(picture.draw())
