"""The price slide agreed in a contract, which is not the slide that a market shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


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
