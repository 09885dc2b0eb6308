"""A forward price typed by the user: the outlook's expected prices are bent to pass through it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from slidefit.errors import OutlookError
from slidefit.market.outlook import STANDARD_FRAME, STANDARD_HEAD, STANDARD_MUSCLE, Outlook

NORMAL_975 = 1.959964


def anchored(
    outlook: Outlook,
    *,
    sex: str,
    weight_lb: float,
    when: date,
    price_cwt: float,
    frame: str = STANDARD_FRAME,
    muscle: str = STANDARD_MUSCLE,
) -> Outlook:
    """Return the outlook with its expected price of these calves on that day set to a forward price.

        shift = ln(price) - ln(expected price),   added in proportion to the time until then, in full from then on

    Parameters
    ----------
    sex, weight_lb, frame, muscle
        The calves that the price is for [lb].
    when : date
        After ``outlook.as_of``.
    price_cwt : float [$/cwt]

    Raises
    ------
    OutlookError
        A price that is not positive, a day in the past, or calves that the outlook knows nothing about.

    Notes
    -----
    Only the expectation moves; the ranges stay as wide as they were. A forward price is a guess of those who trade,
    and holds for these calves only if a buyer has signed it. A futures price is not one: the local basis is missing.
    """
    if not price_cwt > 0.0:
        raise OutlookError(
            f"the forward price is {price_cwt:g}", where="--forward", remedy="Give dollars per hundredweight."
        )
    if when <= outlook.as_of:
        raise OutlookError(
            f"the forward price is for {when}, but the records reach {outlook.as_of}",
            where="--forward",
            remedy="Give a day after the last sale, or type today's bid instead.",
        )
    outlook.check_weight(sex, weight_lb)
    plain = replace(outlook, forward_shift=0.0, forward_months=0.0)
    relative = float(plain.log_relative(sex, weight_lb, when, frame=frame, muscle=muscle, head=STANDARD_HEAD))
    expected = float(plain.log_index([when])[0]) + relative
    shift = float(np.log(price_cwt)) - expected
    note = (
        f"expected prices are bent to ${price_cwt:,.2f}/cwt for {weight_lb:,.0f} lb {sex}s on {when}, where the "
        f"records say ${np.exp(expected):,.2f}; the ranges are those of the records"
    )
    reach = NORMAL_975 * float(np.sqrt(plain.index_cov([when])[0, 0]))
    odd = f"that forward price lies outside the records' 95 percent range ({100 * np.expm1(shift):+.0f}%)"
    return replace(
        plain,
        forward_shift=shift,
        forward_months=float(plain.months_ahead([when])[0]),
        notes=(*plain.notes, note, *((odd,) if abs(shift) > reach else ())),
    )
