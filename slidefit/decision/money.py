"""The money of an option: its own budget, and what is expected of it when the year is not known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache, cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.budget.table import Budget
from slidefit.decision.price_state import PricePoint
from slidefit.decision.pricing import GroupPrices, PriceLine, weight_mix_factor
from slidefit.distributions import part_normals

FloatArray = NDArray[np.float64]
Number = float | NDArray[Any]
SMALLEST_GAIN_LB = 1.0


def value_of_gain(
    start_lb: float,
    start_price_cwt: float,
    end_lb: float,
    end_price_cwt: float,
    gained_lb: float | None = None,
) -> float | None:
    """Return the value of gain [$/lb]: what a pound put on adds to the check; None when less than one is put on.

    (end lb x end price - start lb x start price) / (100 x pounds gained before shrink), by pay weights.

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


@dataclass(frozen=True)
class Option:
    """Everything about one group, program and sale day that the money depends on.

    ``line`` and ``point`` are the median prices by weight on ``sale_date`` and how sure they are; ``bid_prices`` those
    of any day with a bid in hand now, where there is none.
    ``start_log_var`` is the variance of the log price now, zero with a bid; ``spread_lb`` is of `pricing.spread_of`;
    spreads are zero for what is not drawn; at ``slide_from_lb`` a steeper slide changes nothing.
    """

    budget: Budget
    inputs: Mapping[str, float]
    line: PriceLine
    point: PricePoint
    bid_prices: GroupPrices
    sale_date: date
    start_log_var: float
    spread_lb: FloatArray
    head: int
    days: int
    gain_sd_lb_day: float
    forage_log_sd: float
    gain_forage_corr: float
    slide_from_lb: float
    has_bid: bool
    typed_slide_pct: float | None = None

    @property
    def bid_reference_log(self) -> float:
        """Log of the bid that ``bid_prices`` are worked out with."""
        return math.log(self.bid_prices.group.bid_cwt or 1.0)

    @property
    def start_lb(self) -> float:
        """Weight now [lb]."""
        return self.inputs["start_lb"]

    @property
    def is_contract(self) -> bool:
        """Whether a contract sets the price."""
        return "contract_price_cwt" in self.budget.by_key

    @property
    def is_floored(self) -> bool:
        """Whether a price floor is bought."""
        return "floor_cwt" in self.budget.by_key

    @cached_property
    def full_inputs(self) -> dict[str, Number]:
        """All inputs of the budget, those left out at their defaults."""
        return self.budget.with_defaults({**self.inputs, "sale_mix": self.sale_mix})

    @cached_property
    def sale_lb(self) -> float:
        """Planned weight at sale [lb]."""
        inputs = self.budget.with_defaults(self.inputs)
        return float(self.budget.function(("planned_lb_sale",))(inputs, None)[0])

    @property
    def gain_lb(self) -> float:
        """Pounds put on as planned [lb]."""
        return self.sale_lb - self.start_lb

    @cached_property
    def sale_mix(self) -> float:
        """See `pricing.weight_mix_factor`."""
        return float(weight_mix_factor(self.line, self.sale_lb, self.spread_lb))

    @cached_property
    def price_sd(self) -> float:
        """Spread of the log price at the planned weight."""
        return math.sqrt(float(self.point.variance(self.line.run_at(self.sale_lb))))

    @cached_property
    def plain(self) -> dict[str, float]:
        """Every line of the plan's own budget: median prices, planned gain, yield and deaths."""
        values = self.budget.values(self.full_inputs, lambda weight, day: math.exp(self.line.read(weight)[0]))
        return {key: float(value) for key, value in values.items()}

    @property
    def nodes(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The points that stand for a year's gain and price; see `nodes_of`."""
        known = self.gain_sd_lb_day == 0.0 and self.forage_log_sd == 0.0
        return nodes_of(self.is_contract, self.is_floored, known)


GAIN_NODES = 9
CONTRACT_PARTS = 64
FLOOR_PARTS = 64


@cache
def nodes_of(
    is_contract: bool, is_floored: bool, gain_known: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return weights, gain and price of the points that stand for a year's gain and, under a floor, for its price.

    Standard normals: Gauss-Hermite for the gain, middles of equal parts where a price or contract has corners.
    """
    if is_contract:
        gain, share = part_normals(CONTRACT_PARTS), np.full(CONTRACT_PARTS, 1.0 / CONTRACT_PARTS)
    else:
        gain, share = hermite(GAIN_NODES)
    if gain_known:
        gain, share = np.zeros(1), np.ones(1)
    price = part_normals(FLOOR_PARTS) if is_floored and not is_contract else np.zeros(1)
    return np.repeat(share / len(price), len(price)), np.repeat(gain, len(price)), np.tile(price, len(gain))


@cache
def hermite(count: int) -> tuple[FloatArray, FloatArray]:
    """Return points and weights that integrate over a standard normal."""
    points, weights = np.polynomial.hermite_e.hermegauss(count)
    return points, weights / weights.sum()


@dataclass(frozen=True)
class Moved:
    """What is moved off the plan, for `expected`; numbers or arrays of one shape.

    ``inputs`` of the budget by key; ``log_price``: ln of the price at sale over the median; ``slide_add_cwt``: by how
    much the slide is steeper; ``bid_log``: ln of the bid now; ``line``: prices in place of the option's.
    """

    inputs: Mapping[str, Number] = field(default_factory=dict)
    log_price: Number = 0.0
    slide_add_cwt: Number = 0.0
    bid_log: Number | None = None
    line: PriceLine | None = None


def expected(option: Option, moved: Moved = Moved()) -> FloatArray:
    """Return the expected gain from keeping [$ per head], in the shape of what is moved; see `expected_lines`."""
    return expected_lines(option, moved, ("gain_per_head",))[0]


def expected_lines(option: Option, moved: Moved, wanted: tuple[str, ...]) -> list[FloatArray]:
    """Return the expected values of lines of the budget [$ per head], each in the shape of what is moved.

    The mean over gain, forage and price of one year: the price is lognormal around the line, integrated exactly at each
    weight; gain by quadrature; forage by its closed mean at each gain; deaths come in by their mean. The mean over the
    draws is the same within a dollar (tested).
    """
    share, gain, price_z = option.nodes
    inputs: dict[str, Any] = dict(option.full_inputs)
    for key, value in moved.inputs.items():
        inputs[key] = spread_out(value)
    if "gain_change" in moved.inputs and len(option.spread_lb) > 1:
        weights = option.sale_lb + np.asarray(moved.inputs["gain_change"]) * option.plain["days_on"]
        inputs["sale_mix"] = spread_out(weight_mix_factor(option.line, weights, option.spread_lb))
    if np.ndim(moved.slide_add_cwt) and len(option.spread_lb) > 1:
        mix = partial(
            weight_mix_factor, option.line, spread_lb=option.spread_lb, steeper_cwt=moved.slide_add_cwt
        )
        inputs["sale_mix"] = spread_out(mix(option.sale_lb))
        if option.typed_slide_pct is not None:
            inputs["start_mix"] = spread_out(mix(option.start_lb))
    inputs["gain_miss"] = option.gain_sd_lb_day * gain
    sd, corr = option.forage_log_sd, option.gain_forage_corr
    inputs["forage_ratio"] = np.exp(sd * corr * gain - 0.5 * sd**2 * (1.0 - corr**2)) * inputs["forage_ratio"]
    line, point = moved.line or option.line, option.point
    shift = spread_out(moved.log_price)
    carried: Any = 0.0
    if moved.bid_log is None:
        inputs["start_price_cwt"] = inputs["start_price_cwt"] * math.exp(0.5 * option.start_log_var)
    else:
        line, point = option.bid_prices.line(option.sale_date), option.bid_prices.point(option.sale_date)
        carried = spread_out(np.asarray(moved.bid_log) - option.bid_reference_log)
        inputs["start_price_cwt"] = spread_out(np.exp(moved.bid_log))
    steeper = spread_out(moved.slide_add_cwt)

    def price_at(weight: Any, day: Any) -> Any:
        log_cwt, run = line.read(np.asarray(weight, dtype=float))
        variance = point.variance(run)
        log_cwt = log_cwt + shift - steeper * (weight - option.slide_from_lb) / 100.0
        if moved.bid_log is not None:
            log_cwt = log_cwt + carried * line.carry_at(weight)
        if option.is_floored:
            return np.exp(log_cwt + np.sqrt(variance) * price_z)
        return np.exp(log_cwt + 0.5 * variance)

    values = option.budget.function(wanted)(inputs, price_at)
    return [np.asarray(np.add.reduce(value * share, axis=-1)) for value in values]


def spread_out(value: Any) -> Any:
    """Return an array with a last axis of one, for the nodes; a number as it is."""
    return value[..., None] if isinstance(value, np.ndarray) and value.ndim else value
