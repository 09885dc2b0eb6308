"""Joint draws of everything that is not known: one world for each draw, shared by months and programs.

Every single number is stratified (the middle of each of n equal parts of its distribution, in random order),
which makes means settle far sooner than plain random draws.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, ndtri

from slidefit.decision.building import Candidate, GroupCase
from slidefit.decision.option import Levers, Money, money_of
from slidefit.decision.plan import Group, Plan, Risk
from slidefit.decision.pricing import lot_head
from slidefit.decision.spread import TEN_PERCENT_Z, Drivers
from slidefit.decision.value import Number
from slidefit.market.outlook import Outlook

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class World:
    """What all groups share.

    Attributes
    ----------
    index : mapping of date to array, shape (draws,) [log points]
        How far the price index is off the outlook on each date, drawn together over all dates.
    slide_z : mapping of sex to array, shape (draws,)
    dates : sequence of date
    cov : array, shape (n, n)
        Exact covariance of the index over ``dates``.
    slide_var : float
        One, or zero when the slide is held.
    """

    index: Mapping[date, FloatArray]
    slide_z: Mapping[str, FloatArray]
    dates: Sequence[date]
    cov: FloatArray
    slide_var: float

    def index_cov(self, one: date, other: date) -> float:
        """Return the covariance of the index on two dates."""
        return float(self.cov[self.dates.index(one), self.dates.index(other)])


@dataclass(frozen=True)
class GroupDraws:
    """What one group's options share.

    Attributes
    ----------
    lot_now : array, shape (draws,) [log points]
        This lot's price off the outlook at weaning.
    lot_later : mapping of date to array, shape (draws,) [log points]
        The same on each day of sale.
    gain_z, forage_z : arrays, shape (draws,)
    death_u : array, shape (draws,)
        Uniform; the death count is read from it for each program.
    lot_var : float
    growth_cov : array, shape (2, 2)
        Exact variance of a lot's price at one sale, and covariance of gain and forage.
    """

    lot_now: FloatArray
    lot_later: Mapping[date, FloatArray]
    gain_z: FloatArray
    forage_z: FloatArray
    death_u: FloatArray
    lot_var: float
    growth_cov: FloatArray


@dataclass(frozen=True)
class DrawnOption:
    """An option's money in every draw, with the normal numbers behind it.

    Attributes
    ----------
    money : Money
    drivers : Drivers
        Log price at sale, log price at weaning, slide, daily gain, forage.
    """

    money: Money
    drivers: Drivers


def part_middles(draws: int) -> FloatArray:
    """Return the middles of ``draws`` equal parts of the range from zero to one."""
    return (np.arange(draws, dtype=float) + 0.5) / draws


def shuffled_rows(rng: np.random.Generator, values: FloatArray, rows: int) -> FloatArray:
    """Return the same values in another random order in each row, shape (rows, draws)."""
    return rng.permuted(np.tile(values, (rows, 1)), axis=1)


def stratified_normals(rng: np.random.Generator, rows: int, draws: int) -> FloatArray:
    """Return standard normals, shape (rows, draws): in each row one from the middle of each equal part, shuffled.

    Scaled so that the variance of a row is exactly one.
    """
    values = ndtri(part_middles(draws))
    return shuffled_rows(rng, values / values.std(), rows)


def draw_index(rng: np.random.Generator, cov: FloatArray, draws: int) -> FloatArray:
    """Return joint normal draws with mean zero, shape (n, draws), from their covariance, shape (n, n)."""
    values, vectors = np.linalg.eigh(cov)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(root @ stratified_normals(rng, len(cov), draws))


def draw_world(
    rng: np.random.Generator, outlook: Outlook, risk: Risk, dates: Sequence[date], sexes: Sequence[str]
) -> World:
    """Return the draws that all groups share; what the plan holds still is drawn and then set to zero."""
    cov = outlook.index_cov(dates) * ("price" in risk.vary)
    index = draw_index(rng, cov, risk.draws)
    slide = stratified_normals(rng, len(sexes), risk.draws) * ("slide" in risk.vary)
    return World(
        index=dict(zip(dates, index, strict=True)),
        slide_z=dict(zip(sexes, slide, strict=True)),
        dates=dates,
        cov=cov,
        slide_var=float("slide" in risk.vary),
    )


def draw_group(
    rng: np.random.Generator, outlook: Outlook, risk: Risk, group: Group, dates: Sequence[date]
) -> GroupDraws:
    """Return the draws that a group's options share; gain and forage are correlated as the plan says."""
    normals = stratified_normals(rng, len(dates) + 3, risk.draws)
    lot_sd = outlook.noise_sd(lot_head(group)) * ("lot" in risk.vary)
    lot = normals[: len(dates) + 1] * lot_sd
    forage, own = normals[-2], normals[-1]
    corr = risk.gain_forage_corr
    gain = corr * forage + np.sqrt(1.0 - corr**2) * own
    moves = np.array(["gain" in risk.vary, "forage" in risk.vary], dtype=float)
    return GroupDraws(
        lot_now=lot[0] if group.bid_cwt is None else np.zeros(risk.draws),
        lot_later=dict(zip(dates, lot[1:], strict=True)),
        gain_z=gain * ("gain" in risk.vary),
        forage_z=forage * ("forage" in risk.vary),
        death_u=shuffled_rows(rng, part_middles(risk.draws), 1)[0],
        lot_var=lot_sd**2,
        growth_cov=np.array([[1.0, corr], [corr, 1.0]]) * np.outer(moves, moves),
    )


