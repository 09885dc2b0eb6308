"""The price index: what the standard calf brought at each sale and in each month, free of changes in what was sold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.lots import LotSource, month_number
from slidefit.market.within import SaleEffects

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SALE_SD_PASSES = 8
FIRST_SALE_SD = 0.03
MARKET_SD = 0.10
"""How far barns lie apart before the records speak (our choice); it settles those that never sold in one month."""
MIN_SALE_SD = 0.005


@dataclass(frozen=True)
class PriceIndex:
    """Log price of the standard calf by sale and by month, barns brought to one level.

    Attributes
    ----------
    sale_day : array of int, shape (s,)
        Days since 1970-01-01, ascending.
    sale_log : array, shape (s,) [ln $/cwt]
        Each sale's standard calf, less its market's offset.
    market_offset : array, shape (markets,) [log points]
        Each market against all of them together (weighted by sales).
    month : array of int, shape (m,)
        Months since 1970-01, without gaps from first to last.
    month_log : array, shape (m,) [ln $/cwt]
        NaN in a month without a sale.
    month_var : array, shape (m,)
        Sampling variance of ``month_log``.
    month_sales : array of int, shape (m,)
    sale_sd : float [log points]
        Spread of sales within a month, beyond what their lots explain.
    """

    sale_day: IntArray
    sale_log: FloatArray
    market_offset: FloatArray
    month: IntArray
    month_log: FloatArray
    month_var: FloatArray
    month_sales: IntArray
    sale_sd: float

    @property
    def lots_var(self) -> float:
        """What lots explain of a sale's variance around its month, in a usual month."""
        sale = self.month_var * self.month_sales
        return max(float(np.nanmedian(sale)) - self.sale_sd**2, 0.0)


def price_index(lots: LotSource, effects: SaleEffects) -> PriceIndex:
    """Return the index of the standard calf: a_sale = month + market + sale noise, by weighted least squares.

    A sale weighs 1 / (its sampling variance + sale_sd^2), sale_sd by the method of moments. Months are free and
    markets random with spread ``MARKET_SD`` (Henderson's mixed-model equations), so that markets that never sold in
    the same month are taken to stand at one level instead of at none.
    """
    sale, effect, sampling = effects.sale, effects.effect, effects.variance
    day, market = lots.sale_day[sale], lots.sale_market[sale]
    month = month_number(day)
    first, last = int(month.min()), int(month.max())
    place, size = month - first, last - first + 1
    offset = np.zeros(len(lots.markets))
    sale_sd = FIRST_SALE_SD
    for _ in range(SALE_SD_PASSES):
        weight = 1.0 / (sampling + sale_sd**2)
        offset = _market_offsets(place, market, weight, effect, (size, len(offset)))
        level, total = _ratio(place, weight, effect - offset[market], size)
        error = effect - level[place] - offset[market]
        sale_sd = _between_sales(error, sampling, place, size)
    order = np.argsort(day, kind="stable")
    return PriceIndex(
        sale_day=day[order],
        sale_log=(effect - offset[market])[order],
        market_offset=offset,
        month=np.arange(first, last + 1),
        month_log=np.where(total > 0, level, np.nan),
        month_var=np.where(total > 0, 1.0 / np.maximum(total, 1e-12), np.nan),
        month_sales=np.bincount(place, minlength=size),
        sale_sd=sale_sd,
    )


def _market_offsets(
    place: IntArray, market: IntArray, weight: FloatArray, effect: FloatArray, shape: tuple[int, int]
) -> FloatArray:
    """Return each market's offset, months free and markets random; their mean over the sales is zero."""
    months, markets = shape
    if markets == 1:
        return np.zeros(1)
    cell = place * markets + market
    shares = np.bincount(cell, weight, months * markets).reshape(shape)
    money = np.bincount(cell, weight * effect, months * markets).reshape(shape)
    each = np.maximum(shares.sum(axis=1, keepdims=True), 1e-300)
    left = np.diag(shares.sum(axis=0) + 1.0 / MARKET_SD**2) - shares.T @ (shares / each)
    right = money.sum(axis=0) - shares.T @ (money.sum(axis=1, keepdims=True) / each)[:, 0]
    offset = np.linalg.solve(left, right)
    return np.asarray(offset - np.average(offset, weights=np.bincount(market, minlength=markets)))


def _ratio(
    place: IntArray, weight: FloatArray, value: FloatArray, size: int
) -> tuple[FloatArray, FloatArray]:
    """Return the weighted mean of ``value`` in each place (zero where there is none) and the weights' sum."""
    top = np.bincount(place, weight * value, size).astype(float)
    bottom = np.bincount(place, weight, size).astype(float)
    return np.divide(top, bottom, out=np.zeros(size), where=bottom > 0), bottom


def _between_sales(error: FloatArray, sampling: FloatArray, place: IntArray, size: int) -> float:
    """Return the spread of sales around their month by moments, from months of two sales or more."""
    count = np.bincount(place, minlength=size)
    many = count[place] >= 2
    spare = float(count[count >= 2].sum() - (count >= 2).sum())
    if spare < 3:
        return FIRST_SALE_SD
    share = (count[place] - 1.0) / count[place]
    excess = float((error[many] ** 2).sum() - (sampling * share)[many].sum())
    return max(float(np.sqrt(max(excess, 0.0) / spare)), MIN_SALE_SD)
