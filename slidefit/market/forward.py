"""Forward prices typed by the user: the outlook's expected prices are bent to pass through them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from slidefit.errors import OutlookError
from slidefit.market.outlook import (
    STANDARD_FRAME,
    STANDARD_HEAD,
    STANDARD_MUSCLE,
    STANDARD_WEIGHT_LB,
    ForwardKnot,
    Outlook,
)

NORMAL_975 = 1.959964


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
