"""One way to keep one group until one day, as numbers; and the money that comes of it when they vary.

Budget, draws, breakevens and swings all go through `money_of`, so that they can't disagree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.contract import contract_price
from slidefit.decision.pricing import PriceLine
from slidefit.decision.selling_terms import Contract, Floor
from slidefit.decision.value import Number, interest_head

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
        See `pricing.mix_factor`.
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
class Levers:
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


def sale_price(option: Option, weight_lb: Number, levers: Levers, pay_factor: Number) -> Number:
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


def money_of(option: Option, levers: Levers) -> Money:
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
