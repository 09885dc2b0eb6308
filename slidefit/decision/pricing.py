"""The price of one group on any day, by weight: outlook, bids, and forward prices typed by the user."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.price_state import PricePoint, PriceState, slide_run
from slidefit.distributions import NORMAL_975, part_normals
from slidefit.errors import OutlookError
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Forward, Group

FloatArray = NDArray[np.float64]
SPREAD_POINTS = 15
FEW = 256
"""Fewer weights than these are read faster one by one (measured)."""
BASIS_SD = 0.05
"""How far cash prices of 550-lb calves stray from futures and the usual basis [log points], as measured on New Mexico
records (docs/method.md): the least spread of a price typed for a month to come, where no basis is known."""
LARGEST_LOT_HEAD = 100
"""Larger groups are sold in lots of this size at most: records hold hardly any larger lot."""


@dataclass(frozen=True)
class PriceLine:
    """Median price by weight on one day, and how it moves; arrays of shape (m,).

    ``slide_run`` is one standard error of the slide [log points], added up from the weight where the price is known:
    positive above it and negative below, so that one shared normal number moves the whole curve. ``carry`` is how far
    the log price moves with the group's own bid [per log point of it].
    """

    weights_lb: FloatArray
    log_cwt: FloatArray
    slide_run: FloatArray
    carry: FloatArray

    @cached_property
    def step_lb(self) -> float | None:
        """The distance between weights, when it is the same everywhere; else None."""
        steps = np.diff(self.weights_lb)
        even = len(steps) > 0 and bool(np.all(np.abs(steps - steps[0]) < 1e-9 * steps[0]))
        return float(steps[0]) if even else None

    @cached_property
    def in_steps(self) -> list[FloatArray]:
        """Log price and the slide's run at each weight, and their rise to the next."""
        return [each for row in (self.log_cwt, self.slide_run) for each in (row[:-1], np.diff(row))]

    def read(self, weight_lb: float | NDArray[Any]) -> tuple[FloatArray, FloatArray]:
        """Return the log price and the slide's run at weights, linearly, held at the ends, in the weights' precision.

        Even steps find their place by division where there are many weights.
        """
        if np.size(weight_lb) < FEW or self.step_lb is None:
            log_cwt = np.interp(weight_lb, self.weights_lb, self.log_cwt)
            return np.asarray(log_cwt), np.asarray(np.interp(weight_lb, self.weights_lb, self.slide_run))
        place = (np.asarray(weight_lb) - float(self.weights_lb[0])) * (1.0 / self.step_lb)
        price, price_rise, run, run_rise = (row.astype(place.dtype) for row in self.in_steps)
        np.clip(place, 0.0, np.nextafter(place.dtype.type(len(price)), place.dtype.type(0.0)), out=place)
        below = np.floor(place)
        place -= below
        cell = below.astype(np.intp)
        log_cwt = price_rise.take(cell, mode="clip")
        slide_run = run_rise.take(cell, mode="clip")
        log_cwt *= place
        slide_run *= place
        log_cwt += price.take(cell, mode="clip")
        slide_run += run.take(cell, mode="clip")
        return log_cwt, slide_run

    def run_at(self, weight_lb: float) -> float:
        """Return one standard error of the slide, added up to a weight [log points]."""
        return float(np.interp(weight_lb, self.weights_lb, self.slide_run))

    def carry_at(self, weight_lb: float | FloatArray) -> FloatArray:
        """Return how far the log price at a weight moves with the group's own bid."""
        return np.asarray(np.interp(weight_lb, self.weights_lb, self.carry))

    def log_at(self, weight_lb: float | FloatArray) -> FloatArray:
        """Return the log of the median price at weights [ln $/cwt]."""
        return np.asarray(np.interp(weight_lb, self.weights_lb, self.log_cwt))

    def price_cwt(self, weight_lb: float) -> float:
        """Return the median price at a weight [$/cwt]."""
        return float(np.exp(self.log_at(weight_lb)))


def lot_head(group: Group) -> float:
    """Return the head of the lots that a group is sold in."""
    return float(min(group.head, LARGEST_LOT_HEAD))


