"""A plan's calves and program as the plain keeping that a money replay takes."""

from __future__ import annotations

from slidefit.decision.comparison import compare
from slidefit.decision.plan import Plan
from slidefit.decision.replay import Keeping
from slidefit.errors import OutlookError
from slidefit.market.outlook import Outlook


def keeping_of_plan(outlook: Outlook, plan: Plan) -> Keeping:
    """Return the plan's first group on the program that its budget likes best: weight, gain, cost, deaths, shrink.

    Raises
    ------
    OutlookError
        No program of the group can be compared.

    Notes
    -----
    The plan's costs are today's: replayed on years of other prices they are too high or too low, so the replay shows
    the rule at work, not what those years would have paid.
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
    )
