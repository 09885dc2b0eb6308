"""One state of price for all groups of a plan, and what a bid says about it.

    ln price of a group on a day = level and season of the market + slide to its weight + grade
                                   + quality of these calves (lasting) + noise of the day (gone tomorrow)

The fit's variance between lots is split between lasting quality and the noise of a day. A bid is an observation of
the sum on its day: it moves level, slide, quality and noise by their variances (Gaussian conditioning), and all but the
noise carry to later prices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook

FloatArray = NDArray[np.float64]
BidIs = Literal["", "market", "these calves", "this buyer"]
LASTING_SHARE = 0.5
"""Share of the variance between lots that goes with the calves from sale to sale: one half, ours. Records that show
the same calves sold twice would tell; sale records hardly ever do."""
LEAST_VARIANCE = 1e-12
"""Where an outlook is certain a bid still moves the market's level."""


@dataclass(frozen=True)
class Held:
    """What is drawn; what is not stays at its expectation."""

    price: bool = True
    slide: bool = True
    lot: bool = True


@dataclass(frozen=True)
class StateGroup:
    """One group as the state of price sees it.

    ``weaning`` is the day of selling now, and of the bid; ``run`` one standard error of the slide, added up from the
    standard weight to theirs; ``log_expected`` the ln($/cwt) that the outlook expects for them that day; ``lot_var``
    and ``sale_var`` the variance of a lot's price around its sale, and of a sale around the level.
    """

    sex: str
    weaning: date
    run: float
    log_expected: float
    log_bid: float | None
    bid_is: BidIs
    lot_var: float
    sale_var: float

    @property
    def quality_var(self) -> float:
        """Variance of the calves' lasting quality."""
        return LASTING_SHARE * self.lot_var

    @property
    def day_var(self) -> float:
        """Variance of the noise of one day."""
        return (1.0 - LASTING_SHARE) * self.lot_var + self.sale_var


@dataclass(frozen=True)
class PricePoint:
    """What is known of one group's log price on one day, against the outlook.

    At a weight where one standard error of the slide adds up to ``run`` it has mean + slide_mean x run and the variance
    var + 2 slide_cov x run + slide_var x run^2 + day_var.
    """

    mean: float
    slide_mean: float
    var: float
    slide_cov: float
    slide_var: float
    day_var: float

    def variance(self, run: float | FloatArray) -> float | FloatArray:
        """Return the variance of the log price, the day's noise included."""
        return self.var + self.day_var + run * (2.0 * self.slide_cov + self.slide_var * run)


@dataclass(frozen=True)
class BidReading:
    """How a bid was read.

    ``to_market``, ``to_calves`` and ``to_buyer`` are the shares of its difference from the market's price for such
    calves (in logs) taken as the market's level and slide, as these calves' quality, and as this buyer's, gone
    tomorrow; ``said`` is what the user said that it is, empty where the variances decided.
    """

    bid_cwt: float
    expected_cwt: float
    to_market: float
    to_calves: float
    to_buyer: float
    said: str


@dataclass(frozen=True)
class Posterior:
    """The state after all bids, over some days: the levels of ``days``, the slides by sex, the groups' quality.

    ``cov`` is without what is held; ``pull``, shape (m, bids), is how far each moves with each bid's surprise.
    """

    days: tuple[date, ...]
    mean: FloatArray
    cov: FloatArray
    pull: FloatArray