@dataclass(frozen=True)
class GroupPrices:
    """The prices of one group on any day, by the outlook and the state after all bids, in which it has its ``place``.

    ``forward`` are prices typed for a day to come, in order: the expected price passes through them.
    """

    outlook: Outlook
    state: PriceState
    place: int
    group: Group
    start: date
    forward: tuple[tuple[date, Forward], ...] = ()
    _lines: dict[date, PriceLine] = field(default_factory=dict, compare=False, repr=False)
    _points: dict[date, PricePoint] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def weights_lb(self) -> FloatArray:
        """The weights that prices are worked out for [lb]."""
        return self.outlook.curve(self.group.sex).weights_lb

    @cached_property
    def plain_run(self) -> FloatArray:
        """One standard error of the slide at those weights, added up from the standard weight."""
        return slide_run(self.outlook, self.group.sex, self.weights_lb)

    def expected_log(self, when: date, weight_lb: float | FloatArray) -> FloatArray:
        """Return the log price by outlook and bids, forward prices apart."""
        of_weight = self.outlook.log_relative(
            self.group.sex,
            weight_lb,
            when,
            frame=self.group.frame,
            muscle=self.group.muscle,
            head=lot_head(self.group),
        )
        point = self.point(when)
        run = np.interp(weight_lb, self.weights_lb, self.plain_run)
        log_cwt = self.outlook.log_index([when])[0] + of_weight + point.mean + point.slide_mean * run
        return np.asarray(log_cwt)

    def point(self, when: date) -> PricePoint:
        """Return how sure the price on a day is.

        Where it rests on a forward price it is never surer than that price's own miss, the spread of the basis.
        """
        if when not in self._points:
            point = self.state.point(self.place, when)
            if self.forward and self.state.held.price:
                basis = self.outlook.month_basis
                miss = float(self.shares(when).sum()) * (BASIS_SD if basis is None else basis.sd)
                point = replace(point, day_var=point.day_var + max(0.0, miss**2 - point.var))
            self._points[when] = point
        return self._points[when]

    @cached_property
    def forward_months(self) -> FloatArray:
        """Months ahead of the start and of each forward price."""
        return self.outlook.months_ahead([self.start, *(when for when, _ in self.forward)])

    @cached_property
    def knots(self) -> tuple[tuple[float, float, tuple[float, float]], ...]:
        """For each forward price: what it adds to the log price, its run, and how a bid moves it."""
        out = []
        for when, price in self.forward:
            run = float(np.interp(price.weight_lb, self.weights_lb, self.plain_run))
            shift = float(np.log(price.price_cwt)) - float(self.expected_log(when, price.weight_lb))
            out.append((shift, run, self.state.carried(self.place, when)))
        return tuple(out)

    def shares(self, when: date) -> FloatArray:
        """Return how far a day rests on each forward price: in proportion to the time between, the last in full."""
        ahead = float(self.outlook.months_ahead([when])[0])
        months = self.forward_months
        return np.array([np.interp(ahead, months, row) for row in np.eye(len(months))])[1:]

    def line(self, when: date) -> PriceLine:
        """Return the prices by weight on a day."""
        if when not in self._lines:
            self._lines[when] = self._line(when)
        return self._lines[when]

    def _line(self, when: date) -> PriceLine:
        log_cwt, run = self.expected_log(when, self.weights_lb), self.plain_run
        level, slide = self.state.carried(self.place, when)
        carry = level + slide * run
        if self.forward:
            shares = self.shares(when)
            for share, (shift, at_run, moved) in zip(shares, self.knots, strict=True):
                log_cwt = log_cwt + share * shift
                run = run - share * at_run
                carry = carry - share * (moved[0] + moved[1] * at_run)
        return PriceLine(self.weights_lb, log_cwt, run, np.asarray(carry))


def forward_of(
    outlook: Outlook, group: Group, start: date, sale_day: int
) -> tuple[tuple[date, Forward], ...]:
    """Return a group's forward prices with their days, in order; OutlookError for a day gone by."""
    days = [(date.fromisoformat(f"{each.month}-{sale_day:02d}"), each) for each in group.forward]
    after = outlook.as_of if group.bid_cwt is None else max(start, outlook.as_of)
    for day, _ in days:
        if day <= after:
            raise OutlookError(
                f"prices are known up to {after}",
                where=f"forward price for {day}",
                remedy="Give a later day, or type today's bid instead.",
            )
    return tuple(sorted(days, key=lambda each: each[0]))


def forward_notes(prices: GroupPrices) -> tuple[str, ...]:
    """Return what each forward price says against the records, in words."""
    plain, out = GroupPrices(prices.outlook, prices.state, prices.place, prices.group, prices.start), []
    for (when, price), (shift, _, _) in zip(prices.forward, prices.knots, strict=True):
        expected = float(np.exp(plain.expected_log(when, price.weight_lb)))
        origin = f"the price typed for {when:%B %Y}" + (f" ({price.name})" if price.name else "")
        told = (
            f"Expected prices rest on {origin}: ${price.price_cwt:,.2f}/cwt at {price.weight_lb:,.0f} lb, where the "
            f"records say ${expected:,.2f}; the ranges stay as wide as the records make them, "
            "and no narrower than such prices miss by"
        )
        if abs(shift) > NORMAL_975 * float(np.sqrt(prices.outlook.index_var([when])[0])):
            told += f". It lies outside the records' 95 percent range ({100 * np.expm1(shift):+.0f}%)"
        out.append(f"{told}.")
    return tuple(out)


def spread_of(group: Group) -> FloatArray:
    """Return how each of a set of equal shares of the group differs from its mean weight [lb], shape (k,).

    A weight list gives one for each calf; a spread gives the middles of equal parts of a normal curve.
    """
    if group.weights_lb is not None:
        return np.asarray(group.weights_lb, dtype=float) - group.mean_weight_lb
    if group.weight_sd_lb == 0.0:
        return np.zeros(1)
    return np.asarray(group.weight_sd_lb * part_normals(SPREAD_POINTS))


def weight_mix_factor(
    line: PriceLine, mean_lb: Any, spread_lb: FloatArray, steeper_cwt: Any = 0.0
) -> FloatArray:
    """Return the check of calves priced one by one along the slide, over the check at their mean weight.

    mean(w p(w)) / (W p(W)), in the shape of the mean weights and of how much steeper the slide is [log points per cwt];
    exactly one without a spread of weights.
    """
    if len(spread_lb) == 1:
        return np.ones(np.broadcast_shapes(np.shape(mean_lb), np.shape(steeper_cwt)))
    each = np.asarray(mean_lb)[..., None] + spread_lb
    log_cwt = line.log_at(each) - np.asarray(steeper_cwt)[..., None] * spread_lb / 100.0
    checks = np.add.reduce(each * np.exp(log_cwt), axis=-1) / len(spread_lb)
    return np.asarray(checks / (mean_lb * np.exp(line.log_at(mean_lb))))
