"""What a comparison answers: sell now against every program and sale date, for each group of calves.

Everything here is frozen data. Money is in dollars per head started unless the name says herd or acre;
``gain`` in a money name is the gain from keeping (keep less sell now); pounds are ``weight`` or ``lb``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, Literal, TypeVar

from slidefit.decision.price_state import BidReading
from slidefit.decision.verdict import Verdict
from slidefit.market.futures import FuturesView
from slidefit.market.past_record import PastRecord
from slidefit.public_result import PublicComparison

LineKind = Literal["income", "cost", "total"]
SELL_NOW = "sell now"
NOW_DAYS = 14
"""A weaning day further off than this is not now: our choice."""


@dataclass(frozen=True)
class BudgetLine:
    """One line of a budget: its label, how the amount comes about (``534 lb x $3.85``), and the amount.

    ``amount_per_head`` [$ per head started] is positive for money in, negative for money out.
    """

    label: str
    arithmetic: str
    amount_per_head: float
    kind: LineKind


@dataclass(frozen=True)
class Breakeven:
    """The value of one input at which keeping and selling now come out even.

    Attributes
    ----------
    name : str
        One of gain_lb_day, days, sale_price_cwt, cost_head_day, slide_pct_cwt, forage_lb_acre, death_loss_pct,
        bid_cwt (now), later_bid_cwt (in hand on the day of sale).
    value : float or None
        In the unit that the name ends in; None when there is none.
    planned : float
        What the plan or the outlook says instead.
    reason : str
        Why there is none; empty when there is one.
    """

    name: str
    value: float | None
    planned: float
    reason: str = ""


Made = TypeVar("Made")


class Deferred(Sequence[Made]):
    """Breakevens, lines or cash of one option, worked out when they are first looked at: most options' never are."""

    def __init__(self, make: Callable[[], tuple[Made, ...]]) -> None:
        self._make = make

    @cached_property
    def _found(self) -> tuple[Made, ...]:
        return self._make()

    def __getitem__(self, place: Any) -> Any:
        return self._found[place]

    def __len__(self) -> int:
        return len(self._found)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._found == tuple(other)

    def __hash__(self) -> int:
        return hash(self._found)


@dataclass(frozen=True)
class CashNeed:
    """Cash that keeping calls for in one calendar month, and in all up to then [$ for the head kept]."""

    month: str
    amount_herd: float
    total_herd: float


@dataclass(frozen=True)
class PastureUse:
    """What an option asks of the pasture.

    Grazing days of one head from one acre, and the pasture cost of one such day [$]; head that one acre carries for the
    days wanted; acres for all the head of the group; ``alternative_acre`` [$] is what the land would return otherwise.
    """

    head_days_per_acre: float
    cost_head_day: float
    head_per_acre: float
    acres_needed: float
    acres_at_hand: float | None
    alternative_acre: float | None


@dataclass(frozen=True)
class EnergyCheck:
    """The daily gain that a ration's energy supports, beside the gain that the plan assumes [lb per day]."""

    predicted_gain_lb_day: float
    planned_gain_lb_day: float
    dry_matter_lb_day: float
    too_hopeful: bool


@dataclass(frozen=True)
class Alternative:
    """One way to go for a whole group or the herd, per head of all of them.

    Attributes
    ----------
    what : str
        ``sell all``, ``keep all``, ``sell a share``, ``keep the lighter`` or ``keep the heavier``, ``price floor``,
        ``forward price``.
    detail : str
        Program, month and what else it takes, in the trade's words.
    expected, bad_year : float [$ per head]
        Gain against selling all now: mean, and mean of the worst tenth.
    odds, odds_big_loss : float or None
        Of beating selling now, and of losing more than the plan's big loss; None for selling all.
    per_acre : float or None [$ per acre of pasture used]
    cash_peak : float [$ for all head]
        The most cash that it calls for before the sale.
    fair_cost_cwt : float or None [$/cwt]
        Of a floor: what it is worth; a quote above this costs you.
    """

    what: str
    detail: str
    expected: float
    bad_year: float
    odds: float | None
    odds_big_loss: float | None
    per_acre: float | None
    cash_peak: float
    fair_cost_cwt: float | None = None


@dataclass(frozen=True)
class SellNow:
    """Selling at weaning.

    ``price_cwt`` is the bid in hand, or the outlook's median; ``mix_per_head`` [$] is what pricing each weight along
    the slide adds to pricing all at the mean; ``p10`` and ``p90`` [$ per head] equal the net when a bid is in hand;
    ``days_ahead`` runs from the day of the price level to the sale.
    """

    sale_date: date
    weight_lb: float
    pay_weight_lb: float
    price_cwt: float
    has_bid: bool
    mix_per_head: float
    net_per_head: float
    net_herd: float
    p10: float
    p90: float
    lines: tuple[BudgetLine, ...]
    days_ahead: int = 0

    @property
    def words(self) -> str:
        """What selling then is called: now, or at weaning where that is over two weeks away."""
        return "sell at weaning" if self.days_ahead > NOW_DAYS else SELL_NOW


