"""Tables and lines as plain text for a terminal."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from copy import copy

from rich import box
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text


def new_table(
    title: str, columns: Sequence[tuple[str, str]], rows: Iterable[Sequence[str]], *, caption: str = ""
) -> Table:
    """Return a table in the house style.

    Parameters
    ----------
    columns : sequence of (heading, 'left' or 'right')
    rows : iterable of sequences of str
        Shown as they stand: brackets are no markup. Right columns hold numbers and never wrap.
    """
    table = Table(
        title=Text(title, style="bold"), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False,
        caption=Text(caption) if caption else None, caption_justify="left", header_style="bold",
    )  # fmt: skip
    for heading, side in columns:
        number = side == "right"
        table.add_column(
            Text(heading), justify="right" if number else "left", overflow="fold", no_wrap=number
        )
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


def text_of(*parts: RenderableType, width: int = 100) -> str:
    """Return tables and lines as plain text, ``width`` columns at most; a table's title may be wider than it."""
    out = io.StringIO()
    console = Console(file=out, width=width, color_system=None, highlight=False, legacy_windows=False)
    for number, part in enumerate(parts):
        if isinstance(part, Table):
            bare = copy(part)
            bare.title = bare.caption = None
            lines: list[RenderableType] = [part.title or "", bare, part.caption or ""]
            console.print(*([""] if number else []), *filter(None, lines), sep="\n")
        else:
            console.print(Text(part) if isinstance(part, str) else part)
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"
