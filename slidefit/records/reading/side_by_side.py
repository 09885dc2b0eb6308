"""Tables that stand side by side under the same headings: set one below another, each under its own title."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from slidefit.records.reading.tables import Grid, distinct_texts, is_number
from slidefit.records.words.animals import is_summary, sex_of
from slidefit.records.words.fields import PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.headings import parse_heading
from slidefit.records.words.report_days import names_other_day
from slidefit.records.words.titles import read_titles

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
    head: tuple[int, _Row] = (0, [])
    block: list[tuple[int, _Row]] = []

    def finish() -> None:
        told = [_is_told(title) for title in titles]
        for (start, end), title, known in zip(spans, titles, told, strict=True):
            shared = spans[0][0]
            rows = [
                (n, _labelled(row, row[:shared], row[start:end]))
                for n, row in [head, *block]
                if any(row[start:end])
            ]
            if len(rows) > 1:
                other = (any(told) and not known) or any(map(names_other_day, title))
                (apart if other else kept).extend([*((head[0], [text]) for text in title), *rows])
        block.clear()

    for number, row in zip(grid.numbers, grid.cells, strict=True):
        found = _spans(row, mapping)
        if found:
            above = _titles(block or kept, found)
            finish()
            if any(above) and not any(map(_is_told, above)):
                return [grid]
            spans, titles, head = found, above, (number, row)
        elif not spans or (len(texts := distinct_texts(row)) == 1 and not is_number(texts[0])):
            finish()
            kept.append((number, row))
        else:
            block.append((number, row))
    if not spans:
        return [grid]
    finish()
    cells = [
        replace(grid, cells=[row for _, row in part], numbers=[n for n, _ in part]) for part in (kept, apart)
    ]
    return [part for part in cells if part.cells]


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


def _titles(rows: list[tuple[int, _Row]], spans: _Spans) -> list[list[str]]:
    """Take the rows that stand over two blocks or more off the end of those kept; return the texts over each block."""
    titles: list[list[str]] = [[] for _ in spans]
    while rows:
        row = rows[-1][1]
        over = [distinct_texts(row[start:end]) for start, end in spans]
        if sum(map(bool, over)) < _FEWEST_HEADINGS or any(
            is_number(text) for texts in over for text in texts
        ):
            break
        rows.pop()
        titles = [[*texts, *below] for texts, below in zip(over, titles, strict=True)]
    return titles


def _spans(row: _Row, mapping: Mapping[str, str] | None) -> _Spans:
    """Return where the blocks of a row of headings begin and end, each with a price and a weight; none for others."""
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
            fields = {parse_heading(text, mapping).field for text in texts[start : start + width] if text}
            if fields & PRICE_FIELDS and fields & WEIGHT_FIELDS:
                return [
                    (start + n * step, start + (n + 1) * step if n < count - 1 else len(texts))
                    for n in range(count)
                ]
            start = end + 1
    return []
