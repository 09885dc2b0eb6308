"""What following the forecasts would have made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.comparison import compare
from slidefit.decision.money import Option, expected
from slidefit.decision.options import build_option, group_case, price_state_of, refusal
from slidefit.decision.risk.breakevens import planned_gain
from slidefit.errors import FitError, OutlookError
from slidefit.facts import Setting, Text
from slidefit.market.backtest import Backtest, brought
from slidefit.market.blend import Origin
from slidefit.market.months import DAYS_PER_MONTH
from slidefit.market.outlook import BEYOND_DATA_LB, STANDARD_FRAME, STANDARD_HEAD, STANDARD_MUSCLE, Outlook
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Dates, Group, Plan

FloatArray = NDArray[np.float64]

MONTHS_KEPT = tuple(range(1, 10))
NO_GAIN_HEAD = 1.0
LEAST_LEFT = 0.01
"""Share of a check that is left at the least, so that a loss of all of it has a logarithm (our choice)."""
RULES = ("always_sell", "always_keep", "advice", "hindsight")
PLAIN_CWT = 200.0
"""Price of the standard calf at which the plain plan's $1.25 a day holds: our choice, middling for 2017 to 2023."""
PLAIN_DAYS = 120


def plain_plan(weaning: date) -> Plan:
    """Return the plan that is replayed where none is given: 500-lb steers, 2 lb and $1.25 a day, 1 percent deaths."""
    program = Program(
        name="plain keeping", gain_lb_day=2.0, cost_head_day=1.25, death_loss_pct=1.0, shrink_pct=3.0
    )
    return Plan(
        dates=Dates(weaning=weaning, sales=()),
        groups=(Group(name="steers", sex="steer", head=1, weight_lb=500.0),),
        programs=(program,),
    )


@dataclass(frozen=True)
class Keeping:
    """What is kept in a replay: the first group of a plan on one program, and that in plain numbers.

    ``cost_head_day`` is cash, interest and selling apart. ``costs_of_cwt`` [$/cwt] is the standard calf's price at
    which the plan's costs hold: every cost is scaled by the prices of its time, since feed, fuel and labor rose with
    them.
    """

    plan: Plan
    program: Program
    sex: str
    start_lb: float
    gain_lb_day: float
    cost_head_day: float
    death_loss_pct: float
    shrink_pct: float
    costs_of_cwt: float


def keeping_of_plan(outlook: Outlook, plan: Plan | None = None) -> Keeping:
    """Return a plan's first group on the program that it likes best, or the plain plan's.

    Raises
    ------
    OutlookError
        No program of the group can be compared.
    """
    if plan is None:
        plan, days, price_cwt = plain_plan(outlook.as_of), PLAIN_DAYS, PLAIN_CWT
        program = plan.programs[0]
    else:
        result = compare(outlook, plan).groups[0]
        if not result.keep:
            raise OutlookError(
                "no program can be compared", where=result.group, remedy="Check the plan with: compare"
            )
        best = max(result.keep, key=lambda each: each.gain_herd)
        program = next(each for each in plan.programs if each.name == best.program)
        days, price_cwt = best.days, float(np.exp(outlook.log_index([outlook.as_of])[0]))
    option = options_of(outlook, plan, program, [days])[days]
    return Keeping(
        plan=plan,
        program=program,
        sex=plan.groups[0].sex,
        start_lb=option.start_lb,
        gain_lb_day=planned_gain(option),
        cost_head_day=option.plain["cash_head"] / days,
        death_loss_pct=program.death_loss_pct,
        shrink_pct=option.inputs["shrink_pct"],
        costs_of_cwt=price_cwt,
    )


def options_of(outlook: Outlook, plan: Plan, program: Program, days: Sequence[int]) -> dict[int, Option]:
    """Return the plan's first group on a program by days kept, as if the plan were made on the outlook's day.

    Bids, forward prices, contract and floor are of another day and left away; what came is read for calves of the
    standard grade in lots of the standard size, so these stand for the group's own.
    """
    now = outlook.as_of
    shift = now - plan.start_of(plan.groups[0])

    def moved(day: date | None) -> date | None:
        return None if day is None else day + shift

    own: dict[str, Any] = {"bid_cwt": None, "bid_is": "", "forward": (), "head": round(STANDARD_HEAD)}
    own |= {"frame": STANDARD_FRAME, "muscle": STANDARD_MUSCLE}
    own["weaning"] = moved(plan.weaning_of(plan.groups[0]))
    group = plan.groups[0].model_copy(update=own)
    program = program.model_copy(
        update={name: moved(getattr(program, name)) for name in ("earliest_on", "latest_off")}
    )
    risk = plan.risk.model_copy(update={"beyond_data": True, "unseen_months": True})
    then = {"as_of": moved(plan.as_of), "prices": None, "groups": (group,), "programs": (program,)}
    plan = plan.model_copy(update={**then, "risk": risk})
    sales = [now + timedelta(days=each) for each in days]
    case = group_case(outlook, plan, group, price_state_of(outlook, plan, sales))
    return {
        (day - now).days: build_option(plan, case, program, day, open_price=True)[0]
        for day in sales
        if not refusal(outlook, plan, case, program, day)
    }


