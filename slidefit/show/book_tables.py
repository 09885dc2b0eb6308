"""Tables about records: what was read, what was set aside and why, and what the sale book holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd
from rich.table import Table

from slidefit.show import formatting as f
from slidefit.show.tables import new_table


def add_account(added: int, already_there: int, set_aside: int, reasons: Mapping[str, int]) -> Table:
    """Return the account of an addition; its lines add up to the rows read.

    Parameters
    ----------
    reasons : mapping of reason to rows
        For the rows set aside, the most frequent first in the table.
    """
    rows = [("rows read", f.count(added + already_there + set_aside)), ("added", f.count(added))]
    rows += [("already there", f.count(already_there)), ("set aside", f.count(set_aside))]
    rows += [(f"  {reason_words(reason)}", f.count(n)) for reason, n in _ranked(reasons)]
    return new_table("What was read", [("Rows", "left"), ("Count", "right")], rows)


def reasons_table(reasons: Mapping[str, int]) -> Table:
    """Return the rows set aside by reason, the most frequent first."""
    rows = [(reason_words(reason), f.count(n)) for reason, n in _ranked(reasons)]
    return new_table("Set aside", [("Reason", "left"), ("Rows", "right")], rows)


def reason_words(reason: str) -> str:
    """Return a reason's name as words.

    Examples
    --------
    >>> reason_words("missing_price")
    'missing price'
    """
    return reason.replace("_", " ")


def _ranked(reasons: Mapping[str, int]) -> list[tuple[str, int]]:
    return sorted(reasons.items(), key=lambda item: (-item[1], item[0]))


def counts_table(counts: pd.DataFrame, *, title: str = "Records in the book") -> Table:
    """Return counts of records: every column of numbers right and with thousands marked, the rest as text.

    Parameters
    ----------
    counts : DataFrame
        Such as ``market``, ``year``, ``sex``, ``lots``, ``head``; a column named ``year`` is not grouped.
    """
    numeric = [pd.api.types.is_numeric_dtype(counts[name]) for name in counts.columns]
    columns = [
        (str(name).replace("_", " ").capitalize(), "right" if number else "left")
        for name, number in zip(counts.columns, numeric, strict=True)
    ]
    rows = [
        [
            f.count(float(value)) if number and name != "year" else _plain(value)
            for name, number, value in zip(counts.columns, numeric, row, strict=True)
        ]
        for row in counts.itertuples(index=False, name=None)
    ]
    return new_table(title, columns, rows)


def _plain(value: object) -> str:
    if isinstance(value, pd.Timestamp):
        return f.day(value.date())
    if isinstance(value, float):
        return f"{value:.0f}"
    return str(value)


def preview_table(records: pd.DataFrame, columns: Sequence[str]) -> Table:
    """Return the first rows of tidy records as they were understood, for a look before adding."""
    rows = [
        [_cell(value) for value in row] for row in records[list(columns)].itertuples(index=False, name=None)
    ]
    return new_table("As understood", [(name, "left") for name in columns], rows)


def _cell(value: object) -> str:
    if value is None or value is pd.NaT or (isinstance(value, float) and pd.isna(value)):
        return ""
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    return f"{value:g}" if isinstance(value, float) else str(value)
