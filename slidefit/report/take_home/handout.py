"""The take-home page: one file that answers keep or sell by itself, with the prices of a region or a fit inside."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from slidefit.decision.price_state import LASTING_SHARE
from slidefit.plan.costs import KEEPING_COSTS
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Risk
from slidefit.plan.quick_fields import BY_NAME, QUICK_FIELDS
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Column, TypedTable, table
from slidefit.report.plan_labels import path_label
from slidefit.report.render.html import page_template
from slidefit.report.take_home.plan_cells import Choice, LogMove, PlanCells, part_name, plan_cells
from slidefit.report.take_home.scripts import quick_script, script

if TYPE_CHECKING:
    from slidefit.decision.options import GroupCase
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan

LOG_DECIMALS = 8
"""Good to a thousandth of a cent on a check of $3,000."""
EPOCH = date(1970, 1, 1)
DAYS_AHEAD = 1140
"""A year of use, and calves kept for two years (730 days) after it."""
COV_STEP_DAYS = 30
LARGEST_BYTES = 400_000
SHOWN_WEIGHTS = range(350, 851, 50)
SHOWN_MONTHS = 12
MID_MONTH = 15
CAUTIONS = (
    "An estimate from past sales, not a promise. Prices can go outside any range shown.",
    "The season repeats on average, not every year.",
    "A bid in hand beats any table: type it in as the price today.",
    "Ask your lender and a market adviser before you act; for feed and drugs ask a vet and the local extension office.",
)


def handout_html(
    outlook: Outlook,
    *,
    name: str,
    today: date,
    office: str = "",
    selling: Mapping[str, float] | None = None,
    plan: Plan | None = None,
) -> str:
    """Return the take-home page as the text of one HTML file that needs no network.

    Parameters
    ----------
    name : str
        What the prices are of, such as a region's name.
    today : date
        The day it is made.
    office : str
        Whom to ask, such as the adviser's office and telephone.
    plan : Plan, optional
        A plan to go with it: its numbers can be typed over, its answers follow.
    selling : mapping of a field of the quick question to number, optional
        Typical costs of selling, filled in.

    Notes
    -----
    ``window.handout.set({field: number})`` changes what is typed; ``window.handout.answer()`` gives the answer in the
    shape of a comparison's JSON.
    """
    first = min(outlook.as_of, today)
    sexes = [sex for sex in ("steer", "heifer", "bull") if sex in outlook.curves]
    grades = list(outlook.grades) or [""]
    start: dict[str, Any] = {"head": 50, "sex": sexes[0], "grade": grades[0], "today": today.isoformat()}
    start |= {name: f"{value:g}" for name, value in (selling or {}).items()}
    folds = {
        "costs": [BY_NAME[each.key] for each in KEEPING_COSTS],
        "selling": [
            BY_NAME[key]
            for key in ("death_loss_pct", "shrink_pct", "commission_pct", "selling_head", "interest_pct")
        ],
        "pasture": [BY_NAME[key] for key in ("acre_cost", "forage_lb_acre", "eaten_pct", "intake_pct")],
    }
    data = {
        "source": f"{name}, {f.day(outlook.as_of)}",
        "prices": outlook_data(outlook, first),
        "start": start,
        "folds": {
            key: [{"name": x.name, "label": x.label, "unit": x.unit} for x in fields]
            for key, fields in folds.items()
        },
        "seed": Risk().seed,
        "loss_head": Risk().loss_head,
        "gain_sd_lb_day": Program.model_fields["gain_sd_lb_day"].default,
        "largest_lot": 100,
        "lasting_share": LASTING_SHARE,
    }
    plan_code = ""
    if plan is not None:
        data["plan"], plan_code = plan_script(outlook, plan)
    code = "\n".join(
        [
            f"const DATA = {inline(data)};",
            quick_script(),
            plan_code,
            *(script(each) for each in ("prices.js", "odds.js", "bar.js", "handout.js")),
            script("plan.js") if plan is not None else "",
            "handout.begin();",
        ]
    )
    days = (today - outlook.as_of).days
    return page_template("handout.html.j2").render(
        title=f"Calf prices, {name}: {f.day(outlook.as_of)}",
        age=f"Made on {f.day(today)}, {days} day{'' if days == 1 else 's'} after these prices.",
        renew=f"Ask for a new page after {f.day(outlook.as_of + timedelta(days=60))}.",
        style=script("handout.css"),
        script=code,
        fields={field.name: field for field in QUICK_FIELDS},
        costs=[each.key for each in KEEPING_COSTS],
        start=start,
        sexes=sexes,
        grades=grades,
        plan=plan,
        tables=[price_table(outlook, sex, today) for sex in sexes[:2]],
        price_words=f"Dollars per hundredweight for {grades[0] or 'the run of calves'}, lots of 15 head, if the market "
        "holds at this level.",
        cautions=(*CAUTIONS, *(f"{note}." for note in outlook.notes if "old" in note)),
        basis=f"{sentences.basis_line(outlook.basis)}. Made with slidefit.",
        office=office,
    )


def inline(data: Any) -> str:
    """Return data as JavaScript that can stand inside a page: nothing in it can end the script.

    >>> inline({"name": "</script>"})
    '{"name":"<\\\\/script>"}'
    """
    return (
        json.dumps(data, separators=(",", ":"), allow_nan=False)
        .replace("</", "<\\/")
        .replace("<!", "<\\u0021")
    )


def price_table(outlook: Outlook, sex: str, today: date) -> TypedTable:
    """Return what calves of a sex bring by weight and month of sale, from this month on."""
    curve = outlook.curve(sex)
    weights = [lb for lb in SHOWN_WEIGHTS if curve.low_lb - 25 <= lb <= curve.high_lb + 25]
    days = months_from(today)
    prices = [outlook.price_cwt(sex, weights, day) for day in days]
    columns = [
        Column("lb", "count"),
        *(Column(f.month_name(day.month, short=True), "figure") for day in days),
    ]
    rows = [[float(lb), *(float(round(by_day[k])) for by_day in prices)] for k, lb in enumerate(weights)]
    return table(f"{sex.capitalize()}s, {f.sale_month(days[0].isoformat())} on", columns, rows)


def months_from(today: date) -> list[date]:
    """Return the middle of this month and of the eleven after it."""
    count = [(today.year * 12 + today.month - 1 + k) for k in range(SHOWN_MONTHS)]
    return [date(each // 12, each % 12 + 1, MID_MONTH) for each in count]


def outlook_data(outlook: Outlook, first: date) -> dict[str, Any]:
    """Return an outlook's index, curves, grades and spreads for the days from ``first`` on, for `prices.js`.

    Notes
    -----
    The index and the slide's drift are told day by day, so that whatever moves them (season, futures) is inside; the
    covariance of the index is told every 30 days and read straight between.
    """
    days = [first + timedelta(days=k) for k in range(DAYS_AHEAD)]
    cov_days = days[::COV_STEP_DAYS]
    return {
        "as_of": outlook.as_of.isoformat(),
        "first_day": (first - EPOCH).days,
        "index": rounded(outlook.log_index(days)),
        "drift": rounded([outlook.drift_at(day) for day in days]),
        "cov_days": [(day - EPOCH).days for day in cov_days],
        "cov": [rounded(row) for row in outlook.index_cov(cov_days)],
        "curves": {sex: curve_data(outlook, sex) for sex in outlook.curves},
        "grades": {name: [each.log_offset, each.slope_cwt] for name, each in outlook.grades.items()}
        or {"": [0, 0]},
        "head_slope": outlook.head_slope,
        "noise": {"sale": outlook.sale_sd, "lot": outlook.lot_sd, "calf": outlook.calf_sd},
    }


def curve_data(outlook: Outlook, sex: str) -> dict[str, Any]:
    """Return a sex's curve: weights, log price by month, and the slide's error added up from the lightest on."""
    curve = outlook.curve(sex)
    return {
        "lb": rounded(curve.weights_lb),
        "log": [rounded(row) for row in curve.log_relative],
        "run": rounded(outlook.slide_sd(sex, float(curve.weights_lb[0]), curve.weights_lb)),
        "seen": [curve.low_lb, curve.high_lb],
    }


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
