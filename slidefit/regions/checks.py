"""What must hold between the numbers of a region's file, and the slips of hand that numbers give away."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from slidefit.regions.region import Region, SexTable, spread_at, step_ends
from slidefit.toml_faults import Problem

FRACTION_BELOW = 0.6
STEEP_PCT = 3.0
SPREAD_TOLERANCE = 0.03
SPREAD_ROUNDING = 0.02
YEAR_MEAN_TOLERANCE = 0.5
SHORTEST_STEP_LB, LONGEST_STEP_LB = 5.0, 200.0


def region_problems(region: Region) -> Iterator[Problem]:
    """Yield what is wrong between fields that are each right by themselves."""
    if not region.markets:
        yield ("markets",), "is empty", "Name the places of sale."
    for where, what, remedy in region.standard.problems():
        yield ("standard", *where), what, remedy
    sexes = region.sexes()
    if region.standard.sex not in sexes:
        yield ("standard", "sex"), f"is {region.standard.sex}, which has no slide here", "Add its table."
    for sex, table in sexes.items():
        for where, what, remedy in sex_problems(table):
            yield (sex, *where), what, remedy
    yield from season_problems(region)
    if region.standard.grade not in region.grades:
        yield (
            ("standard", "grade"),
            f"is {region.standard.grade!r}, not among the grades",
            "Add it to [grades].",
        )
    yield from forecast_problems(region)
    if region.source.first_sale > region.source.last_sale:
        yield ("source", "first_sale"), "is after last_sale", "Put the dates in order."


def sex_problems(table: SexTable) -> Iterator[Problem]:
    """Yield broken steps, and slides given as fractions or with the wrong sign."""
    low, high = table.seen_lb
    if not low < high:
        yield ("seen_lb",), f"is {low:g} to {high:g}", "Give the lighter weight first."
    expected = low
    for key in table.slide:
        try:
            start, end = step_ends(key)
        except ValueError:
            yield ("slide", key), "is not a step of weight", "Write it like 500-550."
            return
        if start != expected:
            yield (
                ("slide", key),
                f"begins at {start:g} lb, where {expected:g} is next",
                "Leave no gap or overlap.",
            )
            return
        if not SHORTEST_STEP_LB <= end - start <= LONGEST_STEP_LB:
            yield ("slide", key), f"is {end - start:g} lb long", "Give steps of about 50 lb."
            return
        expected = end
    if not table.slide:
        yield ("slide",), "is empty", "Give the slide by steps of weight, such as 500-550 = [11.2, 0.4]."
    elif expected != high:
        yield (
            ("slide",),
            f"ends at {expected:g} lb, seen_lb at {high:g}",
            "Let the steps reach from end to end.",
        )
    else:
        yield from slip_problems(table)
    if not low <= table.discount_at_lb <= high:
        yield ("discount_at_lb",), f"is {table.discount_at_lb:g}, outside seen_lb", "Give a weight inside it."


def slip_problems(table: SexTable) -> Iterator[Problem]:
    """Yield slides that look like fractions or have the wrong sign, all together or one out of line."""
    slides = {key: value[0] for key, value in table.slide.items()}
    usual = median(slides.values())
    if all(abs(value) < FRACTION_BELOW for value in slides.values()) and any(slides.values()):
        key, value = next((key, value) for key, value in slides.items() if value)
        remedy = f"Give percent: {value:g} as a fraction is {100.0 * value:g}."
        yield ("slide", key), f"and the rest look like fractions ({value:g})", remedy
        return
    if usual < -1.0:
        key = next(key for key, value in slides.items() if value < 0)
        remedy = "Take the minus signs away: a slide is positive when heavier is cheaper."
        yield ("slide", key), f"is {slides[key]:g}: most slides here are negative, the wrong sign", remedy
        return
    names = list(slides)
    for place, key in enumerate(names):
        value = slides[key]
        around = [slides[n] for n in (*names[max(place - 2, 0) : place], *names[place + 1 : place + 3])]
        beside = median(around) if around else value
        if beside < STEEP_PCT:
            continue
        if value < 0 and abs(-value - beside) < abs(value - beside) / 2.0:
            remedy = "A slide is positive when heavier is cheaper: take the minus sign away."
            yield ("slide", key), f"is {value:g} between slides of about {beside:.1f}: the wrong sign", remedy
        elif 0 < value < FRACTION_BELOW and beside / 3.0 < 100.0 * value < beside * 3.0:
            remedy = f"Give percent: {value:g} as a fraction is {100.0 * value:g}."
            yield ("slide", key), f"is {value:g} between slides of about {beside:.1f}", remedy


def season_problems(region: Region) -> Iterator[Problem]:
    """Yield a season whose months don't average 100."""
    mean = sum(month[0] for month in region.season.months()) / 12.0
    if abs(mean - 100.0) > YEAR_MEAN_TOLERANCE:
        remedy = f"The mean of the year is 100: multiply all twelve by {100.0 / mean:.4f}, or mend the month."
        yield ("season",), f"has months that average {mean:.2f}", remedy


def forecast_problems(region: Region) -> Iterator[Problem]:
    """Yield rows of the spread by months ahead that their own parts don't give."""
    for key, given in region.forecast.spread_pct.items():
        try:
            months = float(key)
        except ValueError:
            yield ("forecast", "spread_pct", key), "is not a number of months ahead", "Write it like 3."
            continue
        made = spread_at(region.price, region.forecast, months)
        if abs(given - made) > max(SPREAD_TOLERANCE * made, SPREAD_ROUNDING):
            remedy = "Change walk_pct_month or drift_pct_month, which it is made from, and take this row out."
            yield ("forecast", "spread_pct", key), f"is {given:g}; the parts give {made:.2f}", remedy


def odd_notes(region: Region) -> tuple[str, ...]:
    """Return what is allowed but worth a second look: a slide that turns, a steeper one than the trade knows."""
    notes = []
    for sex, table in region.sexes().items():
        turned = [key for key, (value, _) in table.slide.items() if value < -0.5]
        steep = [key for key, (value, _) in table.slide.items() if value > 25.0]
        if turned:
            notes.append(
                f"{sex}: heavier is dearer from step {turned[0]} on ({len(turned)} steps); check that"
            )
        if steep:
            notes.append(f"{sex}: the slide is over 25 percent per cwt in step {steep[0]}; check that")
    return tuple(notes)
