"""Is there enough, do barns meet, which are one under two names, what do residuals say."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import chi_square_beyond, normal_cdf
from slidefit.market.fit.candidates import span_months, unseen_months
from slidefit.market.fit.constants import LEVEL_MONTHS, SPLINE_ROWS, THIN_ROWS, THIN_SALES
from slidefit.market.fit.counts import COMMON_MONTHS, barn_groups
from slidefit.market.fit.lots import SEXES, LotSource, crop_year, month_number

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]

_CHECK_LAGS = 12
_SPREAD_LAGS = 4
"""Weeks that calm and wild spells are looked for over: a month (our choice)."""
_MIN_WEEKS = 100
"""About two years of weekly sales, as a season needs."""
_ALARM = 0.01


@dataclass(frozen=True)
class ResidualChecks:
    """Probabilities of errors like these, were the model right; small ones are an alarm.

    Attributes
    ----------
    weeks : int. One-step errors that were tested.
    mean : float. Their mean, in standard errors of one of them.
    lean : float. t-test that the mean is zero.
    autocorrelation : float. Ljung-Box over 12 lags.
    spread : float. McLeod and Li's test that the spread of one week depends on the last four.
    normality : float. Jarque-Bera.
    kurtosis : float. 3 for a normal distribution; more is heavier tails.
    first_autocorrelation : float. Of neighboring weeks.
    """

    weeks: int
    mean: float
    lean: float
    autocorrelation: float
    spread: float
    normality: float
    kurtosis: float
    first_autocorrelation: float


def check_residuals(innovations: FloatArray) -> ResidualChecks | None:
    """Return the checks of standardised one-step errors, or None where there are fewer than 100.

    They are tested as they come, week by week: sums over months are nearer to normal and hide wild weeks.

    Parameters
    ----------
    innovations : array, shape (w,). In order of weeks with a sale.

    References
    ----------
    Ljung and Box (1978), Biometrika 65(2); McLeod and Li (1983), J. Time Series Analysis 4(4); Jarque and Bera
    (1980), Economics Letters 6(3).
    """
    count = len(innovations)
    if count < _MIN_WEEKS or np.ptp(innovations) == 0.0:
        return None
    centered = innovations - innovations.mean()
    spread = float(np.sqrt((centered**2).mean()))
    skew = float((centered**3).mean()) / spread**3
    kurtosis = float((centered**4).mean()) / spread**4
    t = innovations.mean() / (innovations.std(ddof=1) / np.sqrt(count))
    return ResidualChecks(
        weeks=count,
        mean=float(innovations.mean()),
        lean=float(2.0 * normal_cdf(-abs(t))),
        autocorrelation=_ljung_box(centered, _CHECK_LAGS),
        spread=_ljung_box(centered**2 - (centered**2).mean(), _SPREAD_LAGS),
        normality=chi_square_beyond(2, count / 6.0 * (skew**2 + (kurtosis - 3.0) ** 2 / 4.0)),
        kurtosis=kurtosis,
        first_autocorrelation=float((centered[1:] @ centered[:-1]) / (centered @ centered)),
    )


def _ljung_box(centered: FloatArray, lags: int) -> float:
    """Return the probability of Q = n (n + 2) sum r_k^2 / (n - k) over the lags, chi-squared with as many degrees."""
    count, square = len(centered), float(centered @ centered)
    r = np.array([float(centered[k:] @ centered[:-k]) / square for k in range(1, lags + 1)])
    return chi_square_beyond(
        lags, count * (count + 2.0) * float((r**2 / (count - np.arange(1.0, lags + 1.0))).sum())
    )


def check_facts(checks: ResidualChecks | None) -> tuple[tuple[str, str], ...]:
    """Return the checks as a statistician names them, for a fit's summary."""
    if checks is None:
        return ()
    errors = f"{checks.weeks} one-step errors: mean {checks.mean:+.2f} sd, kurtosis {checks.kurtosis:.1f} (normal 3)"
    tests = f"mean {checks.lean:.3f}, Ljung-Box {checks.autocorrelation:.3f}, McLeod-Li {checks.spread:.3f}"
    return (
        ("Index errors", f"{errors}, first autocorrelation {checks.first_autocorrelation:+.2f}"),
        ("Their tests (p)", f"{tests}, Jarque-Bera {checks.normality:.3f}"),
    )


