"""Text whose columns are held apart by blanks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from slidefit.records.reading.tables import Grid

FEWEST_ALIGNED_LINES = 3
_RULE = re.compile(r"^[\s=_*+|-]*$")
_APART = re.compile(r"(?:[^\W\d_]+\.? )*[^\W\d_]+\.?(?= \d)|\S+(?: \S+)*")
_SPACED_OUT = re.compile(r"(?<!\S)[A-Z](?: [A-Z]){3,}(?!\S)")  # as S T E E R S


def aligned_grid(text: str, name: str) -> Grid | None:
    """Return the cells of text whose columns are held apart by blanks, or None when it is no such text.

    A line splits where two or more blanks stand; where lines have fewer cells than the commonest, the edges of the
    columns decide which cell is missing.
    """
    lines = text.expandtabs(8).split("\n")
    lines = [
        _SPACED_OUT.sub(lambda found: found.group().replace(" ", "").ljust(len(found.group())), x)
        for x in lines
    ]
    lines = ["" if _RULE.match(line) else line for line in lines]
    split = [list(re.finditer(r"\S+(?: \S+)*", line)) for line in lines]
    widths = Counter(len(parts) for parts in split if len(parts) >= 3)
    if not widths or sum(widths.values()) < FEWEST_ALIGNED_LINES:
        return None
    width = max(widths, key=lambda size: (widths[size], size))
    full = [parts for parts in split if len(parts) == width]
    if len(full) < FEWEST_ALIGNED_LINES:
        return None
    spans = [
        (min(parts[place].start() for parts in full), max(parts[place].end() for parts in full))
        for place in range(width)
    ]
    cells = []
    for line, parts, below in zip(lines, split, [*split[1:], []], strict=True):
        apart = list(_APART.finditer(line))
        if width > len(parts) and [_nearest(part, spans) for part in apart] == list(range(width)):
            parts = apart  # a class and a count with but one blank between
        if len(parts) == width or len(parts) < 2:
            cells.append([part.group() for part in parts])
            continue
        over = _repeated_from([part.group() for part in below], len(parts))
        row = [""] * width
        for number, part in enumerate(parts):
            place = _nearest(part, spans)
            if over >= 0 and len(below) == width:
                place = over + number * (width - over) // len(parts)
            row[place] = f"{row[place]}  {part.group()}".strip()
        cells.append(row)
    return Grid(name, cells, list(range(1, len(lines) + 1)))


def _nearest(part: re.Match[str], spans: Sequence[tuple[int, int]]) -> int:
    """Return the column whose middle lies nearest to that of a piece of a line."""
    return min(range(len(spans)), key=lambda at: abs(sum(spans[at]) - sum(part.span())))


def _repeated_from(headings: Sequence[str], times: int) -> int:
    """Return the place from which headings repeat so many times, as under STEERS and HEIFERS; -1 for none.

    >>> _repeated_from(["Weight", "Head", "Price", "Head", "Price"], 2), _repeated_from(["Head", "Wt", "Price"], 2)
    (1, -1)
    """
    for place in range(len(headings) - times):
        length, left = divmod(len(headings) - place, times)
        if (
            times > 1
            and not left
            and list(headings[place:]) == list(headings[place : place + length]) * times
        ):
            return place
    return -1