def at_prices_of(option: Option, ratio: float) -> Option:
    """Return an option with every cost scaled; prices of calves stay."""
    scaled = {
        key: value * ratio
        for key, value in option.inputs.items()
        if (entry := option.budget.by_key[key]).unit.startswith("$") and entry.group != "price"
    }
    return replace(option, inputs={**option.inputs, **scaled})


@dataclass(frozen=True)
class Replay:
    """What each rule made, per head started.

    ``choices`` has a row for each past decision and months kept: ``decided`` (date), ``months_kept``,
    ``check_head`` (net of selling then), ``expected_head`` and ``actual_head`` [$ gained by keeping].
    """

    keeping: Keeping
    choices: Sequence[Mapping[str, Any]]

    def by_months(self) -> list[dict[str, Any]]:
        """Return what each rule made by months kept, mean $ per head: see `rules_rows`."""
        return rules_rows(self.choices, "months_kept")

    def by_year(self, months_kept: int) -> list[dict[str, Any]]:
        """Return what each rule made by the year decided in, for some months kept (FitError: not replayed)."""
        mine = [
            {**row, "year": row["decided"].year} for row in self.choices if row["months_kept"] == months_kept
        ]
        if not mine:
            raise FitError(
                f"keeping for {months_kept} months was not replayed",
                where=Text(Setting("months_kept")),
                remedy=f"Use one of: {', '.join(map(str, sorted({row['months_kept'] for row in self.choices})))}.",
            )
        return rules_rows(mine, "year")


def replay(
    test: Backtest, keeping: Keeping | None = None, months_kept: tuple[int, ...] = MONTHS_KEPT
) -> Replay:
    """Replay past decisions to sell or to keep through the plan's budget: with the outlook of its day and as it came.

    The advice keeps where the expected gain is above zero, as `comparison.compare` works it out. Selling now is paid at
    the last three sales, keeping at the three sales nearest the later day.

    Parameters
    ----------
    test : Backtest
        Of all months, or of one weaning month (`Backtest.of_month`).
    keeping : Keeping, optional
        The plain plan's when left out.

    Raises
    ------
    FitError
        A sex that was not seen, a weight beyond the records, or no decision whose outcome is known.

    Notes
    -----
    Decisions a month apart share most of what came after them; a year's worth is nearer to one piece of evidence
    than to twelve. In a market that only rose, always keeping looks wise whatever the rule.
    """
    keeping = keeping or keeping_of_plan(test.origins[-1].outlook)
    days = [round(months * DAYS_PER_MONTH) for months in months_kept]
    rows = []
    for origin in test.origins:
        if keeping.sex in origin.outlook.curves and keeping.sex in test.hindsight.support:
            price_cwt = float(np.exp(origin.outlook.log_index([origin.outlook.as_of])[0]))
            options = options_of(origin.outlook, keeping.plan, keeping.program, days)
            at_once = _at_once(test, origin, keeping.sex, options)
            for kept, option in options.items():
                scaled = at_prices_of(option, price_cwt / keeping.costs_of_cwt)
                row = _decision(test, origin, keeping.sex, scaled, at_once)
                if row is not None:
                    rows.append({"months_kept": months_kept[days.index(kept)], **row})
    if not rows:
        raise FitError(
            f"no past decision on {keeping.start_lb:,.0f} lb {keeping.sex}s can be replayed with these records",
            remedy="Check the weight, the gain and the months kept against the weights seen.",
        )
    return Replay(keeping, tuple(rows))


def _at_once(test: Backtest, origin: Origin, sex: str, options: Mapping[int, Option]) -> float:
    """Return what the calves brought at once [ln $/cwt]: all options start from the same ones."""
    weight = np.array([option.start_lb for option in options.values()][:1])
    came = brought(test, sex, weight, origin.outlook.as_of, until_then=True)
    return float(came[0]) if len(came) else np.nan


