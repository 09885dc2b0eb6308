"""On which line of a TOML text each key stands, so that a fault can be pointed at."""

from __future__ import annotations

import re
from collections.abc import Mapping

Where = tuple[str | int, ...]
"""Keys and positions that lead to a value."""

HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
ASSIGNMENT = re.compile(
    r"""^\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=(.*)$"""
)
PART = re.compile(r"""[\w-]+|"[^"]*"|'[^']*'""")
TEXTS = re.compile(r""""(?:\\.|[^"\\])*"|'[^']*'|#.*""")
TRIPLE = re.compile(r'"""|' + "'''")


def key_parts(text: str) -> list[str]:
    """Return the parts of a dotted key.

    >>> key_parts('programs . "my pasture".acres')
    ['programs', 'my pasture', 'acres']
    """
    return [part.strip("\"'") for part in PART.findall(text)]


def opens_more(text: str) -> int:
    """Return how many brackets a line leaves open, texts and comments apart.

    >>> opens_more('[1, 2, # ]'), opens_more('3, 4]')
    (1, -1)
    """
    bare = TEXTS.sub("", text)
    return bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")


def table_path(parts: list[str], is_item: bool, counts: dict[Where, int]) -> Where:
    """Return where a header leads, with the position in each list of tables; keeps ``counts`` up to date."""
    path: Where = ()
    for depth, part in enumerate(parts):
        path = (*path, part)
        if is_item and depth == len(parts) - 1:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = (*path, counts[path] - 1)
    return path


def key_lines(text: str) -> dict[Where, int]:
    """Return the line (from 1) of every table and key of a TOML text that parses.

    Examples
    --------
    >>> lines = key_lines("[[groups]]\\nhead = 3\\n[[groups]]\\nname = 'b'\\n")
    >>> lines["groups", 0, "head"], lines["groups", 1], lines["groups", 1, "name"]
    (2, 3, 4)
    """
    lines: dict[Where, int] = {}
    counts: dict[Where, int] = {}
    table: Where = ()
    depth = 0
    in_text = False
    for number, line in enumerate(text.splitlines(), start=1):
        was_in_text = in_text
        if len(TRIPLE.findall(line)) % 2:
            in_text = not in_text
        if was_in_text or depth > 0:
            depth = max(0, depth + (0 if was_in_text else opens_more(line)))
            continue
        header = HEADER.match(line)
        if header:
            table = table_path(key_parts(header.group(2)), header.group(1) == "[[", counts)
            lines.setdefault(table, number)
            continue
        assignment = ASSIGNMENT.match(line)
        if assignment:
            lines.setdefault((*table, *key_parts(assignment.group(1))), number)
            depth = 0 if in_text else max(0, opens_more(assignment.group(2)))
    return lines


def line_of(where: Where, lines: Mapping[Where, int]) -> int | None:
    """Return the line of a key, or of the nearest table around it."""
    for size in range(len(where), 0, -1):
        for key in (where[:size], (*where[:size], 0)):
            if key in lines:
                return lines[key]
    return None
