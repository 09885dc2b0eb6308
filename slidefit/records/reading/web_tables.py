"""Tables of a web page as grids of text: cells over several rows and columns filled, titles between the tables."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from slidefit.errors import RecordsError
from slidefit.records.reading.sources import plain
from slidefit.records.reading.tables import Grid

_UNREAD_TAGS = frozenset({"del", "s", "strike", "script", "style", "template"})
_UNSEEN = re.compile(r"display\s*:\s*none|visibility\s*:\s*(?:hidden|collapse)", re.IGNORECASE)
_UNSEEN_CLASS = re.compile(
    r"\.([\w-]+)\s*\{[^{}]*(?:display\s*:\s*none|visibility\s*:\s*hidden)", re.IGNORECASE
)
_LINE_TAGS = frozenset({"h1", "h2", "h3", "h4", "p", "caption", "title"})
_LIST_TAGS = frozenset({"li", "dt"})  # items of lists outside of tables; a name goes before its value
MOST_SPAN = 200  # columns or rows that one cell of a page may span
MOST_PAGE_CELLS = 2_000_000  # as in a workbook


class _Cells(HTMLParser):
    """Collect the cells of all tables; headings and paragraphs become rows of one cell."""

    def __init__(self, name: str, unseen: frozenset[str]) -> None:
        super().__init__(convert_charrefs=True)
        self.name, self.unseen = name, unseen
        self.unread = 0
        self.hidden: set[int] = set()
        self.rows: list[list[str]] = []
        self.down: dict[int, tuple[int, str]] = {}
        self.text: list[str] | None = None
        self.spans = (1, 1)
        self.count = 0
        self.of_list = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a row, a cell or a line of text."""
        self.unread += tag in _UNREAD_TAGS
        if tag in ("td", "th", "tr"):
            self._close()
        if tag == "tr":
            self.rows.append([])
            looks = {name: value or "" for name, value in attrs}
            classes = self.unseen.intersection(looks.get("class", "").split())
            if classes or "hidden" in looks or _UNSEEN.search(looks.get("style", "")):
                self.hidden.add(len(self.rows))
            self._carried()
        elif tag in ("td", "th"):
            self.of_list = False
            given = {name: value or "1" for name, value in attrs}
            self.spans = tuple(
                min(max(int(text), 1), MOST_SPAN) if (text := given.get(name, "1")).isdecimal() else 1
                for name in ("colspan", "rowspan")
            )  # type: ignore[assignment]
            self.text = []
        elif tag in _LINE_TAGS | _LIST_TAGS and self.text is None:
            self.of_list = tag in _LIST_TAGS
            self.rows.append([])
            self.text = []
        elif tag == "dd" and self.text is not None:
            self.text.append(": ")
        elif tag == "br" and self.text is not None:
            self.text.append(" ")

    def handle_data(self, data: str) -> None:
        """Add text to the cell that is open."""
        if self.text is not None and not self.unread:
            self.text.append(data)

    def handle_endtag(self, tag: str) -> None:
        """Close a cell or a line; a row or a table closes the cell that is still open."""
        self.unread = max(0, self.unread - (tag in _UNREAD_TAGS))
        if tag in ("td", "th", "tr", "table", *_LINE_TAGS) or (tag in ("li", "dd") and self.of_list):
            self._close()

    def _close(self) -> None:
        """Write the open cell, over all the columns and rows that it spans."""
        if self.text is None:
            return
        text = plain(" ".join("".join(self.text).split()))
        self.text = None
        if not self.rows:
            self.rows.append([])
        self.count += self.spans[0] * self.spans[1]
        if self.count > MOST_PAGE_CELLS:
            raise RecordsError(
                f"the tables of the page have more than {MOST_PAGE_CELLS:,} cells",
                where=self.name,
                remedy="Save the table of sales alone, as CSV.",
            )
        for _ in range(self.spans[0]):
            if self.spans[1] > 1:
                self.down[len(self.rows[-1])] = (self.spans[1] - 1, text)
            self.rows[-1].append(text)
            self._carried()
        self.spans = (1, 1)

    def _carried(self) -> None:
        """Put in the cells that reach down from rows above."""
        while (held := self.down.pop(place := len(self.rows[-1]), None)) is not None:
            left, text = held
            self.rows[-1].append(text)
            if left > 1:
                self.down[place] = (left - 1, text)


def html_grids(text: str, name: str) -> list[Grid]:
    """Return the cells of all tables of a page as one grid, titles between them; struck text is not read."""
    parser = _Cells(name, frozenset(_UNSEEN_CLASS.findall(text)))
    parser.feed(text)
    return [Grid(name, parser.rows, list(range(1, len(parser.rows) + 1)), hidden=frozenset(parser.hidden))]
