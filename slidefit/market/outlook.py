"""The price outlook: all that the decision needs to know of the market, as plain numbers.

A fit publishes one, and a region's default file can be read as one; the decision can't tell them apart.
Prices are in $/cwt, weights in lb, everything about spread in log points (0.01 is about one percent).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

from slidefit.errors import OutlookError
from slidefit.market.fit.constants import MARKETS_SLIDE_SD
from slidefit.market.futures import FuturesView, MonthBasis
from slidefit.market.months import DAYS_PER_MONTH, month_weights
from slidefit.market.past_record import PastRecord
from slidefit.public_result import PublicResult

FloatArray = NDArray[np.float64]

BEYOND_DATA_LB = 50.0
UNSEEN_MONTH_SD = 0.05
STANDARD_WEIGHT_LB = 550.0
STANDARD_HEAD = 15.0
STANDARD_FRAME = "ML"
STANDARD_MUSCLE = "1"
UNGRADED = "not graded"


def grade_key(frame: str, muscle: str) -> str:
    """Return the one spelling of a grade, such as ``ML 1-2``; a blank part is left out.

    >>> grade_key("ML", "1-2"), grade_key("", "1")
    ('ML 1-2', '1')
    """
    return " ".join(part for part in (frame, muscle) if part)


@dataclass(frozen=True)
class SexCurve:
    """Price by weight for one sex of the standard grade, against the standard calf of the same day.

    Attributes
    ----------
    weights_lb : array, shape (m,) [lb]
        Increasing; reaches beyond the data on both sides, by the extrapolation rule of the fit.
    log_relative : array, shape (12, m) [log points]
        ln(price / price of the standard calf), a row for each calendar month.
    slope_sd_cwt : array, shape (m,) [log points per cwt]
        One standard error of the slide at each weight: sampling and drift; wider beyond the data.
    low_lb, high_lb : float [lb]. The central 99 percent of head in the records.
    stray_cwt : float [log points per cwt]
        The part of ``slope_sd_cwt`` that is the slide's straying from week to week.
    level_slope : float [log points per cwt]. What a log point of price level adds to the slide at 550 lb.
    between_cwt : float [log points per cwt]. How far the slides of markets of the region differ.
    """

    weights_lb: FloatArray
    log_relative: FloatArray
    slope_sd_cwt: FloatArray
    low_lb: float
    high_lb: float
    stray_cwt: float = 0.0
    level_slope: float = 0.0
    between_cwt: float = MARKETS_SLIDE_SD


@dataclass(frozen=True)
class GradeOffset:
    """A grade against the standard one: log offset at the standard weight, and its change per cwt."""

    log_offset: float
    slope_cwt: float = 0.0


@dataclass(frozen=True)
class OutlookBasis:
    """What an outlook rests on, for the lines under every answer.

    ``verdict`` says in a sentence whether the records are enough (`Verdict.text`); empty where nobody judged.
    """

    source: str
    lots: int
    head: int
    sales: int
    markets: tuple[str, ...]
    first_sale: date
    last_sale: date
    verdict: str = ""


@dataclass(frozen=True, repr=False)
class Outlook(PublicResult):
    """Where prices stand on ``as_of``, how they move with weight and season, and how sure that is.

    Attributes
    ----------
    as_of : date. The day that the level holds for, as a rule the last sale in the records.
    log_level : float. ln($/cwt) of the standard calf on ``as_of``, the season taken out.
    level_sd : float [log points]. Standard error of that level.
    season_log : array, shape (12,) [log points]. Mid-month season of the standard calf, mean zero.
    season_cov : array, shape (12, 12). Covariance of its estimates.
    walk_sd_month, drift_sd_month : float [log points]
        Spread of the level: walk x sqrt(months) and drift x months, independent of each other.
    curves : mapping of sex to SexCurve
    grades : mapping of grade (``grade_key``) to GradeOffset
    head_slope : float. Log points for each log unit of head in the lot, against the standard 15.
    lot_sd, calf_sd, sale_sd : float [log points]
        Lot-to-lot spread, calf-to-calf spread (divided by the root of head) and sale-to-sale spread.
    unseen_months : tuple of int. Calendar months with no record at all.
    drift_slope : float [log points per cwt]. How far the slide lies from the curves on ``as_of``.
    drift_week_share : float. Share of that which is left a week later.
    month_basis : MonthBasis, optional
        Cash less futures by month; what quotes of futures are read with (see `blend.futures_outlook`).
    futures : FuturesView, optional. What quotes of futures do to the expected prices and their ranges.
    range_scale : tuple of float
        What past forecasts multiply the level's standard error by, 1, 2, ... months ahead; none is one.
    record : PastRecord, optional. What past forecasts were worth.
    """

    as_of: date
    currency: str
    log_level: float
    level_sd: float
    season_log: FloatArray
    season_cov: FloatArray
    walk_sd_month: float
    drift_sd_month: float
    curves: Mapping[str, SexCurve]
    grades: Mapping[str, GradeOffset]
    head_slope: float
    lot_sd: float
    calf_sd: float
    sale_sd: float
    basis: OutlookBasis
    unseen_months: tuple[int, ...] = ()
    notes: tuple[str, ...] = field(default=())
    drift_slope: float = 0.0
    drift_week_share: float = 0.0
    month_basis: MonthBasis | None = None
    futures: FuturesView | None = None
    range_scale: tuple[float, ...] = ()
    record: PastRecord | None = None

    def curve(self, sex: str) -> SexCurve:
        """Return the weight curve of a sex.

        Raises
        ------
        OutlookError. The records hold none of that sex.
        """
        try:
            return self.curves[sex]
        except KeyError:
            known = ", ".join(sorted(self.curves))
            raise OutlookError(
                f"the outlook has no prices for sex {sex!r}", remedy=f"Use one of: {known}."
            ) from None

    def grade(self, frame: str, muscle: str) -> GradeOffset:
        """Return a grade's offset against the standard grade of the records.

        Medium and large 1 stands for the records' own standard grade where they have too few of it; records that
        name no grade price every grade alike (`priced_as` says so in words).

        Raises
        ------
        OutlookError. The grade is not in the records.
        """
        key = grade_key(frame, muscle)
        if key in self.grades:
            return self.grades[key]
        if self.priced_as(frame, muscle):
            return GradeOffset(0.0)
        known = ", ".join(sorted(name or UNGRADED for name in self.grades))
        raise OutlookError(
            f"the outlook has no prices for grade {key or UNGRADED!r}", remedy=f"Use one of: {known}."
        )

    def priced_as(self, frame: str, muscle: str) -> str:
        """Return what stands in for a grade that the records don't hold, in a sentence; empty where nothing does."""
        key = grade_key(frame, muscle)
        if key in self.grades:
            return ""
        if set(self.grades) <= {""}:
            return "The sale records name no grades: these calves are priced as the run of calves in them."
        if key != grade_key(STANDARD_FRAME, STANDARD_MUSCLE):
            return ""
        alike = [name for name, offset in self.grades.items() if offset == GradeOffset(0.0)]
        stand_in = alike[0] if alike and alike[0] else "the records' standard grade"
        return f"The sale records hold too few {key} calves: these are priced as {stand_in}."

    def check_weight(self, sex: str, weight_lb: float) -> None:
        """Refuse a weight that the records say nothing about.

        Raises
        ------
        OutlookError. ``weight_lb`` is over 50 lb outside the central 99 percent of head for that sex.
        """
        curve = self.curve(sex)
        if not curve.low_lb - BEYOND_DATA_LB <= weight_lb <= curve.high_lb + BEYOND_DATA_LB:
            raise OutlookError(
                f"{weight_lb:,.0f} lb is outside the weights seen for {sex}s, "
                f"{curve.low_lb:,.0f} to {curve.high_lb:,.0f} lb",
                remedy="Ask for a weight within 50 lb of that range, or add sale records that reach it.",
            )

    def months_ahead(self, when: Sequence[date]) -> FloatArray:
        """Return the months from ``as_of`` to each date, shape (n,); never below zero."""
        days = np.array([(day - self.as_of).days for day in when], dtype=float)
        return np.asarray(np.maximum(days, 0.0) / DAYS_PER_MONTH)

    def log_index(self, when: Sequence[date]) -> FloatArray:
        """Return the expected ln($/cwt) of the standard calf on each date, shape (n,)."""
        expected = self.log_level + month_weights(when) @ self.season_log
        if self.futures is not None:
            expected = expected + self.futures.at(self.months_ahead(when))[0]
        return np.asarray(expected)

    def index_cov(self, when: Sequence[date]) -> FloatArray:
        """Return the covariance of the log index over dates, shape (n, n).

        level_sd^2 + walk^2 min(h_i, h_j) + drift^2 h_i h_j + the season's error since ``as_of``,

        and .05^2 for a month that was never seen, whose season is a guess from its neighbors' (our judgment: a whole
        season is about that large).

        Notes
        -----
        For a change between two dates (a bid in hand on the first) take the covariance of the difference:
        the level error then drops out. Quotes of futures and past misses rescale the standard error of each date
        (`level_ratio`); correlations stay.
        """
        ahead = self.months_ahead(when)
        shares, unseen = self._season_shares(when)
        cov = (
            self.level_sd**2
            + self.walk_sd_month**2 * np.minimum.outer(ahead, ahead)
            + self.drift_sd_month**2 * np.multiply.outer(ahead, ahead)
            + shares @ self.season_cov @ shares.T
            + unseen @ unseen.T
        )
        ratio = self.level_ratio(ahead)
        return np.asarray(cov * np.multiply.outer(ratio, ratio))

    def index_var(self, when: Sequence[date]) -> FloatArray:
        """Return the variance of the log index on each date, shape (n,): the diagonal of `index_cov` alone."""
        ahead = self.months_ahead(when)
        shares, unseen = self._season_shares(when)
        season = ((shares @ self.season_cov) * shares).sum(axis=1) + (unseen**2).sum(axis=1)
        level = self.level_sd**2 + self.walk_sd_month**2 * ahead + self.drift_sd_month**2 * ahead**2
        return np.asarray((level + season) * self.level_ratio(ahead) ** 2)

    def _season_shares(self, when: Sequence[date]) -> tuple[FloatArray, FloatArray]:
        months = month_weights(when)
        unseen = UNSEEN_MONTH_SD * months[:, [month - 1 for month in self.unseen_months]]
        return months - month_weights([self.as_of]), unseen

    def level_ratio(self, months: FloatArray) -> FloatArray:
        """Return what the level's standard error is multiplied by, some months from ``as_of``, shape (n,).

        Scales learned from forecasts 1, 2, ... months ahead hold for the middle of those months.
        """
        ratio = self.futures.at(months)[1] if self.futures is not None else np.ones(len(months))
        if not self.range_scale:
            return ratio
        middles = np.arange(len(self.range_scale)) + 0.5
        return np.asarray(ratio * np.interp(months, middles, self.range_scale))

    def log_relative(
        self,
        sex: str,
        weight_lb: ArrayLike,
        when: date,
        *,
        frame: str = STANDARD_FRAME,
        muscle: str = STANDARD_MUSCLE,
        head: float = STANDARD_HEAD,
    ) -> FloatArray:
        """Return ln(price of a lot / price of the standard calf) on a day, in the shape of ``weight_lb``.

        Parameters
        ----------
        weight_lb : array-like [lb]
            Mean weight; not checked against the data (see `check_weight`), held at the ends of the curve.

        Raises
        ------
        OutlookError. Unknown sex or grade.
        """
        curve = self.curve(sex)
        offset = self.grade(frame, muscle)
        weight = np.asarray(weight_lb, dtype=float)
        by_weight = (month_weights([when]) @ curve.log_relative)[0]
        of_weight = np.interp(weight, curve.weights_lb, by_weight)
        slope_cwt = offset.slope_cwt + self.drift_at(when)
        of_grade = offset.log_offset + slope_cwt * (weight - STANDARD_WEIGHT_LB) / 100.0
        return np.asarray(of_weight + of_grade + self.head_slope * np.log(head / STANDARD_HEAD))

    def drift_at(self, when: date) -> float:
        """Return how far the slide is expected to lie from the curves on a day [log points per cwt].

        drift_slope x drift_week_share^weeks since ``as_of``
        """
        weeks = max((when - self.as_of).days, 0) / 7.0
        return float(self.drift_slope * self.drift_week_share**weeks) if self.drift_slope else 0.0

    def slide_sd(self, sex: str, from_lb: float, to_lb: ArrayLike) -> FloatArray:
        """Return the standard error of ln(price at ``to_lb`` / price at ``from_lb``), the shape of ``to_lb``.

        The slope's error is taken as fully shared along the curve, so that it adds up with the distance.
        """
        curve = self.curve(sex)
        steps = np.diff(curve.weights_lb) / 100.0
        mids = 0.5 * (curve.slope_sd_cwt[1:] + curve.slope_sd_cwt[:-1])
        run = np.concatenate([[0.0], np.cumsum(mids * steps)])
        at = np.interp(np.asarray(to_lb, dtype=float), curve.weights_lb, run)
        return np.asarray(np.abs(at - np.interp(from_lb, curve.weights_lb, run)))

    def noise_sd(self, head: float) -> float:
        """Return the spread of one lot's log price around the outlook: sale, lot and calves, for ``head`` head."""
        return float(np.sqrt(self.sale_sd**2 + self.lot_sd**2 + self.calf_sd**2 / max(head, 1.0)))

    def price_cwt(
        self,
        sex: str,
        weight_lb: ArrayLike,
        when: date,
        *,
        frame: str = STANDARD_FRAME,
        muscle: str = STANDARD_MUSCLE,
        head: float = STANDARD_HEAD,
    ) -> FloatArray:
        """Return the median expected price [$/cwt] of a lot sold on a day, in the shape of ``weight_lb``.

        Raises
        ------
        OutlookError. Unknown sex or grade.
        """
        relative = self.log_relative(sex, weight_lb, when, frame=frame, muscle=muscle, head=head)
        return np.asarray(np.exp(self.log_index([when])[0] + relative))
