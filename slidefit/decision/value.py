"""Value of gain, cost of gain and the closed-form breakevens: plain arithmetic on weights and prices."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Number = float | NDArray[np.float64]
DAYS_PER_YEAR = 365.0
SMALLEST_GAIN_LB = 1.0


def value_of_gain(
    start_lb: float,
    start_price_cwt: float,
    end_lb: float,
    end_price_cwt: float,
    gained_lb: float | None = None,
) -> float | None:
    """Return the value of gain [$/lb]: what a pound put on adds to the check.

    (end lb x end price - start lb x start price) / (100 x pounds gained)

    Parameters
    ----------
    start_lb, end_lb : float [lb]
        Pay weights.
    start_price_cwt, end_price_cwt : float [$/cwt]
    gained_lb : float, optional
        Pounds put on before shrink; the difference of the weights when left out.

    Returns
    -------
    float or None
        None when less than a pound is put on.

    Examples
    --------
    Rasby, University of Nebraska, November 2015: 550 lb at $230 to 750 lb at $190.

    >>> value_of_gain(550, 230, 750, 190)
    0.8
    """
    pounds = end_lb - start_lb if gained_lb is None else gained_lb
    if pounds < SMALLEST_GAIN_LB:
        return None
    return (end_lb * end_price_cwt - start_lb * start_price_cwt) / 100.0 / pounds


def cost_of_gain(cost_head: float, gained_lb: float) -> float | None:
    """Return the cost of gain [$/lb]: keeping costs over pounds put on; None below one pound.

    Harp, Tarleton State University: 126.50 over 300 lb.

    >>> round(cost_of_gain(126.50, 300), 3)
    0.422
    """
    return None if gained_lb < SMALLEST_GAIN_LB else cost_head / gained_lb


def interest_head(rate_share: Number, days: float, value_head: Number, cash_head: Number) -> Number:
    """Return the interest of keeping [$ per head]: rate x days / 365 x (value at the start + cash / 2).

    Parameters
    ----------
    rate_share : float
        A year's interest as a share.
    days : float
    value_head, cash_head : float or array [$ per head]
        What selling at the start would net, and the cash spent evenly on the way.

    Examples
    --------
    Texas A&M B-1241, 2006: $336.536 for a year at 9 percent.

    >>> round(interest_head(0.09, 365, 336.536, 0), 2)
    30.29
    """
    return rate_share * days / DAYS_PER_YEAR * (value_head + 0.5 * cash_head)


def breakeven_sale_price(
    cost_head: float,
    pay_weight_lb: float,
    *,
    alive_share: float = 1.0,
    share: float = 0.0,
    costs_head: float = 0.0,
) -> float:
    """Return the sale price at which revenue covers the cost [$/cwt].

    ((cost / alive) + costs) / ((1 - share) x pay weight / 100)

    Parameters
    ----------
    cost_head : float [$ per head started]
        Everything that the sale must bring, the calf's value included.
    pay_weight_lb : float [lb]
    alive_share : float
        Head sold over head started.
    share : float
        Commission as a share of the check.
    costs_head : float [$ per head sold]
        Other selling costs.

    Examples
    --------
    Bevers, Texas A&M AgriLife Extension, 2016: $1,419.05 a head, 3 percent deads, 795 lb.

    >>> round(breakeven_sale_price(1419.05, 795, alive_share=0.97), 2)
    184.02
    """
    return (cost_head / alive_share + costs_head) / ((1.0 - share) * pay_weight_lb / 100.0)


def breakeven_start_price(
    worth_head: float, pay_weight_lb: float, *, share: float = 0.0, costs_head: float = 0.0
) -> float:
    """Return the price today at which a sale nets a given worth [$/cwt].

    (worth + costs) / ((1 - share) x pay weight / 100)

    Examples
    --------
    Bevers, 2016: 475 lb bought at $225 when the year loses $185.21 a head.

    >>> round(breakeven_start_price(225 * 4.75 - 185.21, 475), 2)
    186.01
    """
    return (worth_head + costs_head) / ((1.0 - share) * pay_weight_lb / 100.0)
