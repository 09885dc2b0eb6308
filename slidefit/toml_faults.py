"""Faults in a TOML text that a person wrote, told with their line, their key and a remedy."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from slidefit.errors import SlidefitError
from slidefit.toml_lines import Where, line_of

Problem = tuple[Where, str, str]
"""Where (keys and positions), what is wrong, and the remedy."""

AT = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


def key_text(where: Where) -> str:
    """Return a key as a person would write it.

    >>> key_text(("programs", 1, "ration", 0, "lb_day"))
    'programs[2].ration[1].lb_day'
    """
    out = ""
    for key in where:
        out += f"[{key + 1}]" if isinstance(key, int) else f".{key}" if out else key
    return out


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
        place = ", ".join(filter(None, [name, f"line {line}" if line else "", key_text(where)]))
        told.append((line or 0, SlidefitError(what, where=place, remedy=remedy)))
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
    what = f"can't be read: {AT.sub('', str(fault))}: {fault_row(fault, text).strip()!r}"
    remedy = hint or "Check quotes, brackets, commas and the = sign on that line."
    return SlidefitError(what, where=f"{name}, line {_fault_line(fault, text)}", remedy=remedy)


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
