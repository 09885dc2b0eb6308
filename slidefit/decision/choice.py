"""Which choice is best, by how much, and whether it can be told from the next one."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.results import SELL_NOW, Best, GroupResult, KeepOption

FloatArray = NDArray[np.float64]
TOO_CLOSE_ODDS = 0.60
"""Odds below this do not settle a choice between two: our choice, told beside the answer."""


def label_of(option: KeepOption) -> str:
    """Return a keep option's name: its program and month."""
    return f"{option.program}, {option.sale_date:%Y-%m-%d}"


def rank_of(keep: Sequence[KeepOption]) -> list[int]:
    """Return the positions of the options by what they bring the herd, best first."""
    return sorted(range(len(keep)), key=lambda k: -keep[k].gain_herd)


def beats(keep: Sequence[KeepOption], gains: Sequence[FloatArray], first: int, second: int) -> float:
    """Return the odds that one option brings the herd more than another, in the same draws."""
    return float(np.mean(gains[first] * keep[first].head_kept > gains[second] * keep[second].head_kept))


def best_of(keep: Sequence[KeepOption], gains: Sequence[FloatArray], weaning: date) -> Best:
    """Return the best choice of a group by the budget, and the odds that it is.

    Parameters
    ----------
    keep : sequence of KeepOption, length m
    gains : sequence of arrays, shape (draws,) [$ per head]
    weaning : date

    Notes
    -----
    Options are ranked by the gain for the head that there is room for, against selling all now. Keeping or
    selling is too close to call when the odds of the better one are under 60 percent; so is one month against
    another.
    """
    order = rank_of(keep)
    if not order:
        return Best(SELL_NOW, weaning, 0.0, 0.0, None, None, None, False, False)
    first = order[0]
    second = order[1] if len(order) > 1 else None
    beats_second = None if second is None else beats(keep, gains, first, second)
    top = keep[first]
    odds = top.odds
    if top.gain_herd <= 0.0:
        return Best(
            choice=SELL_NOW,
            sale_date=weaning,
            gain_per_head=0.0,
            gain_herd=0.0,
            odds_beats_selling=None,
            runner_up=label_of(top),
            odds_beats_runner_up=1.0 - odds,
            too_close=1.0 - odds < TOO_CLOSE_ODDS,
            month_too_close=False,
        )
    selling_is_second = second is None or keep[second].gain_herd <= 0.0
    return Best(
        choice=top.program,
        sale_date=top.sale_date,
        gain_per_head=top.gain_per_head,
        gain_herd=top.gain_herd,
        odds_beats_selling=odds,
        runner_up=SELL_NOW if selling_is_second or second is None else label_of(keep[second]),
        odds_beats_runner_up=odds if selling_is_second else beats_second,
        too_close=odds < TOO_CLOSE_ODDS,
        month_too_close=beats_second is not None and beats_second < TOO_CLOSE_ODDS,
    )


def chosen(result: GroupResult) -> int | None:
    """Return the position of a group's best option among its keep options; None for selling now."""
    if result.best.choice == SELL_NOW:
        return None
    return rank_of(result.keep)[0]