def death_shares(head: int, mean_share: float, sd_share: float, uniform: FloatArray) -> FloatArray:
    """Return deaths as a share of the head started, in the shape of ``uniform``.

    Binomial(head, mean) by inversion; with a spread beyond chance, beta-binomial with that mean and spread of
    the rate.

    Notes
    -----
    A spread wider than a beta distribution of that mean allows is held at the widest.
    """
    if mean_share <= 0.0:
        return np.zeros_like(uniform)
    count = np.arange(head + 1.0)
    choose = gammaln(head + 1.0) - gammaln(count + 1.0) - gammaln(head - count + 1.0)
    widest = 0.99 * mean_share * (1.0 - mean_share)
    if sd_share > 0.0 and mean_share < 1.0:
        total = mean_share * (1.0 - mean_share) / min(sd_share**2, widest) - 1.0
        a, b = mean_share * total, (1.0 - mean_share) * total
        log_p = choose + gammaln(count + a) + gammaln(head - count + b) - gammaln(head + a + b)
        log_p = log_p + gammaln(a + b) - gammaln(a) - gammaln(b)
    else:
        log_p = choose + count * np.log(mean_share) + (head - count) * np.log1p(-min(mean_share, 1 - 1e-12))
    deaths = np.searchsorted(np.cumsum(np.exp(log_p)), uniform)
    return np.asarray(np.minimum(deaths, head) / head)


def forage_ratios(log_sd: float, normal: FloatArray) -> Number:
    """Return forage yield over the plan: lognormal with its median at the plan; one without a spread."""
    return np.exp(log_sd * normal) if log_sd > 0.0 else 1.0


def net_now_draws(case: GroupCase, world: World, own: GroupDraws) -> FloatArray:
    """Return the net of selling at weaning in every draw, shape (draws,); all the same with a bid in hand."""
    off = np.zeros_like(own.lot_now)
    if case.group.bid_cwt is None:
        off = world.index[case.weaning] + own.lot_now + start_run(case) * world.slide_z[case.group.sex]
    return np.asarray(case.net_at(case.start_price_cwt * np.exp(off)))


def start_run(case: GroupCase) -> float:
    """Return one standard error of the slide at the weaning weight [log points]."""
    return float(case.start_line.read(case.group.mean_weight_lb)[1])


