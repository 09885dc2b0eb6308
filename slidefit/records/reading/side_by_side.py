"""Tables that stand side by side under the same headings: set one below another, each under its own title."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from slidefit.records.reading.tables import Grid, distinct_texts, is_number, lone_text
from slidefit.records.words.animals import is_summary, sex_of
from slidefit.records.words.fields import PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.headings import parse_heading
from slidefit.records.words.report_days import names_other_day
from slidefit.records.words.titles import is_name, read_titles
from slidefit.records.words.vocabulary import words_of

_FEWEST_HEADINGS = 2  # of a block
_WIDEST_BLOCK = 40  # columns: a list of lots has about ten, and wider ones are looked for in vain
_Row = Sequence[str]
_Spans = list[tuple[int, int]]


def one_below_another(grid: Grid, mapping: Mapping[str, str] | None = None) -> list[Grid]:
    """Return a grid whose tables side by side stand one below another; any other as it is.

    A block whose title tells no place, day or class, beside others whose titles do, comes as a grid of its own.

    >>> rows = [["STEERS", "", "", "HEIFERS", ""], ["Wt", "Price", "", "Wt", "Price"], ["512", "390", "", "480", "370"]]
    >>> one_below_another(Grid("a", rows, [1, 2, 3]))[0].cells
    [['STEERS'], ['Wt', 'Price', ''], ['512', '390', ''], ['HEIFERS'], ['Wt', 'Price'], ['480', '370']]
    """
    kept: list[tuple[int, _Row]] = []
    apart: list[tuple[int, _Row]] = []
    spans: _Spans = []
    titles: list[list[str]] = []
    block: list[tuple[int, _Row]] = []  # the heading and what stands below it

    def finish() -> None:
        told = [_is_told(title) for title in titles]
        for (start, end), title, known in zip(spans, titles, told, strict=True):
            shared = spans[0][0]
            rows = [
                (n, [line] if (line := lone_text(row)) else _labelled(row, row[:shared], row[start:end]))
                for n, row in block
                if any(row[start:end]) or lone_text(row)
            ]
            if sum(not lone_text(row) for _, row in rows) > 1:
                other = (any(told) and not known) or any(map(names_other_day, title))
                (apart if other else kept).extend([*((block[0][0], [text]) for text in title), *rows])
        block.clear()

    for number, row in zip(grid.numbers, grid.cells, strict=True):
        found = _spans(row, mapping)
        if found:
            above, left = _titles(block or kept, found)
            lines = []
            while block and lone_text(block[-1][1]):
                lines.append(block.pop())
            head = [cell or (left[at] if at < len(left) else "") for at, cell in enumerate(row)]
            names = [_BRACKETS.sub("", title[-1]).strip() for title in above if title]
            told, weighed = any(map(_is_told, above)), _fields(head[: found[0][1]], mapping) & WEIGHT_FIELDS
            if weighed and not told and len(names) == len(found) and are_places(names, 2):
                above = [[*title[:-1], f"Barn: {name}"] for title, name in zip(above, names, strict=True)]
            elif (any(above) and not told) or not _fields(row[slice(*found[0])], mapping) & WEIGHT_FIELDS:
                return [grid]
            finish()
            kept.extend(lines[::-1])
            spans, titles = found, above
            block.append((number, head))
        elif not spans:
            kept.append((number, row))
        else:
            block.append((number, row))
    if not spans:
        return [grid]
    finish()
    parts = filter(None, (kept, apart))
    return [replace(grid, cells=[row for _, row in part], numbers=[n for n, _ in part]) for part in parts]


def _labelled(row: _Row, shared: _Row, cells: _Row) -> list[str]:
    """Return the cells of a block; the label of a row of averages stands but once, to the left of all blocks."""
    label = next(filter(is_summary, row), "")
    blank = next((at for at, cell in enumerate(cells) if not cell.strip()), None)
    if not label or blank is None or label in cells:
        return [*shared, *cells]
    return [*shared, *cells[:blank], label, *cells[blank + 1 :]]


def _is_told(title: Sequence[str]) -> bool:
    """Tell whether a title names a class, a place or a day."""
    return bool(read_titles(title).keys() & {"market", "date"} or any(map(sex_of, title)))


_TIME, _NO_PLACE = words_of("heading_parts", "time"), words_of("heading_parts", "no_place")
_BRACKETS = re.compile(r"\([^()]*\)")


def are_places(texts: Sequence[str], fewest: int = 3) -> bool:
    """Tell whether texts are names of places: most of two words (two alone both), none of time or of classes.

    >>> are_places(["Ash Flat", "Boone Mill", "Paxton"]), are_places(["This Wk", "Prev Wk", "Yr Ago"])
    (True, False)
    """
    named = not any(_TIME.search(text) or _NO_PLACE.search(text) for text in texts)
    if not named or len(set(texts)) < max(fewest, len(texts)):
        return False
    long = [is_name(text) or (" " in text and text.istitle() and not sex_of(text)) for text in texts]
    plain = [is_name(text) or (" " not in text and is_name(f"{text} {text}")) for text in texts]
    if len(texts) <= 2:
        return all(map(is_name, texts))
    most = 2 * sum(plain) > len(texts) and 2 * sum(long) >= len(texts)
    return most and all(map(any, zip(long, plain, strict=True)))


def _titles(rows: list[tuple[int, _Row]], spans: _Spans) -> tuple[list[list[str]], _Row]:
    """Take the rows that stand over two blocks or more off the end of those kept.

    Returns the texts over each block, and what stands to the left of all in the last one.
    """
    titles: list[list[str]] = [[] for _ in spans]
    left: _Row = []
    while rows:
        row = rows[-1][1]
        over = [distinct_texts(row[start:end]) for start, end in spans]
        plain = not any(is_number(text) for texts in over for text in texts)
        if not plain or min(len(distinct_texts(row)), sum(map(bool, over))) < _FEWEST_HEADINGS:
            break
        rows.pop()
        left = left or row[: spans[0][0]]
        titles = [[*texts, *below] for texts, below in zip(over, titles, strict=True)]
    return titles, left


def _fields(cells: _Row, mapping: Mapping[str, str] | None) -> set[str]:
    return {parse_heading(text, mapping).field for text in cells if text}


def _spans(row: _Row, mapping: Mapping[str, str] | None) -> _Spans:
    """Return where the blocks of a row of headings begin and end, each with a price and, if not before, a weight."""
    texts = [" ".join(cell.split()) for cell in row]
    if len(set(texts)) > len(texts) - _FEWEST_HEADINGS or any(map(is_number, texts)):
        return []
    for step in range(_FEWEST_HEADINGS, min(len(texts) - 1, _WIDEST_BLOCK)):
        start = 0
        for end in range(len(texts) - step + 1):
            if end < len(texts) - step and texts[end] == texts[end + step]:
                continue
            count = 2 + max(end - start - 1, 0) // step
            width = end - start - (count - 2) * step
            weighed = _fields(texts[: start + width], mapping) & WEIGHT_FIELDS or not any(texts[:start])
            if weighed and _fields(texts[start : start + width], mapping) & PRICE_FIELDS:
                edges = [*range(start, start + count * step, step), len(texts)]
                return list(itertools.pairwise(edges))
            start = end + 1
    return []
