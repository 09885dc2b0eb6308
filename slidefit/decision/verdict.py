"""The verdict on keeping against selling, in five steps, from its mean and its odds."""

from __future__ import annotations

from typing import Literal

Verdict = Literal["Keep", "Probably keep", "Too close to call", "Probably sell", "Sell"]
CLOSE_HEAD, PLAIN_HEAD = 10.0, 25.0
"""Dollars a head within which nothing is called, and from which a sure answer is a plain one: our choice."""
CLOSE_ODDS, PLAIN_ODDS = 0.60, 0.75
"""Odds of the better side under which nothing is called, and from which the answer is a plain one: our choice."""


def verdict_of(gain_per_head: float, odds: float) -> Verdict:
    """Return the verdict on keeping, from its mean gain against selling now and its odds of bringing more (0 to 1).

    The mean and the odds must agree, and both be far enough from even.

    >>> verdict_of(90, 0.62), verdict_of(90, 0.8), verdict_of(8, 0.8), verdict_of(40, 0.45)
    ('Probably keep', 'Keep', 'Too close to call', 'Too close to call')
    """
    sure = max(odds, 1.0 - odds)
    if abs(gain_per_head) < CLOSE_HEAD or sure <= CLOSE_ODDS or (gain_per_head > 0) != (odds > 0.5):
        return "Too close to call"
    plain = sure >= PLAIN_ODDS and abs(gain_per_head) >= PLAIN_HEAD
    if gain_per_head > 0:
        return "Keep" if plain else "Probably keep"
    return "Sell" if plain else "Probably sell"
