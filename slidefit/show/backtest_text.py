"""What the terminal says of past forecasts, and of the money that following them would have made."""

from __future__ import annotations

import pandas as pd
from rich.console import RenderableType
from rich.table import Table

from slidefit.decision.replay import Replay, replay_notes
from slidefit.market.accuracy import accuracy_notes, accuracy_table
from slidefit.market.backtest import Backtest
from slidefit.show import formatting as f
from slidefit.show import wording
from slidefit.show.tables import new_table, text_of


def backtest_text(test: Backtest, money: Replay, months_kept: int, *, width: int = 100) -> str:
    """Return the record of past forecasts, the money by months kept and by year, and what both say in words."""
    parts: list[RenderableType] = [
        wording.backtest_line(test),
        _accuracy(accuracy_table(test)),
        *(f"Note: {note}." for note in accuracy_notes(test)),
        "",
        wording.keeping_line(money.keeping),
        _money(money.by_months(), "Months kept", wording.REPLAY_TITLE),
        _money(money.by_year(months_kept), "Year", wording.replay_year_title(months_kept)),
        *(f"Note: {note}." for note in replay_notes(money)),
    ]
    return text_of(*parts, width=width)


def _accuracy(table: pd.DataFrame) -> Table:
    columns = [
        ("Ahead", "right"), ("Count", "right"), ("Bias", "right"), ("Error", "right"),
        ("In 50%", "right"), ("In 80%", "right"), ("In 95%", "right"),
        ("No change", "right"), ("Last year", "right"),
    ]  # fmt: skip
    names = (
        "bias_pct", "rmse_pct", "covered_50_pct", "covered_80_pct", "covered_95_pct", "skill_no_change_pct",
        "skill_last_year_pct",
    )  # fmt: skip
    rows = [
        [str(row["months_ahead"]), f.count(row["forecasts"])]
        + [f.percent(float(row[name]), decimals=1 if place < 2 else 0) for place, name in enumerate(names)]
        for row in table.to_dict(orient="records")
    ]
    return new_table(wording.ACCURACY_TITLE, columns, rows, caption=wording.ACCURACY_CAPTION)


def _money(table: pd.DataFrame, heading: str, title: str) -> Table:
    columns = [
        (heading, "right"), ("Decisions", "right"), ("Advice kept", "right"), ("Always keep", "right"),
        ("The advice", "right"), ("Hindsight", "right"), ("Advice right", "right"),
    ]  # fmt: skip
    rows = [
        (
            str(row[table.columns[0]]), f.count(row["decisions"]), f.count(row["kept"]),
            f.money(row["always_keep"], sign=True), f.money(row["advice"], sign=True),
            f.money(row["hindsight"], sign=True), f.percent(100.0 * row["right"], decimals=0),
        )
        for row in table.to_dict(orient="records")
    ]  # fmt: skip
    return new_table(title, columns, rows, caption=wording.REPLAY_CAPTION)
