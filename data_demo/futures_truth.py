"""The invented futures of the demonstration: what they knew of prices to come, and the local basis behind them.

ln F(t, M) = what is expected on day t of a 750-lb steer in month M - basis of M - what is left of today's departure
+ wiggle, with expected level = level(t) + FORESIGHT x (level(M) - level(t)) + mood of the day (whole from three months
on).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import market_truth as truth
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SEED = 20261013
DAYS_PER_MONTH = 365.25 / 12.0
FILE_NAME = "feeder_futures.tsv"
WEIGHT_LB = 750.0
LISTED_MONTHS = (1, 3, 4, 5, 8, 9, 10, 11)
CONTRACTS = 4
FORESIGHT = 0.6  # share of the level's change up to the contract's month that the futures know
BASIS_MEAN = 0.020
BASIS_SEASON = ((0.028, 3.5), (0.006, 1.0))  # cash above futures most in spring, least in autumn
DEPARTURE_SD, DEPARTURE_WEEK_SHARE = 0.015, 0.88  # of the basis from its month's, and its persistence
MOOD_SD, MOOD_WEEK_SHARE, MOOD_MONTHS = (
    0.05,
    0.95,
    3.0,
)  # what the futures get wrong, in full three months ahead
WIGGLE_SD, CONTRACT_SD = 0.006, 0.002  # of all contracts of a day, and of one of them


def basis_log() -> FloatArray:
    """Return ln(cash / futures) at the middle of each calendar month, shape (12,)."""
    return BASIS_MEAN + truth.harmonic(BASIS_SEASON, np.arange(12.0))


def contract_days(day: date) -> list[date]:
    """Return the middle of the months of the next contracts on a day."""
    found: list[date] = []
    month = day.year * 12 + day.month - 1
    while len(found) < CONTRACTS:
        middle = date(month // 12, month % 12 + 1, 15)
        if middle.month in LISTED_MONTHS and (middle.month != day.month or day.day <= 15):
            found.append(middle)
        month += 1
    return found


def quotes(levels: dict[str, float]) -> Iterator[tuple[date, str, float]]:
    """Yield day, contract month and settlement [$/cwt], once a week, the same every time."""
    rng = np.random.default_rng(SEED)
    day = truth.FIRST_SALE + timedelta(days=(4 - truth.FIRST_SALE.weekday()) % 7)
    departure = mood = 0.0
    while day <= truth.LAST_SALE:
        kept = DEPARTURE_WEEK_SHARE
        departure = kept * departure + rng.normal(0.0, DEPARTURE_SD * np.sqrt(1.0 - kept**2))
        mood = MOOD_WEEK_SHARE * mood + rng.normal(0.0, MOOD_SD * np.sqrt(1.0 - MOOD_WEEK_SHARE**2))
        wiggle = rng.normal(0.0, WIGGLE_SD)
        for middle in contract_days(day):
            now, then = truth.log_level_on([day, min(middle, truth.LAST_SALE)], levels)
            position = truth.month_position(middle)
            ahead = max((middle - day).days, 0) / DAYS_PER_MONTH
            expected = now + FORESIGHT * (then - now) + mood * min(ahead / MOOD_MONTHS, 1.0)
            index = expected + truth.harmonic(truth.INDEX_SEASON, position)
            steer = index + truth.log_relative("steer", WEIGHT_LB, position, index)
            left = departure * kept ** max((middle - day).days / 7.0, 0.0)
            basis = basis_log()[middle.month - 1]
            log_price = float(steer - basis - left + wiggle + rng.normal(0.0, CONTRACT_SD))
            yield day, f"{middle:%b %Y}", 0.025 * round(float(np.exp(log_price)) / 0.025)
        day += timedelta(weeks=1)


def file_text(levels: dict[str, float]) -> str:
    """Return the file of quotes: tab-separated, a row for each day and contract."""
    rows = [f"{day:%m/%d/%Y}\t{contract}\t{price:.3f}" for day, contract, price in quotes(levels)]
    return "\n".join(("Trade date\tContract\tSettlement ($/cwt)", *rows)) + "\n"


def document() -> dict[str, object]:
    """Return the truth behind the quotes."""
    return {
        "what": "ln F = expected 750-lb steer in the contract's month - basis - departure left + wiggle",
        "weight_lb": WEIGHT_LB,
        "foresight": FORESIGHT,
        "basis_log": [round(float(each), 6) for each in basis_log()],
        "mood_sd": MOOD_SD,
        "mood_week_share": MOOD_WEEK_SHARE,
        "departure_sd": DEPARTURE_SD,
        "departure_week_share": DEPARTURE_WEEK_SHARE,
        "wiggle_sd": WIGGLE_SD,
        "contract_sd": CONTRACT_SD,
    }