@dataclass(frozen=True)
class KeepOption:
    """Keeping a group on one program until one sale date.

    Attributes
    ----------
    sale_month : str, ``YYYY-MM``
    days : int, from weaning to sale
    weight_lb, pay_weight_lb : float [lb]
    price_cwt, price_low_cwt, price_high_cwt : float [$/cwt]
        Median of the outlook (or the contract), and its 10 and 90 percent points.
    net_per_head : float
        N1 of the budget; costs on every head started, revenue on those alive.
    gain_per_head, gain_herd : float [$]
        Expected gain from keeping, the mean over a year that is not known; for the herd that of ``head_kept``.
    budget_gain_per_head : float [$]
        The plan's own: N1 - N0 at median prices, planned gain, yield and deaths.
    gain_per_acre : float or None [$ per acre of pasture used]
    head_kept : int
        Head of the group that fit the acres or pens.
    value_of_gain_per_lb, cost_of_gain_per_lb : float or None [$/lb]
        None where no weight is put on.
    odds : float
        Share of the joint draws in which keeping beats selling now.
    odds_big_loss : float
        Share in which keeping loses more than the plan's ``risk.loss_head``.
    p10, p50, p90, worst5_mean, bad_year : float [$ per head]
        Of the gain from keeping over the draws; ``bad_year`` is the mean of the worst tenth.
    mean : float, equal to ``gain_per_head``
    draw_error : float [$ per head], standard error of a mean over as many plain random draws
    later_bid_cwt : float or None [$/cwt]
        What must be bid on the day of sale, at the weight then, to equal selling now.
    """

    program: str
    sale_date: date
    sale_month: str
    days: int
    weight_lb: float
    pay_weight_lb: float
    price_cwt: float
    price_low_cwt: float
    price_high_cwt: float
    net_per_head: float
    gain_per_head: float
    gain_herd: float
    budget_gain_per_head: float
    gain_per_acre: float | None
    head_kept: int
    value_of_gain_per_lb: float | None
    cost_of_gain_per_lb: float | None
    odds: float
    odds_big_loss: float
    p10: float
    p50: float
    p90: float
    mean: float
    worst5_mean: float
    bad_year: float
    draw_error: float
    later_bid_cwt: float | None
    breakevens: Sequence[Breakeven]
    lines: Sequence[BudgetLine]
    cash: Sequence[CashNeed]
    pasture: PastureUse | None
    energy: EnergyCheck | None
    notes: tuple[str, ...]

    @property
    def net_herd(self) -> float:
        """Net of keeping for the head kept [$]."""
        return self.net_per_head * self.head_kept


@dataclass(frozen=True)
class Best:
    """The choice that is expected to bring most, and how sure that is.

    Attributes
    ----------
    choice : str
        A program's name, or ``sell now``.
    gain_per_head, gain_herd : float [$]
        Against selling now; zero when selling now is best.
    odds_beats_selling : float or None
        None when selling now is the choice.
    runner_up : str or None
        Program and month of the second best choice, or ``sell now``; None when there is no other.
    too_close, month_too_close : bool
        Keeping against selling is too close to call; the best keep option can't be told from the second best.
    verdict : str
        Keeping against selling, graded by odds and size; see `verdict.verdict_of`.
    """

    choice: str
    sale_date: date
    gain_per_head: float
    gain_herd: float
    odds_beats_selling: float | None
    runner_up: str | None
    odds_beats_runner_up: float | None
    too_close: bool
    month_too_close: bool
    verdict: Verdict = "Sell"

    @property
    def program(self) -> str | None:
        """The program chosen; None when selling now is the choice."""
        return None if self.choice == SELL_NOW else self.choice

    @property
    def sale_month(self) -> str:
        """Month of the sale chosen, ``YYYY-MM``."""
        return f"{self.sale_date:%Y-%m}"


@dataclass(frozen=True)
class Unavailable:
    """A program and sale month that can't be compared, and why."""

    program: str
    sale_month: str
    reason: str


@dataclass(frozen=True)
class GroupResult:
    """All choices for one group of calves."""

    group: str
    sex: str
    head: int
    sell_now: SellNow
    keep: tuple[KeepOption, ...]
    best: Best
    unavailable: tuple[Unavailable, ...]
    notes: tuple[str, ...]
    alternatives: tuple[Alternative, ...] = ()
    bid: BidReading | None = None


@dataclass(frozen=True)
class Herd:
    """Every group at its own best choice, drawn together [$ for the herd, against selling all now]."""

    head: int
    sell_now: float
    gain: float
    odds: float
    p10: float
    p50: float
    p90: float
    alternatives: tuple[Alternative, ...] = ()


@dataclass(frozen=True)
class DefaultUsed:
    """Plan fields of one table (of the group or program ``owner``) that were not given, and the value taken."""

    table: str
    names: tuple[str, ...]
    value: str
    unit: str
    meaning: str
    owner: str = ""

    @property
    def field(self) -> str:
        """The table and its fields in one line."""
        return f"{self.table}: {', '.join(self.names)}"


@dataclass(frozen=True, repr=False)
class Comparison(PublicComparison):
    """The whole answer.

    Attributes
    ----------
    as_of : date, the day of the outlook's price level
    source : str, where the outlook comes from
    typed_prices : bool, the plan types its prices: no records stand behind them
    draws, seed : int
    left_out : tuple of str
        What is not in the numbers, such as land or labor.
    verdict : str, whether the records behind the prices are enough; empty where nobody judged
    futures : FuturesView, optional
        What quotes of futures do to the prices.
    record : PastRecord, optional
        Odds that past forecasts said, and how often they came.
    """

    groups: tuple[GroupResult, ...]
    herd: Herd
    currency: str
    as_of: date
    source: str
    draws: int
    seed: int
    defaults_used: tuple[DefaultUsed, ...]
    left_out: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    verdict: str = ""
    typed_prices: bool = False
    futures: FuturesView | None = None
    record: PastRecord | None = None
