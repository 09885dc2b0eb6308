"""How many rows a set of files is likely to hold, from a look at their beginnings: for a progress bar only."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

LOOK_BYTES = 262_144
PLAIN_TEXT = frozenset({".csv", ".tsv", ".txt", ".psv", ".dat"})


def expected_rows(paths: Iterable[str | Path]) -> int | None:
    """Return the likely number of rows: size over the length of a line; None where a file isn't plain text.

    Examples
    --------
    >>> expected_rows(["missing.csv"]) is None
    True
    """
    rows = 0.0
    for path in map(Path, paths):
        if path.suffix.lower() not in PLAIN_TEXT or not path.is_file():
            return None
        with path.open("rb") as file:
            look = file.read(LOOK_BYTES)
        lines = look.count(b"\n")
        rows += path.stat().st_size / (len(look) / lines) if lines else 1.0
    return max(round(rows), 1)
