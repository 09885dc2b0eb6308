"""A plan inside the take-home page: its numbers, each choice's budget and what is not known, for `plan.js`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from slidefit.report import formatting as f
from slidefit.report.plan_labels import path_label
from slidefit.report.take_home.plan_cells import Choice, LogMove, PlanCells, part_name, plan_cells

if TYPE_CHECKING:
    from slidefit.decision.options import GroupCase
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan


LOG_DECIMALS = 8
"""Good to a thousandth of a cent on a check of $3,000."""


def rounded(values: Sequence[float] | np.ndarray[Any, Any]) -> list[float]:
    """Return numbers rounded as far as a price to the cent needs.

    >>> rounded([0.123456789, 2.0])
    [0.12345679, 2.0]
    """
    return [float(each) for each in np.round(np.asarray(values, dtype=float), LOG_DECIMALS)]


def plan_script(outlook: Outlook, plan: Plan) -> tuple[dict[str, Any], str]:
    """Return a plan's data, and the JavaScript of its budgets, one function for each shape."""
    cells = plan_cells(outlook, plan)
    budgets = list(dict.fromkeys(choice.option.budget for choice in cells.choices))
    names = {budget: f"budget_plan_{k}" for k, budget in enumerate(budgets)}
    data = {
        "title": plan.title,
        "numbers": [
            {
                "name": each.name, "part": part_name(plan, each.path), "label": path_label(each.path),
                "value": each.value,
                "unit": each.unit, "low": each.low, "high": each.high, "open": each.is_open,
            }
            for each in cells.numbers
        ],
        "groups": [_group(cells, g, case) for g, case in enumerate(cells.cases)],
        "programs": [program.name for program in plan.programs],
        "choices": [_choice(cells, choice, names[choice.option.budget]) for choice in cells.choices],
        "loss_head": plan.risk.loss_head,
        "seed": plan.risk.seed,
    }  # fmt: skip
    source = [budget.javascript(name) for budget, name in names.items()]
    table = ", ".join(names.values())
    return data, "\n".join([*source, f"const PLAN_BUDGETS = {{{table}}};"])


def _group(cells: PlanCells, g: int, case: GroupCase) -> dict[str, Any]:
    group, prefix = case.group, f"groups_{g + 1}_"
    spread: dict[str, Any] | None = None
    if group.weights_lb is not None:
        spread = {"list": [f"{prefix}weights_lb_{k + 1}" for k in range(len(group.weights_lb))]}
    elif len(case.spread_lb) > 1:
        spread = {"z": rounded(case.spread_lb / group.weight_sd_lb), "sd": f"{prefix}weight_sd_lb"}
    return {
        "name": group.name,
        "sex": group.sex,
        "head": f"{prefix}head",
        "bid": f"{prefix}bid_cwt" if group.bid_cwt is not None else None,
        "spread": spread,
        "start": case.start.isoformat(),
        "lb": rounded(case.prices.weights_lb),
        "run": rounded(case.prices.plain_run),
        "lines": {day.isoformat(): _line(cells, g, case, day) for group, day in cells.moves if group == g},
        "day_var": case.prices.point(case.start).day_var,
    }


def _line(cells: PlanCells, g: int, case: GroupCase, day: Any) -> dict[str, Any]:
    line = case.prices.line(day)
    moves = {move.name: _short(move) for move in cells.moves[g, day]}
    run = {} if np.array_equal(line.slide_run, case.prices.plain_run) else {"run": rounded(line.slide_run)}
    return {"log": rounded(line.log_cwt), "moves": moves, **run}


def _short(move: LogMove) -> float | list[float]:
    """Return how a line moves: one number where it is the same at every weight."""
    same = bool(np.ptp(move.per) < 1e-10)
    return float(move.per[0]) if same else rounded(move.per)


def _choice(cells: PlanCells, choice: Choice, budget: str) -> dict[str, Any]:
    case, option = cells.cases[choice.group], choice.option
    links = {key: [link.base, [list(part) for part in link.parts]] for key, link in choice.links.items()}
    program = cells.plan.programs[choice.program]
    return {
        "group": choice.group,
        "program": choice.program,
        "sale_date": choice.sale_date.isoformat(),
        "month": f.sale_month(f"{choice.sale_date:%Y-%m}", short=True),
        "days": option.days,
        "budget": budget,
        "links": links,
        "head": choice.candidate.capacity_head,
        "gain_sd": option.gain_sd_lb_day,
        "forage_sd": option.forage_log_sd,
        "corr": option.gain_forage_corr,
        "death_sd_pct": program.death_sd_pct,
        "count_deaths": "deaths" in cells.plan.risk.vary,
        "cov": _cov(case, choice),
        "day_var": option.point.day_var,
    }


def _cov(case: GroupCase, choice: Choice) -> list[list[float]]:
    """Return the covariance of level now, level at sale, slide and quality, after the bids."""
    state, group = case.prices.state, case.prices.place
    after = state.after_bids((case.start, choice.sale_date))
    now, slide, quality = state.rows(after, group, case.start)
    then = state.rows(after, group, choice.sale_date)[0]
    places = [now, then, slide, quality]
    return [[float(after.cov[one, other]) for other in places] for one in places]
