"""Futures quotes in the price outlook: the cash basis by month, and the path that half of the expectation follows."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from slidefit.futures_contracts import FuturesQuote, expiry, nearest_expiry
from slidefit.market.months import DAYS_PER_MONTH, EPOCH, MONTHS, month_weights

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CONTRACT_WEIGHT_LB = 750.0
"""Where the basis is taken: the contract is for steers of 700 to 899 lb; its spread is .034 there, .050 at 550 lb."""
PRIOR_SHARE = 0.5
"""Of the futures in the expectation; shares learned by horizon hardly differ from it (docs/method.md)."""
OLDEST_QUOTE_DAYS = 60
"""At 56 days the half is still 9 to 13 percent better than no futures; older quotes were not tried."""
_SAME_DAYS = 10
"""A sale is held against quotes of the ten days up to it, so that a weekly sheet of quotes will do (our choice)."""
_SNAPSHOT_DAYS = 5
"""Contracts last quoted within five days of the newest quote stand together (our choice: a week of sessions)."""
_BASIS_YEARS = 5
NEEDED_MONTHS = 12
"""Today's basis without a year of history did not earn its place at one month ahead (docs/method.md)."""
_MONTH_PRIOR = 1.0
"""Years of the mean basis that a calendar month's own mean is shrunk by (half, one and two do alike)."""
_DEPARTURE_SALES = 4
_DEPARTURE_DAYS = 45
_USUAL_MONTH_SHARE = 0.6
_USUAL_BASIS_SD = 0.034
_BASIS_PRIOR_MONTHS = 6
"""Months of the usual spread and persistence (measured on the New Mexico records) that a short history leans on."""
_LONGEST_MONTH_SHARE = 0.95
_USUAL_DAY_SD = 0.0115
"""Daily spread of log settlements, 2016 to 2022; settled with a quarter of sessions."""
_DAY_PRIOR = 60
_LEVEL_ERROR = 0.01
"""What the mean of four sales leaves unknown of today's basis (log points)."""


@dataclass(frozen=True)
class Curve:
    """The contracts of one day.

    Attributes
    ----------
    day : int. Since 1970-01-01, of the newest quote.
    expiries : array of int, shape (k,)
    log : array, shape (k,) [ln $/cwt]
    contracts : tuple of (contract month, settlement [$/cwt])
    """

    day: int
    expiries: IntArray
    log: FloatArray
    contracts: tuple[tuple[str, float], ...]

    def at(self, days: Sequence[date]) -> FloatArray:
        """Return the log price today of the contract that will be the nearest on each day, NaN past the last one.

        Between two contracts quoted it is read by their expiries; before the first one it is the first.
        """
        wanted = np.array([(nearest_expiry(day) - EPOCH).days for day in days])
        read = np.interp(wanted, self.expiries, self.log)
        return np.asarray(np.where(wanted <= self.expiries[-1], read, np.nan))


