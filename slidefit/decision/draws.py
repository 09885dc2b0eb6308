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
    """

    index: Mapping[date, FloatArray]
    slide_z: Mapping[str, FloatArray]


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
    """

    lot_now: FloatArray
    lot_later: Mapping[date, FloatArray]
    gain_z: FloatArray
    forage_z: FloatArray
    death_u: FloatArray


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
    index = draw_index(rng, outlook.index_cov(dates), risk.draws) * ("price" in risk.vary)
    slide = stratified_normals(rng, len(sexes), risk.draws) * ("slide" in risk.vary)
    return World(dict(zip(dates, index, strict=True)), dict(zip(sexes, slide, strict=True)))


def draw_group(
    rng: np.random.Generator, outlook: Outlook, risk: Risk, group: Group, dates: Sequence[date]
) -> GroupDraws:
    """Return the draws that a group's options share; gain and forage are correlated as the plan says."""
    normals = stratified_normals(rng, len(dates) + 3, risk.draws)
    lot = normals[: len(dates) + 1] * (outlook.noise_sd(lot_head(group)) * ("lot" in risk.vary))
    forage, own = normals[-2], normals[-1]
    corr = risk.gain_forage_corr
    gain = corr * forage + np.sqrt(1.0 - corr**2) * own
    return GroupDraws(
        lot_now=lot[0] if group.bid_cwt is None else np.zeros(risk.draws),
        lot_later=dict(zip(dates, lot[1:], strict=True)),
        gain_z=gain * ("gain" in risk.vary),
        forage_z=forage * ("forage" in risk.vary),
        death_u=shuffled_rows(rng, part_middles(risk.draws), 1)[0],
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
        _, run = case.start_line.read(case.group.mean_weight_lb)
        off = world.index[case.weaning] + own.lot_now + run * world.slide_z[case.group.sex]
    return np.asarray(case.net_at(case.start_price_cwt * np.exp(off)))


def draw_money(
    case: GroupCase,
    candidates: Sequence[Candidate],
    world: World,
    own: GroupDraws,
    net_now: FloatArray,
    count_deaths: bool,
) -> list[Money]:
    """Return the money of every option in every draw.

    With a bid in hand only the change since weaning is unknown: the index error at weaning drops out.
    """
    deaths: dict[str, Number] = {}
    forage: dict[float, Number] = {}
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
        out.append(money_of(option, levers))
    return out


def plan_dates(plan: Plan, sales: Sequence[date]) -> list[date]:
    """Return all dates that the index is drawn for: weanings and sales, in order."""
    return sorted({*sales, *(plan.weaning_of(group) for group in plan.groups)})