def _decision(
    test: Backtest, origin: Origin, sex: str, option: Option, at_once: float
) -> dict[str, Any] | None:
    """Return what was expected of a decision and what came of it; None where that is not known."""
    now = origin.outlook.as_of
    later = now + timedelta(days=option.days)
    weights = np.array([option.start_lb, option.sale_lb])
    seen, last = test.hindsight.support[sex], int(test.index.sale_day[-1])
    inside = seen.low_lb - BEYOND_DATA_LB <= weights.min() and weights.max() <= seen.high_lb + BEYOND_DATA_LB
    if not inside or (later - date(1970, 1, 1)).days > last:
        return None
    came = [at_once, float(brought(test, sex, weights[1:], later)[0])]
    if not np.isfinite(came).all():
        return None
    price_now, price_later = np.exp(came)
    inputs = {**option.full_inputs, "start_price_cwt": price_now}
    gain, check = option.budget.function(("gain_per_head", "net_now"))(inputs, lambda _, __: price_later)
    return {
        "decided": now,
        "check_head": float(check),
        "expected_head": float(expected(option)),
        "actual_head": float(gain),
    }


def rules_rows(choices: Sequence[Mapping[str, Any]], by: str) -> list[dict[str, Any]]:
    """Return what each rule made, mean $ per head against selling at once, a row for each value of ``by``, ascending.

    Returns
    -------
    list of dict
        ``by``; ``decisions``; ``kept`` (how often the advice kept); ``always_sell`` (zero by construction),
        ``always_keep``, ``advice``, ``hindsight``; ``right`` (share of decisions in which the advice was right); and of
        each rule ``_worst_tenth`` (mean of its worst tenth) and ``_log_pct`` (100 x mean ln(1 + gain / check at once):
        what a family that risks its own calves makes of it; where ``check_head`` is known).
    """
    rows = []
    for value in sorted({row[by] for row in choices}):
        mine = [row for row in choices if row[by] == value]
        expected, actual = (
            np.array([row[name] for row in mine]) for name in ("expected_head", "actual_head")
        )
        kept = expected > 0
        made = dict(
            zip(RULES, (0.0 * actual, actual, np.where(kept, actual, 0.0), actual.clip(min=0.0)), strict=True)
        )
        row = {by: value, "decisions": len(mine), "kept": int(kept.sum())}
        row |= {rule: float(gains.mean()) for rule, gains in made.items()}
        row["right"] = float((kept == (actual > 0)).mean())
        for rule, gains in made.items():
            row[f"{rule}_worst_tenth"] = float(np.sort(gains)[: max(len(gains) // 10, 1)].mean())
            if "check_head" in mine[0]:
                stake = np.maximum(1.0 + gains / np.array([each["check_head"] for each in mine]), LEAST_LEFT)
                row[f"{rule}_log_pct"] = float(100.0 * np.log(stake).mean())
        rows.append(row)
    return rows


def replay_notes(result: Replay) -> tuple[str, ...]:
    """Return what the replay says in words; if the advice would not have paid, that first."""
    table = result.by_months()
    notes = []
    best = [max(row["always_sell"], row["always_keep"]) for row in table]
    paid = [
        (row, row["advice"] - other)
        for row, other in zip(table, best, strict=True)
        if row["advice"] > other + NO_GAIN_HEAD
    ]
    if not paid:
        notes.append(
            "following the advice would not have paid: at no number of months did it make more than the better of "
            "always selling and always keeping"
        )
    else:
        notes.append(
            f"following the advice made more than both always selling and always keeping at "
            f"{_months([row for row, _ in paid])} months kept, by ${max(gain for _, gain in paid):,.0f} a head at most"
        )
    behind = [row for row in table if row["advice"] < row["always_keep"] - NO_GAIN_HEAD]
    if behind:
        worst = max(row["always_keep"] - row["advice"] for row in behind)
        notes.append(
            f"it made less than always keeping at {_months(behind)} months kept, by up to ${worst:,.0f} a head"
        )
    lost = [row for row in table if row["advice"] < 0]
    if lost:
        notes.append(f"it lost against selling at once at {_months(lost)} months kept")
    if all(row["always_keep"] > 0 for row in table):
        notes.append("always keeping paid at every number of months: a rising market, which proves no rule")
    elif all(row["always_keep"] < 0 for row in table):
        notes.append("always keeping lost at every number of months: a market or a cost that favored selling")
    years = len({row["decided"].year for row in result.choices})
    notes.append(f"{years} years of decisions: next year is one more draw, not the mean of these")
    return tuple(notes)


def _months(rows: Sequence[Mapping[str, Any]]) -> str:
    return ", ".join(str(row["months_kept"]) for row in rows)