class QuoteHistory:
    """Quotes in the order of days, to be asked for the contracts of any day."""

    def __init__(self, quotes: Sequence[FuturesQuote]) -> None:
        ordered = sorted(quotes, key=lambda quote: (quote.as_of, quote.contract))
        ends = {name: (expiry(name) - EPOCH).days for name in {quote.contract for quote in ordered}}
        self.quotes = tuple(ordered)
        self._day = np.array([(quote.as_of - EPOCH).days for quote in ordered], dtype=np.int64)
        self._end = np.array([ends[quote.contract] for quote in ordered], dtype=np.int64)
        self._log = np.log([quote.settlement_cwt for quote in ordered])
        self._near: dict[int, float] = {}

    def curve(self, day: int, oldest_days: int) -> Curve | None:
        """Return the contracts last quoted up to a day; None where the newest quote is older than ``oldest_days``.

        Contracts that had expired by ``day`` are left out.
        """
        last = int(np.searchsorted(self._day, day, side="right"))
        if last == 0 or day - self._day[last - 1] > oldest_days:
            return None
        newest = int(self._day[last - 1])
        first = int(np.searchsorted(self._day, newest - _SNAPSHOT_DAYS, side="right"))
        latest = {int(self._end[place]): place for place in range(first, last)}
        alive = [latest[end] for end in sorted(latest) if end >= day]
        if not alive:
            return None
        quoted = tuple((self.quotes[place].contract, self.quotes[place].settlement_cwt) for place in alive)
        return Curve(newest, self._end[alive], self._log[alive], quoted)

    def newest(self) -> tuple[FuturesQuote, ...]:
        """Return the quotes of the newest week."""
        first = int(np.searchsorted(self._day, self._day[-1] - _SNAPSHOT_DAYS, side="right"))
        return self.quotes[first:]

    def until(self, day: int) -> QuoteHistory:
        """Return the quotes up to a day."""
        last = int(np.searchsorted(self._day, day, side="right"))
        part = copy.copy(self)
        part.quotes, part._day = self.quotes[:last], self._day[:last]
        part._end, part._log, part._near = self._end[:last], self._log[:last], {}
        return part

    def nearest_log(self, sale_day: IntArray) -> FloatArray:
        """Return the log price of the nearest contract on each sale's day, by quotes of the ten days up to it."""
        for day in set(sale_day.tolist()) - self._near.keys():
            curve = self.curve(day, _SAME_DAYS)
            self._near[day] = float(curve.at([EPOCH + timedelta(day)])[0]) if curve is not None else np.nan
        return np.array([self._near[day] for day in sale_day.tolist()], dtype=float)

    def day_sd(self, until: int) -> float:
        """Return the daily spread of a contract's log price up to a day, settled with the usual one.

        Changes between quotes of one contract over up to five days count by the root of their sessions.
        """
        order = np.lexsort((self._day, self._end))
        apart = np.diff(self._day[order])
        near = (np.diff(self._end[order]) == 0) & (apart > 0) & (apart <= _SNAPSHOT_DAYS)
        near &= self._day[order][1:] <= until
        sessions = np.where(apart >= 3, apart - 2.0, apart)[near]  # a weekend lies in three days or more
        square = float((np.diff(self._log[order])[near] ** 2 / sessions).sum())
        return float(np.sqrt((square + _DAY_PRIOR * _USUAL_DAY_SD**2) / (int(near.sum()) + _DAY_PRIOR)))


@dataclass(frozen=True)
class MonthBasis:
    """Cash less futures at the contract's weight, in log points.

    Attributes
    ----------
    log : array, shape (12,). ln(cash / nearest contract) at the middle of each calendar month.
    sd : float. Spread of the basis around it.
    month_share : float. Share of a departure that is left a month later.
    departure : float. How far the last four sales lay from it.
    day_sd : float. Daily spread of a contract's log price.
    months : int. Months of sales with quotes that it rests on.
    weight_lb : float [lb]
        Of the steer (or the records' first sex) that it is for: the contract's, or the heaviest that the records bear.
    relative : array, shape (12,) [log points]
        ln(price at that weight / price of the standard calf) by calendar month, at today's level.
    source : str. ``records``, or the name of the region it is from.
    """

    log: FloatArray
    sd: float
    month_share: float = _USUAL_MONTH_SHARE
    departure: float = 0.0
    day_sd: float = _USUAL_DAY_SD
    months: int = 0
    weight_lb: float = CONTRACT_WEIGHT_LB
    relative: FloatArray = field(default_factory=lambda: np.zeros(MONTHS))
    source: str = "records"