def check_notes(checks: ResidualChecks | None) -> tuple[str, ...]:
    """Return what the checks say and what it means for the reader, in words.

    Notes
    -----
    Passing is no proof: with few weeks these tests see only gross faults.
    """
    if checks is None:
        return ()
    notes = []
    if checks.lean < _ALARM:
        way = "higher" if checks.mean > 0 else "lower"
        notes.append(
            f"week after week prices came in {way} than the fit expected (by {abs(checks.mean):.2f} of a usual "
            "week's move): this market moved one way, and the fit does not carry that on"
        )
    if checks.autocorrelation < _ALARM:
        way = "the same" if checks.first_autocorrelation > 0 else "the opposite"
        notes.append(
            f"a week's price move is followed by one in {way} direction more often than by chance: a better forecast "
            "could use that"
        )
    if checks.spread < _ALARM:
        notes.append(
            "price moves come in calm and wild spells: ranges are too wide in the first, too narrow in the second"
        )
    if checks.normality < _ALARM:
        notes.append(
            "big weekly moves come more often than on a bell curve: trust the 80 percent range more than the 95"
        )
    return tuple(notes) or (
        f"the {checks.weeks} weekly moves that the fit did not expect look like chance: to neither side, in no spells, "
        "and big ones no more common than on a bell curve",
    )


IntArray = NDArray[np.int64]

_NAMED = 3
_PLACE_AFTER = re.compile(r"(?<!\s)\s++[-–]\s++[^-–]+,\s*+[A-Za-z]{2}\.?$")
_COMMON = re.compile(
    r"\b(?:the|of|and|inc|llc|ltd|co|company|corp|livestock|stock|stockyards?|saleyards?|auctions?|markets?|marketing|"
    r"exchange|center|commission|sales?|barn|yards?|cattle)\b"
)


def bare_name(market: str) -> str:
    """Return a market's name without its place, its kind of business, capitals and punctuation.

    >>> bare_name("Alder Ford Livestock Auction - Alder Ford, NM"), bare_name("ALDER FORD LIVESTOCK, INC.")
    ('alder ford', 'alder ford')
    """
    words = re.sub(r"[^\w\s]", " ", _PLACE_AFTER.sub("", market).lower())
    return " ".join(_COMMON.sub(" ", words).split())


def barn_notes(markets: Sequence[str], sale_market: IntArray, sale_day: IntArray) -> tuple[str, ...]:
    """Return what the reader must know of the barns, in words.

    Parameters
    ----------
    markets : sequence of str
    sale_market, sale_day : arrays, shape (s,)
        Market (index into ``markets``) and day (since 1970-01-01) of each sale.
    """
    alike: dict[str, list[str]] = defaultdict(list)
    for market in markets:
        alike[bare_name(market)].append(market)
    notes = [
        f"{' and '.join(repr(name) for name in names)} look like one place under several names; they were taken as "
        "separate barns. To join them, rename one of the markets in the book"
        for name, names in alike.items()
        if name and len(names) > 1
    ]
    group = barn_groups(len(markets), sale_market, month_number(sale_day))
    if group.max() > 0:
        sold = sorted(set(sale_market.tolist()))
        apart = [
            [markets[place] for place in sold if group[place] == one] for one in range(int(group.max()) + 1)
        ]
        notes.append(
            f"barns that sold together in fewer than {COMMON_MONTHS} months can't be compared, so they were taken to "
            f"stand at one level: {'; '.join(_listed(names) for names in apart if names)}"
        )
    return tuple(notes)


def _listed(names: Sequence[str]) -> str:
    """Return some names, and how many more there are."""
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(name or "a market without a name" for name in names[:_NAMED]) + more


GOOD, THIN, NOT_ENOUGH = "good", "thin", "not enough"
_GOOD_CROP_YEARS = 6
_NEEDED_ROWS = 50
_NEEDED_SALES = 3
_GOOD_WEIGHT_SD_LB = 60.0
_NEEDED_WEIGHT_SD_LB = 25.0
_MISSING_MONTHS = 3


@dataclass(frozen=True)
class Verdict:
    """What the records can carry.

    Attributes
    ----------
    word : str. ``good``, ``thin`` or ``not enough``.
    reasons : tuple of str. What holds it back; empty when good.
    add : tuple of str. What to add, in the same order.
    """

    word: str
    reasons: tuple[str, ...]
    add: tuple[str, ...]

    def text(self) -> str:
        """Return the verdict in one sentence.

        >>> Verdict("thin", ("40 lots",), ("260 more lots",)).text()
        'thin: 40 lots (add 260 more lots)'
        """
        told = [f"{why} (add {more})" for why, more in zip(self.reasons, self.add, strict=True)]
        return f"{self.word}: {'; '.join(told)}" if told else self.word


