"""The price of a group on a day: outlook, bid, forward price, contract."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from slidefit.errors import OutlookError
from slidefit.market.outlook import (
    NORMAL_975,
    STANDARD_FRAME,
    STANDARD_HEAD,
    STANDARD_MUSCLE,
    STANDARD_WEIGHT_LB,
    ForwardKnot,
    Outlook,
)
from slidefit.plan.plan import Group


@dataclass(frozen=True)
class ForwardPrice:
    """A price for calves of a weight on a day to come [lb, $/cwt]; ``name`` tells where it is from."""

    when: date
    weight_lb: float
    price_cwt: float
    name: str = ""


@dataclass(frozen=True)
class KnownPrice:
    """Where the expected prices start from: the day, weight [lb] and log premium over the outlook of what is known."""

    when: date
    weight_lb: float = STANDARD_WEIGHT_LB
    premium_log: float = 0.0


def anchored(
    outlook: Outlook,
    prices: Sequence[ForwardPrice],
    *,
    sex: str,
    frame: str = STANDARD_FRAME,
    muscle: str = STANDARD_MUSCLE,
    head: float = STANDARD_HEAD,
    known: KnownPrice | None = None,
) -> Outlook:
    """Return the outlook with its expected prices of these calves set to forward prices.

        shift_k = ln(price_k) - premium - ln(expected price on that day),
        added in proportion to the time between one price and the next, in full from the last one on

    Parameters
    ----------
    prices : sequence of ForwardPrice
        For one kind of calves, each on a day of its own.
    sex, frame, muscle, head
        The calves that the prices are for, and the size of their lots.
    known : KnownPrice, optional
        A bid in hand, which the shift starts from; else the outlook's own ``as_of``.

    Raises
    ------
    OutlookError
        A price that is not positive, a day that is not after what is known, or calves that the outlook knows nothing
        about.

    Notes
    -----
    Only the expectation moves; the range of the price level stays as wide as the records make it. A forward price is
    a guess of those who trade, and holds for these calves only if a buyer has signed it. A futures price is not one:
    the local basis is missing.
    """
    start = known or KnownPrice(outlook.as_of)
    plain = replace(outlook, forward_from=0.0, forward=())
    since = float(plain.months_ahead([start.when])[0])
    knots: list[ForwardKnot] = []
    notes: list[str] = []
    for price in sorted(prices, key=lambda each: each.when):
        _check(price, max(start.when, outlook.as_of), knots, float(plain.months_ahead([price.when])[0]))
        of_calves = plain.log_relative(
            sex, price.weight_lb, price.when, frame=frame, muscle=muscle, head=head
        )
        expected = start.premium_log + float(plain.log_index([price.when])[0] + of_calves)
        shift = float(np.log(price.price_cwt)) - expected
        knots.append(ForwardKnot(float(plain.months_ahead([price.when])[0]), shift, price.weight_lb))
        reach = NORMAL_975 * float(np.sqrt(plain.index_cov([price.when])[0, 0]))
        notes.append(_told(price, expected, shift, odd=abs(shift) > reach))
    return replace(plain, forward_from=since, forward=tuple(knots), notes=(*plain.notes, *notes))


def _check(price: ForwardPrice, after: date, before: Sequence[ForwardKnot], months: float) -> None:
    where = f"forward price for {price.when}"
    if not price.price_cwt > 0.0:
        raise OutlookError(
            f"the price is {price.price_cwt:g}", where=where, remedy="Give dollars per hundredweight."
        )
    if price.when <= after:
        raise OutlookError(
            f"prices are known up to {after}",
            where=where,
            remedy="Give a later day, or type today's bid instead.",
        )
    if any(knot.months == months for knot in before):
        raise OutlookError("is given twice", where=where, remedy="Keep one price for each day.")


def _told(price: ForwardPrice, expected_log: float, shift: float, *, odd: bool) -> str:
    origin = f"the price typed for {price.when:%B %Y}" + (f" ({price.name})" if price.name else "")
    told = (
        f"Expected prices rest on {origin}: ${price.price_cwt:,.2f}/cwt at {price.weight_lb:,.0f} lb, where the "
        f"records say ${np.exp(expected_log):,.2f}; the ranges stay as wide as the records make them"
    )
    if odd:
        told += f". It lies outside the records' 95 percent range ({100 * np.expm1(shift):+.0f}%)"
    return f"{told}."


FloatArray = NDArray[np.float64]
SPREAD_POINTS = 15
LARGEST_LOT_HEAD = 100
"""Larger groups are sold in lots of this size at most: records hold hardly any larger lot."""


@dataclass(frozen=True)
class PriceLine:
    """Median price by weight on one day.

    Attributes
    ----------
    weights_lb : array, shape (m,) [lb]
    log_cwt : array, shape (m,)
        ln($/cwt).
    slide_run : array, shape (m,) [log points]
        One standard error of the slide, added up from the weight where the price is known: positive above it
        and negative below, so that one shared normal number moves the whole curve.
    """

    weights_lb: FloatArray
    log_cwt: FloatArray
    slide_run: FloatArray

    @cached_property
    def step_lb(self) -> float | None:
        """The distance between weights, when it is the same everywhere; else None."""
        steps = np.diff(self.weights_lb)
        even = len(steps) > 0 and bool(np.all(np.abs(steps - steps[0]) < 1e-9 * steps[0]))
        return float(steps[0]) if even else None

    @cached_property
    def in_steps(self) -> dict[np.dtype[Any], tuple[FloatArray, ...]]:
        """Log price and the slide's run at each weight, and their rise to the next, in double and single precision."""
        rows = [each for row in (self.log_cwt, self.slide_run) for each in (row[:-1], np.diff(row))]
        return {np.dtype(kind): tuple(row.astype(kind) for row in rows) for kind in (np.float64, np.float32)}

    def read(self, weight_lb: float | FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the log price and the slide's run at weights, linearly, held at the ends, in the weights' precision.

        Even steps find their place by division.
        """
        if self.step_lb is None or np.ndim(weight_lb) == 0:
            log_cwt = np.interp(weight_lb, self.weights_lb, self.log_cwt)
            return np.asarray(log_cwt), np.asarray(np.interp(weight_lb, self.weights_lb, self.slide_run))
        place = (np.asarray(weight_lb) - float(self.weights_lb[0])) * (1.0 / self.step_lb)
        price, price_rise, run, run_rise = self.in_steps[place.dtype]
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

    def price_cwt(self, weight_lb: float) -> float:
        """Return the median price at a weight [$/cwt]."""
        return float(np.exp(np.interp(weight_lb, self.weights_lb, self.log_cwt)))


def lot_head(group: Group) -> float:
    """Return the head of the lots that a group is sold in."""
    return float(min(group.head, LARGEST_LOT_HEAD))


def price_line(outlook: Outlook, group: Group, when: date, weaning: date) -> PriceLine:
    """Return the price by weight for a group sold on a day.

    Without a bid: index of the day + relative price by weight. With one: the bid carried along the outlook,
    bid x exp(log_relative(W, t) - log_relative(W0, t0) + log_index(t) - log_index(t0)).

    The slide's error runs from the weight where the price is known: the bid's, or the standard calf's, or a forward
    price's on its day (between two, from both in the shares of the time between).

    Raises
    ------
    OutlookError
        The outlook holds no such sex or grade.
    """
    weights = outlook.curve(group.sex).weights_lb
    start_lb = group.mean_weight_lb
    head = lot_head(group)
    of_weight = outlook.log_relative(
        group.sex, weights, when, frame=group.frame, muscle=group.muscle, head=head
    )
    log_cwt = outlook.log_index([when])[0] + of_weight
    anchor_lb = STANDARD_WEIGHT_LB
    if group.bid_cwt is not None:
        at_start = outlook.log_relative(
            group.sex, start_lb, weaning, frame=group.frame, muscle=group.muscle, head=head
        )
        log_cwt = log_cwt + np.log(group.bid_cwt) - outlook.log_index([weaning])[0] - at_start
        anchor_lb = start_lb
    shares = outlook.forward_shares([when])[0]
    run = sum(
        share * np.sign(weights - at) * outlook.slide_sd(group.sex, at, weights)
        for share, at in zip(shares, (anchor_lb, *(knot.weight_lb for knot in outlook.forward)), strict=True)
        if share > 0.0
    )
    return PriceLine(weights, log_cwt, np.asarray(run))


def with_forward(outlook: Outlook, group: Group, weaning: date, sale_day: int) -> Outlook:
    """Return the outlook as a group sees it: bent to pass through its forward prices, if it has any.

    Raises
    ------
    OutlookError
        A forward price is of a day that is not after what is known.
    """
    if not group.forward:
        return outlook
    head = lot_head(group)
    known = None
    if group.bid_cwt is not None:
        expected = outlook.price_cwt(
            group.sex, group.mean_weight_lb, weaning, frame=group.frame, muscle=group.muscle, head=head
        )
        premium = float(np.log(group.bid_cwt / expected))
        known = KnownPrice(weaning, group.mean_weight_lb, premium)
    prices = [
        ForwardPrice(
            date.fromisoformat(f"{each.month}-{sale_day:02d}"), each.weight_lb, each.price_cwt, each.name
        )
        for each in group.forward
    ]
    return anchored(
        outlook, prices, sex=group.sex, frame=group.frame, muscle=group.muscle, head=head, known=known
    )


def spread_of(group: Group) -> FloatArray:
    """Return how each of a set of equal shares of the group differs from its mean weight [lb], shape (k,).

    A weight list gives one for each calf; a spread gives the middles of equal parts of a normal curve.
    """
    if group.weights_lb is not None:
        return np.asarray(group.weights_lb, dtype=float) - group.mean_weight_lb
    if group.weight_sd_lb == 0.0:
        return np.zeros(1)
    normal = ndtri((np.arange(SPREAD_POINTS) + 0.5) / SPREAD_POINTS)
    return np.asarray(group.weight_sd_lb * normal / normal.std())


def weight_mix_factor(line: PriceLine, mean_lb: float, spread_lb: Sequence[float] | FloatArray) -> float:
    """Return the check of calves priced one by one along the slide, over the check at their mean weight.

    mean(w p(w)) / (W p(W)); exactly one without a spread of weights.
    """
    each = mean_lb + np.asarray(spread_lb, dtype=float)
    if len(each) == 1:
        return 1.0
    prices = np.exp(np.interp(each, line.weights_lb, line.log_cwt))
    return float(np.mean(each * prices) / (mean_lb * line.price_cwt(mean_lb)))


def contract_price(
    pay_weight_lb: ArrayLike,
    *,
    price_cwt: float,
    base_weight_lb: float,
    slide_cwt: float,
    window_lb: float = 0.0,
    two_way: bool = False,
) -> NDArray[np.float64]:
    """Return the price under a contract slide [$/cwt], in the shape of ``pay_weight_lb``.

    price - slide x (pay weight - base - window) / 100 for calves heavier than base + window; with a two-way
    slide, price + slide x (base - window - pay weight) / 100 for lighter ones.

    Parameters
    ----------
    pay_weight_lb : array-like [lb]
    price_cwt, base_weight_lb : float
    slide_cwt : float [$/cwt per cwt]
        A "5-cent slide" is 5: $0.05 per cwt for each pound.
    window_lb : float [lb]
    two_way : bool

    Examples
    --------
    Alabama Cooperative Extension: 735 lb estimated, 686 lb delivered, $75.00, $5 both ways.

    >>> round(float(contract_price(686, price_cwt=75, base_weight_lb=735, slide_cwt=5, two_way=True)), 2)
    77.45
    """
    off = np.asarray(pay_weight_lb, dtype=float) - base_weight_lb
    beyond = np.maximum(off - window_lb, 0.0)
    short = np.maximum(-off - window_lb, 0.0) if two_way else 0.0
    return np.asarray(price_cwt - slide_cwt * (beyond - short) / 100.0)


def percent_slide_cwt(price_cwt: float, slide_pct: float) -> float:
    """Return a slide in percent of the price as $/cwt per cwt.

    Peel, Oklahoma State University, September 2017: $150 at 6.7 percent.

    >>> round(percent_slide_cwt(150, 6.7), 2)
    10.05
    """
    return price_cwt * slide_pct / 100.0
