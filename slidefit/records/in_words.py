"""Head and weight that stand only in the words of a class or description: ``12 BLK STRS 545#``."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from slidefit.records.coded import Coded
from slidefit.records.fields import WEIGHT_FIELDS
from slidefit.records.headings import Heading
from slidefit.records.tables import Table

MOST = 0.5
_HEAD = re.compile(r"(?:^|[\s,(])(\d{1,4})\s?(?:head|hd)\b|\((\d{1,3})\)\s*$", re.IGNORECASE)
_WEIGHT = re.compile(
    r"(?<![\d.,-])(\d{3,4}\s?(?:-|–|to)\s?\d{3,4}|\d{3,4}(?=\s?(?:#|lbs?\b|pounds?\b|kgs?\b)))\s?(?:#|lbs?\b|pounds?\b|kgs?\b)?",
    re.IGNORECASE,
)


def completed(table: Table) -> Table:
    """Return a table with columns of head and weight where only its classes or descriptions tell them.

    Examples
    --------
    >>> names = Coded.of(["BLK STRS 545#", "Heifers 500-550 (9 hd)"])
    >>> told = completed(Table("a", (Heading("Class", "sex"),), (names,), np.array([1, 2])))
    >>> [(h.field, c.values) for h, c in zip(told.headings[1:], told.columns[1:], strict=True)]
    [('head', ('', '9')), ('weight_range', ('545#', '500-550'))]
    """
    fields = {heading.field for heading in table.headings} | set(table.said)
    for name, known, pattern, fewest in (
        ("head", {"head"}, _HEAD, 0.0),
        ("weight_range", set(WEIGHT_FIELDS), _WEIGHT, MOST),
    ):
        if not fields & known:
            column = _told(table, pattern, fewest)
            if column is not None:
                heading = Heading(name, name, 90, how="from the words of the class")
                table = replace(table, headings=(*table.headings, heading), columns=(*table.columns, column))
    return table


def _told(table: Table, pattern: re.Pattern[str], fewest: float) -> Coded | None:
    """Return what a pattern finds in the first class or description column where enough cells hold it."""
    for heading, column in zip(table.headings, table.columns, strict=True):
        if heading.field in ("sex", "category"):
            found = column.mapped(lambda text: _first(pattern, text))
            if np.mean(found.bools(bool)) > fewest:
                return found
    return None


def _first(pattern: re.Pattern[str], text: str) -> str:
    """Return what a pattern finds in a text: its first group that holds anything, or all of it for weights."""
    found = pattern.search(text)
    if found is None:
        return ""
    return found.group().strip() if pattern is _WEIGHT else str(found[1] or found[2])