def verdict_of(lots: LotSource) -> Verdict:
    """Return the verdict from the number of lots and sales, the spread of weights within sales, and the months.

    Notes
    -----
    ``good`` speaks of the amount of data, not of their quality, and of the past: no amount of it tells next year.
    The thresholds are those of the gates (docs/method.md), and six crop years for errors clustered by crop year.
    """
    faults: list[tuple[str, str, str]] = []
    rows, sales, months = len(lots), lots.sales, span_months(lots)
    _short(faults, rows, "lots", _NEEDED_ROWS, THIN_ROWS, SPLINE_ROWS)
    _short(faults, sales, "sales", _NEEDED_SALES, THIN_SALES, 2 * THIN_SALES)
    sexes = np.flatnonzero(lots.tally.sex_rows).tolist()
    for sex in sexes:
        spread = weight_spread_lb(lots, sex)
        if spread < _GOOD_WEIGHT_SD_LB:
            word = NOT_ENOUGH if spread < _NEEDED_WEIGHT_SD_LB and len(sexes) == 1 else THIN
            what = f"{SEXES[sex]}s of one sale differ by {spread:.0f} lb only (standard deviation)"
            faults.append((word, what, "sales with light and heavy calves side by side"))
    if months < LEVEL_MONTHS - 1.0:
        what = f"the sales span {max(months, 0.0):.0f} months, which can't tell a season from a trend"
        faults.append((THIN, what, f"{LEVEL_MONTHS - months:.0f} more months of sales"))
    else:
        years = len(np.unique(crop_year(lots.sale_day)))
        if years < _GOOD_CROP_YEARS:
            what = f"{years} crop years can't show how the slide drifts from year to year"
            faults.append((THIN, what, f"{_GOOD_CROP_YEARS - years} more years"))
    unseen = unseen_months(lots)
    if len(unseen) >= _MISSING_MONTHS:
        what = f"{len(unseen)} calendar months were never seen"
        faults.append((THIN, what, "sales of those months"))
    words = [word for word, _, _ in faults]
    word = NOT_ENOUGH if NOT_ENOUGH in words else THIN if faults else GOOD
    return Verdict(word, tuple(what for _, what, _ in faults), tuple(more for _, _, more in faults))


def _short(
    faults: list[tuple[str, str, str]], count: int, name: str, needed: int, thin: int, good: int
) -> None:
    if count < good:
        word = NOT_ENOUGH if count < needed else THIN
        goal = good if count >= thin else thin
        faults.append((word, f"{count:,} {name}", f"{goal - count:,} more {name}"))


def weight_spread_lb(lots: LotSource, sex: int) -> float:
    """Return the standard deviation of weight within sales for one sex [lb]: what the slide is read from."""
    square, spare = float(lots.tally.weight_square[sex]), int(lots.tally.spare[sex])
    return float(np.sqrt(square / spare)) if spare > 0 else 0.0


_ALIKE = 0.8
"""Share of letters that two market names have in common from which they may be one barn's (our judgment)."""


@dataclass(frozen=True)
class MarketSpan:
    """A market in the book: its records, first and last sale."""

    market: str
    records: int
    first_sale: date
    last_sale: date


def market_spans(sales: pd.DataFrame) -> tuple[MarketSpan, ...]:
    """Return the markets of some records (``market``, ``sale_date``), by name."""
    days = sales.groupby(sales["market"].fillna("").astype(str), observed=True)["sale_date"]
    spans = days.agg(["size", "min", "max"])
    return tuple(
        MarketSpan(str(name), int(row["size"]), row["min"].date(), row["max"].date())
        for name, row in spans.iterrows()
    )


def same_barn(name: str, other: str) -> bool:
    """Return whether two market names may be one barn's: none at all, one inside the other, or nearly alike.

    >>> same_barn("Low Ferry", "Low Ferry Livestock Auction - Millrace"), same_barn("Low Ferry", "Stone Gap")
    (True, False)
    >>> same_barn("", "Low Ferry")
    True
    """
    words, others = bare_name(name).split(), bare_name(other).split()
    if not words or not others:
        return True
    inside = set(words) <= set(others) or set(others) <= set(words)
    return inside or SequenceMatcher(None, " ".join(words), " ".join(others)).ratio() >= _ALIKE


def kin_of(markets: Sequence[str], since: date, spans: Sequence[MarketSpan]) -> tuple[MarketSpan, ...]:
    """Return markets with records since a day that may be one of some markets under another name.

    A market that sold on beside these is another barn: only those count that begin no earlier than a month before the
    records of these end.
    """
    own = [span for span in spans if span.market in markets]
    if not own:
        return ()
    ends = max(span.last_sale for span in own)
    return tuple(
        span
        for span in spans
        if span.market not in markets
        and span.last_sale > max(ends, since)
        and (ends - span.first_sale).days <= 31
        and any(same_barn(name, span.market) for name in markets)
    )
