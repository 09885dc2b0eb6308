"""The report as one page of HTML that stands alone, for the kitchen table and for the lender."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from matplotlib.figure import Figure

from slidefit.show import wording
from slidefit.show.charts.style import rendered
from slidefit.show.report_content import Chart, Report


@dataclass(frozen=True)
class Picture:
    """A chart as it goes into the page: the image itself as a data address, and what it shows in words."""

    address: str
    alt: str


def report_html(report: Report, *, ways: tuple[tuple[str, str], ...] = ()) -> str:
    """Return the report as the text of one HTML page that needs no other file and no network.

    Parameters
    ----------
    ways : tuple of (words, address)
        Links above the report that are not printed; none for a page that is handed over.

    Notes
    -----
    On the screen each group stands apart; on paper the groups stand side by side, on two pages for up to three.
    """
    return page_template("report.html.j2").render(report=report, ways=ways, wording=wording, picture=_picture)


@cache
def page_template(name: str) -> Template:
    """Return a page's template by its file name, escaping what is put into it."""
    folder = Path(__file__).parent / "templates"
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)


def picture_of(figure: Figure, alt: str) -> Picture:
    """Return a figure as a picture that a page holds in itself."""
    data = base64.b64encode(rendered(figure, "svg")).decode()
    return Picture(f"data:image/svg+xml;base64,{data}", alt)


def _picture(chart: Chart) -> Picture:
    return picture_of(chart.figure, chart.alt)
