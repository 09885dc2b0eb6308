"""Option, Shifts, money_of; value and cost of gain.

Budget, draws, breakevens and swings all go through `money_of`, so that they can't disagree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.pricing import PriceLine, contract_price
from slidefit.plan.selling import Contract, Floor

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


FloatArray = NDArray[np.float64]
LOWEST_GAIN_LB_DAY = -0.5


@dataclass(frozen=True)
class SaleTerms:
    """What is taken off a sale, per head sold.

    Attributes
    ----------
    pay_factor : float
        Pay weight over live weight.
    share : float
        Commission as a share of the check.
    fixed_head : float [$ per head]
    freight_lb : float [$ per lb of live weight]
    """

    pay_factor: float
    share: float
    fixed_head: float
    freight_lb: float

    def check(self, weight_lb: Number, price_cwt: Number, mix: float, shrink_add: Number = 0.0) -> Number:
        """Return the check before selling costs: weight x pay factor x price x mix / 100 [$ per head]."""
        return weight_lb * price_cwt * (self.pay_factor * (1.0 - shrink_add) * mix / 100.0)

    def net(self, weight_lb: Number, check: Number) -> Number:
        """Return a check less the selling costs [$ per head]."""
        freight = self.freight_lb * weight_lb if self.freight_lb else 0.0
        return check * (1.0 - self.share) - (self.fixed_head + freight)


@dataclass(frozen=True)
class Option:
    """Everything about one group, program and sale day that the money depends on.

    Attributes
    ----------
    head, days : int
    start_lb, gain_lb : float [lb]
        Mean weight at weaning, and pounds put on as planned (slump taken off).
    slide_from_lb : float [lb]
        Weight at which a steeper slide changes nothing.
    line : PriceLine
        Prices by weight on the day of sale.
    start_price_cwt, net_now : float
        Price at weaning [$/cwt], and N0 [$ per head].
    has_bid : bool
    start_mix, sale_mix : float
        See `pricing.weight_mix_factor`.
    start_terms, sale_terms : SaleTerms
    feed_head : float [$ per head]
        Feed by the day and rations.
    pasture_head, pasture_slope : float
        Pasture cost [$ per head], and how it grows with a pound more of daily gain.
    other_head : float [$ per head]
        Health, labor and everything else but interest.
    death_share : float
    gain_sd_lb_day, forage_log_sd : float
    interest_share : float
        A year's interest as a share.
    contract : Contract or None
    floor : Floor or None
    """

    head: int
    days: int
    start_lb: float
    gain_lb: float
    slide_from_lb: float
    line: PriceLine
    start_price_cwt: float
    net_now: float
    has_bid: bool
    start_mix: float
    sale_mix: float
    start_terms: SaleTerms
    sale_terms: SaleTerms
    feed_head: float
    pasture_head: float
    pasture_slope: float
    other_head: float
    death_share: float
    gain_sd_lb_day: float
    forage_log_sd: float
    interest_share: float
    contract: Contract | None = None
    floor: Floor | None = None

    @property
    def sale_lb(self) -> float:
        """Planned weight at sale [lb]."""
        return self.start_lb + self.gain_lb

    @property
    def lowest_shift(self) -> float:
        """How far the daily gain may fall below the plan before it is held [lb per day]."""
        return min(0.0, LOWEST_GAIN_LB_DAY - self.gain_lb / self.days) if self.days else 0.0


@dataclass(frozen=True)
class Shifts:
    """By how much each thing differs from the plan; numbers or arrays of one shape.

    Attributes
    ----------
    gain_shift_lb_day : pounds a day over the whole stay
    log_price : ln of the price at sale over the median
    net_now : net of selling at weaning [$ per head]; None as in the budget
    slide_z : standard errors that the slide is off
    slide_add_cwt : log points per cwt by which the market's slide is steeper
    death_share : deaths as a share of the head started; None as planned
    forage_ratio, feed_ratio : forage yield and cost of all feed over the plan
    cost_add_head_day : $ per head-day
    interest_add, shrink_add : shares
    """

    gain_shift_lb_day: Number = 0.0
    log_price: Number = 0.0
    net_now: Number | None = None
    slide_z: Number = 0.0
    slide_add_cwt: Number = 0.0
    death_share: Number | None = None
    forage_ratio: Number = 1.0
    feed_ratio: Number = 1.0
    cost_add_head_day: Number = 0.0
    interest_add: Number = 0.0
    shrink_add: Number = 0.0


@dataclass(frozen=True)
class Money:
    """What comes of an option, $ per head started, in the shape of the levers.

    Attributes
    ----------
    weight_lb, price_cwt : at sale
    market_cwt : that price before a floor holds it
    check : one calf's check before selling costs
    sold_net : the check less selling costs, for one calf alive
    feed, cash, interest : costs of keeping; cash is feed and everything else but interest
    net_now, net_keep, gain : N0, N1 and N1 - N0
    """

    weight_lb: Number
    price_cwt: Number
    market_cwt: Number
    check: Number
    sold_net: Number
    feed: Number
    cash: Number
    interest: Number
    net_now: Number
    net_keep: Number
    gain: Number


def sale_price(option: Option, weight_lb: Number, levers: Shifts, pay_factor: Number) -> Number:
    """Return the price at sale before a floor [$/cwt]: contract or market."""
    if option.contract is not None:
        terms = option.contract
        return contract_price(
            weight_lb * pay_factor,
            price_cwt=terms.price_cwt,
            base_weight_lb=terms.base_weight_lb,
            slide_cwt=terms.slide_cwt,
            window_lb=terms.window_lb,
            two_way=terms.two_way,
        )
    log_price, slide_run = option.line.read(weight_lb)
    log_price = log_price + levers.log_price + levers.slide_z * slide_run
    if np.ndim(levers.slide_add_cwt) or levers.slide_add_cwt:
        log_price = log_price - levers.slide_add_cwt * (weight_lb - option.slide_from_lb) / 100.0
    return np.exp(log_price)


def money_of(option: Option, levers: Shifts) -> Money:
    """Return the money of an option under levers (neutral levers give the budget).

    N0 = pay0 p0 - selling0; N1 = (1 - d) (pay1 p1 - selling1) - cash - interest;
    interest = rate x days / 365 x (N0 + cash / 2).

    Notes
    -----
    Costs run on every head started, revenue on those alive.
    """
    shift = np.maximum(levers.gain_shift_lb_day, option.lowest_shift)
    weight = option.start_lb + option.gain_lb + shift * option.days
    pay_factor = option.sale_terms.pay_factor * (1.0 - levers.shrink_add)
    market = sale_price(option, weight, levers, pay_factor)
    floor = None if option.contract is not None else option.floor
    price = market if floor is None else np.maximum(market, floor.floor_cwt)
    check = option.sale_terms.check(weight, price, option.sale_mix, levers.shrink_add)
    sold = option.sale_terms.net(weight, check)
    deaths = option.death_share if levers.death_share is None else levers.death_share
    now = option.net_now if levers.net_now is None else levers.net_now
    pasture: Number = 0.0
    if option.pasture_head:
        pasture = (option.pasture_head + shift * option.pasture_slope) / levers.forage_ratio
    feed = (option.feed_head + pasture) * levers.feed_ratio
    cash = feed + option.other_head + levers.cost_add_head_day * option.days
    if option.floor is not None:
        cash = cash + option.floor.cost_cwt * option.sale_lb * option.sale_terms.pay_factor / 100.0
    interest = interest_head(option.interest_share + levers.interest_add, option.days, now, cash)
    keep = (1.0 - deaths) * sold - cash - interest
    return Money(weight, price, market, check, sold, feed, cash, interest, now, keep, keep - now)