def net_now_range(case: GroupCase, world: World, own: GroupDraws) -> tuple[float, float]:
    """Return the 10 and 90 percent points of selling at weaning [$ per head]; equal with a bid in hand."""
    if case.group.bid_cwt is not None:
        return case.net_now, case.net_now
    variance = (
        world.index_cov(case.weaning, case.weaning) + own.lot_var + world.slide_var * start_run(case) ** 2
    )
    off = float(np.exp(TEN_PERCENT_Z * np.sqrt(variance)))
    return float(case.net_at(case.start_price_cwt / off)), float(case.net_at(case.start_price_cwt * off))


def price_range(candidate: Candidate, drivers: Drivers, price_cwt: float) -> tuple[float, float]:
    """Return the 10 and 90 percent points of the price at the planned weight [$/cwt]; a contract has no range."""
    option = candidate.option
    if option.contract is not None:
        return price_cwt, price_cwt
    run = float(option.line.read(option.sale_lb)[1])
    off = float(np.exp(TEN_PERCENT_Z * np.sqrt(drivers.cov[0, 0] + drivers.cov[2, 2] * run**2)))
    median = option.line.price_cwt(option.sale_lb)
    least = 0.0 if option.floor is None else option.floor.floor_cwt
    return max(median / off, least), max(median * off, least)


def draw_money(
    case: GroupCase,
    candidates: Sequence[Candidate],
    world: World,
    own: GroupDraws,
    net_now: FloatArray,
    count_deaths: bool,
) -> list[DrawnOption]:
    """Return the money of every option in every draw.

    With a bid in hand only the change since weaning is unknown: the index error at weaning drops out.
    """
    deaths: dict[str, Number] = {}
    forage: dict[float, Number] = {}
    has_bid = case.group.bid_cwt is not None
    at_weaning = own.lot_now if has_bid else world.index[case.weaning] + own.lot_now
    shared = np.stack([at_weaning, world.slide_z[case.group.sex], own.gain_z, own.forage_z])
    out = []
    for each in candidates:
        option, program = each.option, each.program
        if program.name not in deaths:
            spread = program.death_sd_pct / 100.0
            drawn = death_shares(option.head, option.death_share, spread, own.death_u)
            deaths[program.name] = drawn if count_deaths else option.death_share
        if option.forage_log_sd not in forage:
            forage[option.forage_log_sd] = forage_ratios(option.forage_log_sd, own.forage_z)
        since = world.index[each.sale_date] + own.lot_later[each.sale_date]
        if option.has_bid:
            since -= world.index[case.weaning]
        levers = Levers(
            gain_shift_lb_day=option.gain_sd_lb_day * own.gain_z,
            log_price=since,
            net_now=net_now,
            slide_z=world.slide_z[case.group.sex],
            death_share=deaths[program.name],
            forage_ratio=forage[option.forage_log_sd],
        )
        drivers = Drivers(since, shared, driver_cov(case, each, world, own))
        out.append(DrawnOption(money_of(option, levers), drivers))
    return out


def driver_cov(case: GroupCase, candidate: Candidate, world: World, own: GroupDraws) -> FloatArray:
    """Return the exact covariance of an option's drivers, shape (5, 5)."""
    day, weaning = candidate.sale_date, case.weaning
    then, both, now = (world.index_cov(*pair) for pair in ((day, day), (day, weaning), (weaning, weaning)))
    cov = np.zeros((5, 5))
    if candidate.option.has_bid:
        cov[0, 0] = then + now - 2.0 * both + own.lot_var
    else:
        cov[:2, :2] = [[then + own.lot_var, both], [both, now + own.lot_var]]
    cov[2, 2] = world.slide_var
    cov[3:, 3:] = own.growth_cov
    return cov


def plan_dates(plan: Plan, sales: Sequence[date]) -> list[date]:
    """Return all dates that the index is drawn for: weanings and sales, in order."""
    return sorted({*sales, *(plan.weaning_of(group) for group in plan.groups)})
