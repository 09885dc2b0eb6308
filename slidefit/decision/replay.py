"""What following the forecasts would have made."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.decision.comparison import compare
from slidefit.errors import FitError, OutlookError
from slidefit.facts import Setting, Text
from slidefit.market.backtest import Backtest, brought
from slidefit.market.blend import Origin
from slidefit.market.months import DAYS_PER_MONTH
from slidefit.market.outlook import BEYOND_DATA_LB, Outlook
from slidefit.plan.plan import Plan

FloatArray = NDArray[np.float64]

MONTHS_KEPT = tuple(range(1, 10))
NO_GAIN_HEAD = 1.0
LEAST_LEFT = 0.01
"""Share of a check that is left at the least, so that a loss of all of it has a logarithm (our choice)."""
RULES = ("always_sell", "always_keep", "advice", "hindsight")


@dataclass(frozen=True)
class Keeping:
    """A plain way of keeping calves, for replaying the past.

    Attributes
    ----------
    sex : str
    start_lb : float [lb]
    gain_lb_day : float [lb per day]
    cost_head_day : float [$ per head and day]
        Feed, health, interest and labor together.
    death_loss_pct : float [percent of head started]
        Over the whole time kept.
    shrink_pct : float [percent of weight]
        Taken at either sale.
    costs_of_cwt : float or None [$/cwt]
        The standard calf's price when ``cost_head_day`` held: in years of other prices the cost is scaled by theirs,
        since feed, fuel and labor rose with them. None leaves it as it is.
    """

    sex: str = "steer"
    start_lb: float = 500.0
    gain_lb_day: float = 2.0
    cost_head_day: float = 1.25
    death_loss_pct: float = 1.0
    shrink_pct: float = 3.0
    costs_of_cwt: float | None = None


@dataclass(frozen=True)
class Replay:
    """What each rule made, per head started.

    Attributes
    ----------
    keeping : Keeping
    choices : DataFrame
        A row for each past decision and months kept: ``decided`` (the day), ``months_kept``, ``expected_head`` and
        ``actual_head`` [$ gained by keeping].
    """

    keeping: Keeping
    choices: pd.DataFrame

    def by_months(self) -> pd.DataFrame:
        """Return what each rule made by months kept, mean $ per head: see `rules_table`."""
        return rules_table(self.choices, "months_kept")

    def by_year(self, months_kept: int) -> pd.DataFrame:
        """Return what each rule made year by year (by the year decided in), for one number of months kept.

        Raises
        ------
        FitError
            That number of months was not replayed.
        """
        mine = self.choices[self.choices["months_kept"] == months_kept]
        if mine.empty:
            raise FitError(
                f"keeping for {months_kept} months was not replayed",
                where=Text(Setting("months_kept")),
                remedy=f"Use one of: {', '.join(map(str, sorted(set(self.choices['months_kept']))))}.",
            )
        return rules_table(mine.assign(year=mine["decided"].dt.year), "year")


def replay(test: Backtest, keeping: Keeping, months_kept: tuple[int, ...] = MONTHS_KEPT) -> Replay:
    """Replay every past decision to sell or to keep, with the outlook of its day and then with what came.

        gain = (1 - d) pay W1 p1 - pay W0 p0 - cost x days,   W1 = W0 + gain x days

    The advice keeps where the expected gain is above zero. Selling now is paid at the last three sales, keeping at
    the three sales nearest the later day.

    Parameters
    ----------
    test : Backtest
        Of all months, or of one weaning month (`Backtest.of_month`).
    months_kept : tuple of int

    Raises
    ------
    FitError
        A sex that was not seen, a weight beyond the records, or no decision whose outcome is known.

    Notes
    -----
    Decisions a month apart share most of what came after them; a year's worth is nearer to one piece of evidence
    than to twelve. In a market that only rose, always keeping looks wise whatever the rule.
    """
    rows = []
    for origin in test.origins:
        for months in months_kept:
            row = _decision(test, origin, keeping, months)
            if row is not None:
                rows.append(row)
    if not rows:
        raise FitError(
            f"no past decision on {keeping.start_lb:,.0f} lb {keeping.sex}s can be replayed with these records",
            remedy="Check the weight, the gain and the months kept against the weights seen.",
        )
    return Replay(keeping, pd.DataFrame(rows))


def _decision(test: Backtest, origin: Origin, keeping: Keeping, months: int) -> dict[str, object] | None:
    now = origin.outlook.as_of
    days = round(months * DAYS_PER_MONTH)
    later = now + timedelta(days=days)
    weights = np.array([keeping.start_lb, keeping.start_lb + keeping.gain_lb_day * days])
    if keeping.sex not in origin.outlook.curves or not _within_support(test, keeping.sex, weights):
        return None
    outlook = origin.outlook
    told = [
        float(outlook.log_index([day])[0] + outlook.log_relative(keeping.sex, weight, day))
        for day, weight in zip((now, later), weights, strict=True)
    ]
    came = [
        float(brought(test, keeping.sex, weights[:1], now, until_then=True)[0]),
        float(brought(test, keeping.sex, weights[1:], later)[0]),
    ]
    if not np.isfinite(came).all() or _beyond(test, later):
        return None
    then = _at_prices_of(keeping, float(np.exp(outlook.log_index([now])[0])))
    return {
        "decided": pd.Timestamp(now),
        "months_kept": months,
        "check_head": (1.0 - keeping.shrink_pct / 100.0) * keeping.start_lb * float(np.exp(came[0])) / 100.0,
        "expected_head": gain_head(then, weights, np.exp(told), days),
        "actual_head": gain_head(then, weights, np.exp(came), days),
    }


def _at_prices_of(keeping: Keeping, price_cwt: float) -> Keeping:
    """Return the keeping at the costs of a time when the standard calf brought ``price_cwt``."""
    if keeping.costs_of_cwt is None:
        return keeping
    return replace(keeping, cost_head_day=keeping.cost_head_day * price_cwt / keeping.costs_of_cwt)


def _within_support(test: Backtest, sex: str, weights: FloatArray) -> bool:
    seen = test.hindsight.support[sex]
    return bool(
        weights.min() >= seen.low_lb - BEYOND_DATA_LB and weights.max() <= seen.high_lb + BEYOND_DATA_LB
    )


def _beyond(test: Backtest, day: date) -> bool:
    return (day - date(1970, 1, 1)).days > int(test.index.sale_day[-1])


def gain_head(keeping: Keeping, weights_lb: FloatArray, prices_cwt: FloatArray, days: int) -> float:
    """Return the gain from keeping [$ per head started], given weight and price at either end.

    >>> plain = Keeping(start_lb=500.0, cost_head_day=1.0, death_loss_pct=0.0, shrink_pct=0.0)
    >>> gain_head(plain, np.array([500.0, 600.0]), np.array([140.0, 126.0]), 50)
    6.0
    """
    pay = 1.0 - keeping.shrink_pct / 100.0
    alive = 1.0 - keeping.death_loss_pct / 100.0
    check_now, check_later = pay * weights_lb * prices_cwt / 100.0
    return float(alive * check_later - check_now - keeping.cost_head_day * days)


def rules_table(choices: pd.DataFrame, by: str) -> pd.DataFrame:
    """Return what each rule made, mean $ per head against selling at once.

    Returns
    -------
    DataFrame
        ``by``; ``decisions``; ``kept`` (how often the advice kept); ``always_sell`` (zero by construction),
        ``always_keep``, ``advice``, ``hindsight``; ``right`` (share of decisions in which the advice was right); and of
        each rule ``_worst_tenth`` (mean of its worst tenth) and ``_log_pct`` (100 x mean ln(1 + gain / check at once):
        what a family that risks its own calves makes of it; where ``check_head`` is known).
    """
    kept = choices["expected_head"] > 0
    actual = choices["actual_head"]
    frame = pd.DataFrame(
        {
            by: choices[by],
            "decisions": 1,
            "kept": kept.astype(int),
            "always_sell": 0.0,
            "always_keep": actual,
            "advice": actual.where(kept, 0.0),
            "hindsight": actual.clip(lower=0.0),
            "right": (kept == (actual > 0)).astype(float),
        }
    )
    how: dict[str, Any] = {"decisions": "sum", "kept": "sum"} | dict.fromkeys((*RULES, "right"), "mean")
    for rule in RULES:
        frame[f"{rule}_worst_tenth"] = frame[rule]
        how[f"{rule}_worst_tenth"] = _worst_tenth
        if "check_head" in choices:
            stake = np.maximum(1.0 + frame[rule] / choices["check_head"], LEAST_LEFT)
            frame[f"{rule}_log_pct"] = 100.0 * np.log(stake)
            how[f"{rule}_log_pct"] = "mean"
    return frame.groupby(by, sort=True).agg(how).reset_index()


def _worst_tenth(gains: pd.Series) -> float:
    """Return the mean of the worst tenth, one decision at the least."""
    return float(np.sort(gains.to_numpy())[: max(len(gains) // 10, 1)].mean())


def replay_notes(result: Replay) -> tuple[str, ...]:
    """Return what the replay says in words; if the advice would not have paid, that first."""
    table = result.by_months()
    notes = []
    paid = table[table["advice"] > table[["always_sell", "always_keep"]].max(axis=1) + NO_GAIN_HEAD]
    if paid.empty:
        notes.append(
            "following the advice would not have paid: at no number of months did it make more than the better of "
            "always selling and always keeping"
        )
    else:
        gain = (paid["advice"] - paid[["always_sell", "always_keep"]].max(axis=1)).max()
        months = ", ".join(str(m) for m in paid["months_kept"])
        notes.append(
            f"following the advice made more than both always selling and always keeping at {months} months kept, "
            f"by ${gain:,.0f} a head at most"
        )
    behind = table[table["advice"] < table["always_keep"] - NO_GAIN_HEAD]
    if len(behind):
        worst = (behind["always_keep"] - behind["advice"]).max()
        notes.append(
            f"it made less than always keeping at {', '.join(map(str, behind['months_kept']))} months kept, by up to "
            f"${worst:,.0f} a head"
        )
    lost = table[table["advice"] < 0]
    if len(lost):
        notes.append(
            f"it lost against selling at once at {', '.join(map(str, lost['months_kept']))} months kept"
        )
    if (table["always_keep"] > 0).all():
        notes.append("always keeping paid at every number of months: a rising market, which proves no rule")
    elif (table["always_keep"] < 0).all():
        notes.append("always keeping lost at every number of months: a market or a cost that favored selling")
    years = result.choices["decided"].dt.year.nunique()
    notes.append(f"{years} years of decisions: next year is one more draw, not the mean of these")
    return tuple(notes)


def keeping_of_plan(outlook: Outlook, plan: Plan) -> Keeping:
    """Return the plan's first group on the program that its budget likes best: weight, gain, cost, deaths, shrink.

    Raises
    ------
    OutlookError
        No program of the group can be compared.

    Notes
    -----
    The plan's costs are today's: in years of other prices they are scaled by those prices. Costs and prices rose
    together over the years but not month by month: this shows the rule at work, not what those years would have paid.
    """
    group = compare(outlook, plan).groups[0]
    if not group.keep:
        raise OutlookError(
            "no program can be compared", where=group.group, remedy="Check the plan with: compare"
        )
    option = max(group.keep, key=lambda each: each.gain_herd)
    planned = {each.name: each.planned for each in option.breakevens}
    return Keeping(
        sex=group.sex,
        start_lb=group.sell_now.weight_lb,
        gain_lb_day=planned["gain_lb_day"],
        cost_head_day=planned["cost_head_day"],
        death_loss_pct=planned["death_loss_pct"],
        shrink_pct=100.0 * (1.0 - option.pay_weight_lb / option.weight_lb),
        costs_of_cwt=float(np.exp(outlook.log_index([outlook.as_of])[0])),
    )