@dataclass(frozen=True)
class PriceState:
    """Level on any day, slide by sex and quality by group, jointly normal; conditional on the bids.

    ``days`` are those that will be asked for, worked out together; any other day is worked out by itself. The closed
    form of one bid is tested.
    """

    outlook: Outlook
    calves: tuple[StateGroup, ...]
    held: Held = Held()
    days: tuple[date, ...] = ()

    @cached_property
    def sexes(self) -> tuple[str, ...]:
        """The sexes of the groups, in order."""
        return tuple(sorted({each.sex for each in self.calves}))

    @cached_property
    def bids(self) -> tuple[int, ...]:
        """The groups whose bid says something about later prices."""
        told = enumerate(self.calves)
        return tuple(k for k, each in told if each.log_bid is not None and each.bid_is != "this buyer")

    @cached_property
    def _after(self) -> dict[tuple[date, ...], Posterior]:
        return {}

    def after_bids(self, days: Sequence[date]) -> Posterior:
        """Return the state over days (weaning days are added), given the bids."""
        known = set(days) <= set(self.days)
        every = tuple(
            dict.fromkeys((*(self.days if known else days), *(each.weaning for each in self.calves)))
        )
        if every not in self._after:
            self._after[every] = self._conditioned(every)
        return self._after[every]

    def _prior(self, days: tuple[date, ...], held: Held) -> FloatArray:
        n, s = len(days), len(self.sexes)
        cov = np.zeros((n + s + len(self.calves),) * 2)
        if held.price:
            cov[:n, :n] = self.outlook.index_cov(days)
        slides = np.arange(n, n + s)
        cov[slides, slides] = float(held.slide)
        quality = np.arange(n + s, len(cov))
        cov[quality, quality] = [each.quality_var * held.lot for each in self.calves]
        return cov

    def _conditioned(self, days: tuple[date, ...]) -> Posterior:
        n, s = len(days), len(self.sexes)
        prior, drawn = self._prior(days, Held()), self._prior(days, self.held)
        prior[:n, :n] += LEAST_VARIANCE
        seen, noise, surprise = np.zeros((len(self.bids), len(prior))), [], []
        for row, k in enumerate(self.bids):
            each = self.calves[k]
            if each.bid_is != "these calves":
                seen[row, days.index(each.weaning)] = 1.0
            if each.bid_is == "":
                seen[row, n + self.sexes.index(each.sex)] = each.run
            if each.bid_is != "market":
                seen[row, n + s + k] = 1.0
                prior[n + s + k, n + s + k] += LEAST_VARIANCE
            noise.append(each.day_var if each.bid_is == "" else 0.0)
            assert each.log_bid is not None
            surprise.append(each.log_bid - each.log_expected)
        total = seen @ prior @ seen.T + np.diag(noise)
        pull = prior @ seen.T @ np.linalg.pinv(total, rcond=1e-13) if self.bids else np.zeros((len(prior), 0))
        left = np.eye(len(prior)) - pull @ seen
        cov = left @ drawn @ left.T + pull @ np.diag(np.array(noise) * self.held.lot) @ pull.T
        return Posterior(days, pull @ np.array(surprise), cov, pull)

    def point(self, group: int, day: date) -> PricePoint:
        """Return what is known of a group's price on a day, whatever is sold on it being a lot of its own."""
        after, each = self.after_bids((day,)), self.calves[group]
        level, slide, quality = self.rows(after, group, day)
        cov = after.cov
        return PricePoint(
            mean=float(after.mean[level] + after.mean[quality]),
            slide_mean=float(after.mean[slide]),
            var=float(cov[level, level] + cov[quality, quality] + 2.0 * cov[level, quality]),
            slide_cov=float(cov[level, slide] + cov[quality, slide]),
            slide_var=float(cov[slide, slide]),
            day_var=each.day_var * self.held.lot,
        )

    def rows(self, after: Posterior, group: int, day: date) -> tuple[int, int, int]:
        """Return where the level of a day, the slide and the quality of a group stand in the state."""
        n = len(after.days)
        slide = n + self.sexes.index(self.calves[group].sex)
        return after.days.index(day), slide, n + len(self.sexes) + group

    def carried(self, group: int, day: date) -> tuple[float, float]:
        """Return how far a group's log price on a day, and its slide, move with its own bid [per log point].

        Zero where the bid is said to be this buyer's.
        """
        if group not in self.bids:
            return 0.0, 0.0
        after = self.after_bids((day,))
        level, slide, quality = self.rows(after, group, day)
        pull = after.pull[:, self.bids.index(group)]
        return float(pull[level] + pull[quality]), float(pull[slide])

    def reading(self, group: int) -> BidReading | None:
        """Return how a group's bid was read; None without one."""
        each = self.calves[group]
        if each.log_bid is None:
            return None
        market = calves = 0.0
        if group in self.bids:
            after = self.after_bids((each.weaning,))
            level, slide, quality = self.rows(after, group, each.weaning)
            pull = after.pull[:, self.bids.index(group)]
            market, calves = float(pull[level] + each.run * pull[slide]), float(pull[quality])
        expected = float(np.exp(each.log_expected))
        return BidReading(
            float(np.exp(each.log_bid)), expected, market, calves, 1.0 - market - calves, each.bid_is
        )


def slide_run(outlook: Outlook, sex: str, weights_lb: float | FloatArray) -> FloatArray:
    """Return one standard error of the slide, added up from the standard weight: negative below it [log points]."""
    weights = np.asarray(weights_lb, dtype=float)
    return np.sign(weights - STANDARD_WEIGHT_LB) * outlook.slide_sd(sex, STANDARD_WEIGHT_LB, weights)
