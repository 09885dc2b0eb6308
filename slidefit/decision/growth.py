"""How a calf grows on a program, stretch by stretch, and what its feed costs on the way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from slidefit.decision.growing import Feed, Pasture, Program
from slidefit.decision.pasture import head_days_per_acre, intake_of, intake_slope


@dataclass(frozen=True)
class Stretch:
    """Days in a row with one gain and one feed.

    Attributes
    ----------
    label : str
    first_day : int
        Days after weaning.
    days : int
    gain_lb_day : float
    start_lb : float
        Weight at the start.
    cost_head_day : float [$]
        Feed or yard by the day, the ration and the pasture apart.
    pasture : Pasture or None
    ration : tuple of Feed
    """

    label: str
    first_day: int
    days: int
    gain_lb_day: float
    start_lb: float
    cost_head_day: float
    pasture: Pasture | None
    ration: tuple[Feed, ...]

    @property
    def mean_lb(self) -> float:
        """Mean weight over the stretch [lb]."""
        return self.start_lb + 0.5 * self.gain_lb_day * self.days

    @property
    def ration_head_day(self) -> float:
        """Cost of the ration for one head-day [$]."""
        return sum(feed.cost_head_day for feed in self.ration)

    @property
    def head_days_acre(self) -> float:
        """Head-days from an acre of the stretch's pasture."""
        assert self.pasture is not None
        intake = intake_of(self.pasture, self.mean_lb)
        return head_days_per_acre(self.pasture.forage_lb_acre, self.pasture.utilization_pct, intake)

    @property
    def pasture_head_day(self) -> float:
        """Cost of the pasture for one head-day [$]; zero without one."""
        return 0.0 if self.pasture is None else self.pasture.total_cost_acre / self.head_days_acre

    @property
    def acres_head(self) -> float:
        """Acres that one head uses over the stretch."""
        return 0.0 if self.pasture is None else self.days / self.head_days_acre

    @property
    def acres_slope(self) -> float:
        """Acres more for one head when the daily gain of the whole stay is one pound higher."""
        if self.pasture is None:
            return 0.0
        heavier_lb = self.first_day + 0.5 * self.days
        eaten = self.days * intake_slope(self.pasture) * heavier_lb
        return eaten / (self.pasture.forage_lb_acre * self.pasture.utilization_pct / 100.0)


def wait_days(program: Program, weaning: date) -> int:
    """Return the days from weaning until a program opens."""
    return max(0, (program.earliest_on - weaning).days) if program.earliest_on else 0


def longest_days(program: Program, weaning: date) -> int | None:
    """Return the longest stay that a program allows from weaning; None without a limit."""
    limits = []
    if program.latest_off is not None:
        limits.append((program.latest_off - weaning).days)
    if program.phases and program.phases[-1].days is not None:
        limits.append(wait_days(program, weaning) + sum(phase.days or 0 for phase in program.phases))
    return min(limits) if limits else None


def stretches_of(program: Program, weaning: date, weight_lb: float, days: int) -> tuple[Stretch, ...]:
    """Return the stretches from weaning to sale: waiting first, then the program's phases.

    Parameters
    ----------
    program : Program
    weaning : date
    weight_lb : float [lb]
        At weaning; the slump comes off it at once.
    days : int
        From weaning to sale.
    """
    out: list[Stretch] = []
    weight = weight_lb - program.slump_lb
    day = 0
    waiting = min(days, wait_days(program, weaning))
    if waiting:
        gain, cost = program.wait_gain_lb_day or 0.0, program.wait_cost_head_day or 0.0
        out.append(Stretch("waiting", 0, waiting, gain, weight, cost, None, ()))
        day, weight = waiting, weight + gain * waiting
    for phase in program.stages():
        length = min(days - day, days if phase.days is None else phase.days)
        if length <= 0:
            break
        cost = program.cost_head_day + phase.cost_head_day
        label = phase.name or program.name
        out.append(Stretch(label, day, length, phase.gain_lb_day, weight, cost, phase.pasture, phase.ration))
        day, weight = day + length, weight + phase.gain_lb_day * length
    return tuple(out)


def weight_at_sale(stretches: tuple[Stretch, ...], weight_lb: float, slump_lb: float) -> float:
    """Return the planned weight at the end of the last stretch [lb]."""
    return weight_lb - slump_lb + sum(each.gain_lb_day * each.days for each in stretches)
