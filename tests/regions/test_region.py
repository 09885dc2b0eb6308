"""Age, steps of weight and the spread ahead of a region."""

from __future__ import annotations

from datetime import timedelta

import pytest

from slidefit.regions.region import (
    PRICE_STALE_DAYS,
    SLIDE_STALE_DAYS,
    Region,
    age_days,
    age_notes,
    is_stale,
    spread_at,
    step_ends,
)


@pytest.mark.parametrize(
    ("days", "said", "stale"),
    [
        (-5, "", False),  # a file of tomorrow's sales is not old
        (PRICE_STALE_DAYS, "", False),
        (PRICE_STALE_DAYS + 1, "a bid in the plan is better", False),
        (SLIDE_STALE_DAYS, "a bid in the plan is better", False),
        (SLIDE_STALE_DAYS + 1, "update it", True),
    ],
)
def test_prices_age_after_two_months_and_the_slide_after_a_year(
    days: int, said: str, stale: bool, shipped: Region
) -> None:
    today = shipped.source.last_sale + timedelta(days=days)
    assert age_days(shipped, today) == max(days, 0) and is_stale(shipped, today) is stale
    assert said in " ".join(age_notes(shipped, today)) and bool(age_notes(shipped, today)) is bool(said)


@pytest.mark.parametrize("key", ["500", "500-", "-550", "500-inf", "light-heavy"])
def test_what_is_no_step_of_weight_is_refused(key: str) -> None:
    with pytest.raises(ValueError):
        step_ends(key)


def test_the_spread_of_today_is_the_levels_and_grows(shipped: Region) -> None:
    plain = shipped.forecast.model_copy(update={"scale": ()})
    walk, drift, se = plain.walk_pct_month, plain.drift_pct_month, shipped.price.se_pct
    assert spread_at(shipped.price, plain, 0.0) == se
    by_hand = (se**2 + 4 * walk**2 + 16 * drift**2) ** 0.5  # walk by the root of the time, drift by the time
    assert spread_at(shipped.price, plain, 4.0) == pytest.approx(by_hand)
    doubled = plain.model_copy(update={"scale": (2.0, 2.0)})
    assert spread_at(shipped.price, doubled, 4.0) == pytest.approx(2 * by_hand)
