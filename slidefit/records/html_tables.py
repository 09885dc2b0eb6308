"""Tables of a web page, which some programs save under the name of a spreadsheet."""

from __future__ import annotations

from html.parser import HTMLParser

from slidefit.records.tables import Grid
from slidefit.records.texts import plain

_LINE_TAGS = frozenset({"h1", "h2", "h3", "h4", "p", "caption", "title"})
MOST_SPAN = 200


class _Cells(HTMLParser):
    """Collect the cells of all tables; headings and paragraphs become rows of one cell."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.rows: list[list[str]] = []
        self.down: dict[int, tuple[int, str]] = {}
        self.text: list[str] | None = None
        self.spans = (1, 1)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a row, a cell or a line of text."""
        if tag in ("td", "th", "tr"):
            self._close()
        if tag == "tr":
            self.rows.append([])
            self._carried()
        elif tag in ("td", "th"):
            given = {name: value or "1" for name, value in attrs}
            self.spans = tuple(
                min(int(text), MOST_SPAN) if (text := given.get(name, "1")).isdigit() else 1
                for name in ("colspan", "rowspan")
            )  # type: ignore[assignment]
            self.text = []
        elif tag in _LINE_TAGS and self.text is None:
            self.rows.append([])
            self.text = []
        elif tag == "br" and self.text is not None:
            self.text.append(" ")

    def handle_data(self, data: str) -> None:
        """Add text to the cell that is open."""
        if self.text is not None:
            self.text.append(data)

    def handle_endtag(self, tag: str) -> None:
        """Close a cell or a line; a row or a table closes the cell that is still open."""
        if tag in ("td", "th", "tr", "table", *_LINE_TAGS):
            self._close()

    def _close(self) -> None:
        """Write the open cell, over all the columns and rows that it spans."""
        if self.text is None:
            return
        text = plain(" ".join("".join(self.text).split()))
        self.text = None
        if not self.rows:
            self.rows.append([])
        for _ in range(self.spans[0]):
            if self.spans[1] > 1:
                self.down[len(self.rows[-1])] = (self.spans[1] - 1, text)
            self.rows[-1].append(text)
            self._carried()
        self.spans = (1, 1)

    def _carried(self) -> None:
        """Put in the cells that reach down from rows above."""
        while (held := self.down.get(len(self.rows[-1]))) is not None:
            place = len(self.rows[-1])
            left, text = held
            if left <= 1:
                del self.down[place]
            else:
                self.down[place] = (left - 1, text)
            self.rows[-1].append(text)


def html_grids(text: str, name: str) -> list[Grid]:
    """Return the cells of all tables of a page as one grid, titles between them."""
    parser = _Cells()
    parser.feed(text)
    return [Grid(name, parser.rows, list(range(1, len(parser.rows) + 1)))]
