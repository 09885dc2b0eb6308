"""The line and key of a fault in a hand-written TOML text."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from slidefit.errors import Path as KeyPath
from slidefit.errors import SlidefitError
from slidefit.facts import Words

Where = KeyPath
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


Problem = tuple[Where, Words, Words]
"""Where (keys and positions), what is wrong, and the remedy."""

MOST_SHOWN = 100
"""Signs of a row that a message repeats: a line of a terminal."""

AT = re.compile(r"(?<!\s)\s*+\(at (?:line (\d+), column \d+|end of document)\)")


def suggest_key(key: str, known: Sequence[str]) -> str:
    """Return the remedy for an unknown key: the nearest known one, or all of them."""
    near = [name for name in known if name.startswith(f"{key}_") or key.startswith(f"{name}_")]
    near = near or difflib.get_close_matches(key, known, n=1, cutoff=0.6)
    return f"Did you mean {near[0]}?" if near else f"Known here: {', '.join(known)}."


def placed(problems: Iterable[Problem], name: str, lines: Mapping[Where, int]) -> list[SlidefitError]:
    """Return problems as errors in the order of the file, each with the line of its key; ``name`` is the file's."""
    told = []
    for where, what, remedy in problems:
        line = line_of(where, lines)
        told.append((line or 0, SlidefitError(what, where=name, line=line, path=where, remedy=remedy)))
    return [fault for _, fault in sorted(told, key=lambda each: each[0])]


def _fault_line(fault: tomllib.TOMLDecodeError, text: str) -> int:
    found = AT.search(str(fault))
    return int(found.group(1)) if found and found.group(1) else max(len(text.splitlines()), 1)


def fault_row(fault: tomllib.TOMLDecodeError, text: str) -> str:
    """Return the row of the text that is no TOML; empty past its end."""
    rows, number = text.splitlines(), _fault_line(fault, text)
    return rows[number - 1] if number <= len(rows) else ""


def syntax_fault(fault: tomllib.TOMLDecodeError, text: str, name: str, hint: str = "") -> SlidefitError:
    """Return a plain word on a text that is not TOML; ``hint`` is the remedy where one is known."""
    what = f"can't be read: {AT.sub('', str(fault))}: {fault_row(fault, text).strip()[:MOST_SHOWN]!r}"
    remedy = hint or "Check quotes, brackets, commas and the = sign on that line."
    return SlidefitError(what, where=f"{name}, line {_fault_line(fault, text)}", remedy=remedy)


def toml_tables_of(text: str, name: str, hint: Callable[[str], str] = lambda row: "") -> dict[str, Any]:
    """Return the tables of a TOML text; ``hint`` says the remedy for a row that can't be read.

    Raises
    ------
    SlidefitError
        The text is not TOML, or is nested deeper than anybody writes by hand.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise syntax_fault(fault, text, name, hint(fault_row(fault, text))) from None
    except RecursionError:
        raise SlidefitError(
            "is nested too deep to be read",
            where=name,
            remedy="Take out the brackets that open and never close.",
        ) from None


def toml_text(path: Path) -> str:
    """Return the text of a file.

    Raises
    ------
    SlidefitError
        The file is missing or not text.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise SlidefitError(
            "there is no such file", where=str(path), remedy="Check the name and the folder."
        ) from None
    except (OSError, UnicodeDecodeError) as trouble:
        raise SlidefitError(
            f"can't be read as text ({trouble})", where=str(path), remedy="Give a TOML file."
        ) from None