@dataclass(frozen=True)
class FuturesView:
    """What futures do to an outlook, as facts; nothing where ``set_aside`` names a reason.

    Attributes
    ----------
    as_of : date. Of the newest quote.
    contracts : tuple of (contract month, settlement [$/cwt])
    share : float. Of the futures in the expectation.
    basis_log : array, shape (12,) [log points]. Cash less futures by calendar month, at ``weight_lb``.
    weight_lb : float [lb]
    set_aside : str
        ``too_old`` (over 60 days before the last sale), ``short_basis`` (no basis by month is known), ``expired``
        (every contract has ended), or empty.
    months : array, shape (g,). From the last sale, ascending.
    shift : array, shape (g,) [log points]
        What they add to the expected price; past the last contract's month it halves every three months.
    ratio : array, shape (g,). Standard error of the level with them over that without.
    """

    as_of: date
    contracts: tuple[tuple[str, float], ...]
    share: float
    basis_log: FloatArray
    weight_lb: float = CONTRACT_WEIGHT_LB
    set_aside: str = ""
    months: FloatArray = field(default_factory=lambda: np.zeros(1))
    shift: FloatArray = field(default_factory=lambda: np.zeros(1))
    ratio: FloatArray = field(default_factory=lambda: np.ones(1))

    def at(self, months: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the shift and the ratio some months from the last sale."""
        return np.interp(months, self.months, self.shift), np.interp(months, self.months, self.ratio)


def fit_basis(
    sale_day: IntArray, cash_log: FloatArray, near_log: FloatArray, day_sd: float = _USUAL_DAY_SD
) -> MonthBasis | None:
    """Return the basis by calendar month from the sales of five years and the quotes of their days.

        b_m = mean + (sum of the month's yearly means less the mean) / (years + 1)
        departure today = mean over the last four sales of (basis - b_month), left over: share^months

    Parameters
    ----------
    sale_day : array of int, shape (s,). Days since 1970-01-01, ascending.
    cash_log : array, shape (s,) [ln $/cwt]. What a steer of the contract's weight brought.
    near_log : array, shape (s,) [ln $/cwt]. From `QuoteHistory.nearest_log`; NaN where there is none.
    day_sd : float [log points]

    Returns
    -------
    MonthBasis or None. None where fewer than twelve months hold sales with quotes.

    References
    ----------
    Tonsor, Dhuyvetter and Mintert (2004), Improving cattle basis forecasting, Journal of Agricultural and Resource
    Economics 29(2): today's departure beside the years' mean helps.
    """
    used = np.isfinite(near_log) & (sale_day > sale_day[-1] - 365.25 * _BASIS_YEARS)
    basis = (cash_log - near_log)[used]
    days = [EPOCH + timedelta(int(day)) for day in sale_day[used]]
    number = np.array([day.year * MONTHS + day.month - 1 for day in days], dtype=np.int64)
    months, place = np.unique(number, return_inverse=True)
    if len(months) < NEEDED_MONTHS:
        return None
    count = np.bincount(place)
    means = np.bincount(place, basis) / count
    mean = float(means.mean())
    years = np.bincount(months % MONTHS, minlength=MONTHS)
    log = mean + np.bincount(months % MONTHS, means - mean, MONTHS) / (years + _MONTH_PRIOR)
    apart = basis - month_weights(days) @ log
    monthly = np.bincount(place, apart) / count
    follows = np.diff(months) == 1
    before, after = monthly[:-1][follows], monthly[1:][follows]
    usual = _BASIS_PRIOR_MONTHS * _USUAL_BASIS_SD**2
    share = (float(after @ before) + _USUAL_MONTH_SHARE * usual) / (float(before @ before) + usual)
    late = np.flatnonzero(sale_day[used] >= sale_day[-1] - _DEPARTURE_DAYS)[-_DEPARTURE_SALES:]
    return MonthBasis(
        log=log,
        sd=float(np.sqrt((float(monthly @ monthly) + usual) / (len(months) + _BASIS_PRIOR_MONTHS))),
        month_share=float(np.clip(share, 0.0, _LONGEST_MONTH_SHARE)),
        departure=float(apart[late].mean()) if len(late) else 0.0,
        day_sd=day_sd,
        months=len(months),
    )


def futures_path(
    curve: Curve, basis: MonthBasis, when: Sequence[date], as_of: date
) -> tuple[FloatArray, FloatArray]:
    """Return the standard calf's price by the futures [ln $/cwt], NaN past the last contract's month, and its error.

        ln F(nearest on the day) + b_month + departure x share^months - relative_month

        variance = day_sd^2 x sessions since the quote + sd^2 (1 - share^(2 months)) + .01^2

    Parameters
    ----------
    as_of : date. The last sale, which today's departure is of.
    """
    ahead = np.array([max((day - as_of).days, 0) for day in when]) / DAYS_PER_MONTH
    left = basis.month_share**ahead
    sessions = np.array([max((day - EPOCH).days - curve.day, 0) for day in when]) * 5.0 / 7.0
    log = curve.at(when) + month_weights(when) @ (basis.log - basis.relative) + basis.departure * left
    variance = basis.day_sd**2 * sessions + basis.sd**2 * (1.0 - left**2) + _LEVEL_ERROR**2
    return np.asarray(log), np.sqrt(variance)
