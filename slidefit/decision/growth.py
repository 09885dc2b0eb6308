"""Weight and feed by feeding period; pasture; net energy.

Nutrient Requirements of Beef Cattle (National Research Council 1996, updated 2000; National Academies 2016), growth
chapter, in metric units: NEm = 0.077 SBW^0.75; shrunk gain = 13.91 RE^0.9116 EqSBW^-0.6837, with SBW the shrunk body
weight (0.96 of full weight) and EqSBW = SBW x 478 / final shrunk weight at small marbling.

Where each constant was read, the book itself not being at hand: 0.077 in Zinn and others, Journal of Animal Science
86:2680 (2008), who take it from Lofgreen and Garrett, Journal of Animal Science 27:793 (1968); 13.91, 0.9116 and 0.6837
in a conference abstract on net energy values from feedlot growth, which cites National Academies 2016; 0.96, 478 and
1.15 for bulls in public code of the book's growing cattle (R package beefnrc).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from slidefit.decision.results import EnergyCheck
from slidefit.plan.feeding import Feed, Pasture, Program


@dataclass(frozen=True)
class FeedingPeriod:
    """Days in a row with one gain and one feed.

    ``first_day`` counts from the start; ``cost_head_day`` is feed or yard by the day, ration and pasture apart; in one
    that ``waits`` the program is not open yet.
    """

    label: str
    first_day: int
    days: int
    gain_lb_day: float
    start_lb: float
    cost_head_day: float
    pasture: Pasture | None
    ration: tuple[Feed, ...]
    waits: bool = False

    @property
    def mean_lb(self) -> float:
        """Mean weight over the stretch [lb]."""
        return self.start_lb + 0.5 * self.gain_lb_day * self.days


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


Feeding = tuple[float, Pasture | None, tuple[Feed, ...]]
"""Feed or yard cost [$/head-day], pasture, ration."""


def stretches_of(
    program: Program, weaning: date, weight_lb: float, days: int, kept: int = 0
) -> tuple[FeedingPeriod, ...]:
    """Return the stretches from the start to sale: waiting first, then the program's phases.

    ``days`` run from the start to sale. What was done in the days ``kept`` from weaning to the start is left out; where
    the start is weaning the slump comes off ``weight_lb`` at once.
    """
    out: list[FeedingPeriod] = []
    weight = weight_lb - (0.0 if kept else program.slump_lb)
    begins, day = 0, 0
    cost, waiting = program.cost_head_day, wait_days(program, weaning)
    stages: list[tuple[str, int | None, float, Feeding]] = [
        (
            each.name or program.name,
            each.days,
            each.gain_lb_day,
            (cost + each.cost_head_day, each.pasture, each.ration),
        )
        for each in program.stages()
    ]
    if waiting:
        idle = (program.wait_cost_head_day or 0.0, None, ())
        stages.insert(0, ("waiting", waiting, program.wait_gain_lb_day or 0.0, idle))
    for place, (label, lasts, gain, feeding) in enumerate(stages):
        ends = days + kept if lasts is None else min(days + kept, begins + lasts)
        left = ends - max(begins, kept)
        begins = ends
        if left <= 0:
            continue
        waits = waiting > 0 and place == 0
        out.append(FeedingPeriod(label, day, left, gain, weight, *feeding, waits=waits))
        day, weight = day + left, weight + gain * left
    return tuple(out)


LB_PER_KG = 2.20462262
SHRUNK_SHARE = 0.96
REFERENCE_KG = 478.0
FINAL_FULL_LB = {"L": 1400.0, "ML": 1275.0, "M": 1175.0, "MS": 1087.0, "S": 1000.0, "": 1275.0}
HEIFER_SHARE = 0.90
BULL_SHARE = 1.10
MAINTENANCE = 0.077
BULL_MAINTENANCE = 1.15 * MAINTENANCE
HOPEFUL_SHARE = 1.15


def final_weight_lb(sex: str, frame: str) -> float:
    """Return the full weight at which a calf is finished [lb].

    From the frame limits of the U.S. Standards for Grades of Feeder Cattle (2000); heifers a tenth lighter and
    bulls a tenth heavier (common practice, no source).
    """
    share = {"heifer": HEIFER_SHARE, "bull": BULL_SHARE}.get(sex, 1.0)
    return FINAL_FULL_LB[frame] * share


def energy_gain_lb_day(
    weight_lb: float,
    final_lb: float,
    dry_matter_lb_day: float,
    nem_mcal_lb: float,
    neg_mcal_lb: float,
    maintenance: float = MAINTENANCE,
) -> float:
    """Return the daily gain that a ration supports [lb per day of full weight].

    Weights are full ones; ``maintenance`` [Mcal a day per kg^0.75 of shrunk weight] is for beef breeds in middling
    condition. No allowance for cold, mud, implants or ionophores, each of which moves gain by several percent.

    Examples
    --------
    More of the same feed gains more, and below maintenance nothing.

    >>> energy_gain_lb_day(600, 1275, 15, 0.75, 0.47) > energy_gain_lb_day(600, 1275, 13, 0.75, 0.47) > 0
    True
    >>> energy_gain_lb_day(600, 1275, 4, 0.75, 0.47)
    0.0
    """
    shrunk_kg = SHRUNK_SHARE * weight_lb / LB_PER_KG
    equivalent_kg = shrunk_kg * REFERENCE_KG / (SHRUNK_SHARE * final_lb / LB_PER_KG)
    left_lb = dry_matter_lb_day - maintenance * shrunk_kg**0.75 / nem_mcal_lb
    if left_lb <= 0.0:
        return 0.0
    shrunk_gain_kg = 13.91 * (left_lb * neg_mcal_lb) ** 0.9116 * equivalent_kg**-0.6837
    return float(shrunk_gain_kg * LB_PER_KG / SHRUNK_SHARE)


def energy_check(stretches: tuple[FeedingPeriod, ...], sex: str, frame: str) -> EnergyCheck | None:
    """Return the predicted gain of the ration beside the planned one, at the mean weight of the stretch.

    None where no stretch lives off a ration alone with known energy.
    """
    for each in stretches:
        if each.pasture is not None or each.cost_head_day > 0.0:
            continue
        known = [(f.lb_day, f.dry_matter_pct, f.nem_mcal_lb, f.neg_mcal_lb) for f in each.ration]
        if any(None in feed for feed in known):
            continue
        as_fed, dry_pct, *energy = np.array(known, dtype=float).reshape(-1, 4).T
        dry = as_fed * dry_pct / 100.0
        total = float(dry.sum())
        if total <= 0.0:
            continue
        nem, neg = (float(dry @ net) / total for net in energy)
        keep_up = BULL_MAINTENANCE if sex == "bull" else MAINTENANCE
        predicted = energy_gain_lb_day(each.mean_lb, final_weight_lb(sex, frame), total, nem, neg, keep_up)
        hopeful = each.gain_lb_day > HOPEFUL_SHARE * predicted
        return EnergyCheck(predicted, each.gain_lb_day, total, hopeful)
    return None
