"""What a pasture carries: head-days from an acre, the cost of a head-day, acres for the head at hand."""

from __future__ import annotations

from slidefit.decision.growing import Pasture


def head_days_per_acre(forage_lb_acre: float, utilization_pct: float, intake_lb_day: float) -> float:
    """Return the days that one acre feeds one calf: forage x utilization / intake.

    Parameters
    ----------
    forage_lb_acre : float [lb dry matter per acre]
    utilization_pct : float [percent]
    intake_lb_day : float [lb dry matter per head-day]

    Notes
    -----
    A published animal-unit day is 20 to 30 lb depending on the source, so intake is always asked for.

    Examples
    --------
    Five inches of grass at 275 lb an inch, cows that eat 30 lb (University of Maine Extension: 45 cow-days).

    >>> round(head_days_per_acre(5 * 275, 100, 30))
    46
    """
    return forage_lb_acre * utilization_pct / 100.0 / intake_lb_day


def acres_needed(head: float, days: float, head_days_acre: float) -> float:
    """Return the acres that feed a number of head for a number of days.

    >>> round(acres_needed(100, 1, 45), 1)
    2.2
    """
    return head * days / head_days_acre


def intake_of(pasture: Pasture, mean_weight_lb: float) -> float:
    """Return the dry matter that a calf eats a day [lb], at its mean weight over the time grazed."""
    if pasture.intake_lb_day is not None:
        return pasture.intake_lb_day
    return (pasture.intake_pct or 0.0) / 100.0 * mean_weight_lb


def intake_slope(pasture: Pasture) -> float:
    """Return how much more a calf eats a day for a pound more of weight [lb/lb]."""
    return 0.0 if pasture.intake_lb_day is not None else (pasture.intake_pct or 0.0) / 100.0
