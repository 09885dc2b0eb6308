"""Published budgets, breakevens, slides, shrink and pasture figures against the functions that a comparison uses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from slidefit.decision.budget.lines import budget_of
from slidefit.decision.budget.plan_inputs import hauling_shrink_pct
from slidefit.decision.budget.sale import BudgetShape, StretchShape
from slidefit.decision.money import cost_of_gain, value_of_gain

TYPED = budget_of(BudgetShape((StretchShape("kept"),), "typed"))
GRAZED = budget_of(BudgetShape((StretchShape("kept", pasture="pounds"),), "typed"))


def even(key: str, **given: float) -> float:
    """Return the price at which the declared budget's gain, linear in it, is zero."""
    one, two = (float(TYPED.values({"days": 1.0, **given, key: at})["gain_per_head"]) for at in (1.0, 2.0))
    return 1.0 - one / (two - one)


def even_sale(cost: float, lb: float, alive: float = 1.0) -> float:
    dead = 100.0 * (1.0 - alive)
    return even("later_price_cwt", start_lb=lb, later_weight_lb=lb, other_head=cost, death_loss_pct=dead)


def percent_slide(price: float, pct: float) -> float:
    given = {"start_lb": 600.0, "days": 1.0, "later_price_cwt": price, "later_weight_lb": 500.0}
    return price - float(TYPED.values({**given, "slide_pct": pct})["price_cwt"])


def pay_weight(lb: float, shrink_pct: float, pencil_shrink_pct: float = 0.0) -> float:
    given = {"start_lb": lb, "start_shrink_pct": shrink_pct, "pencil_shrink_pct": pencil_shrink_pct}
    return float(TYPED.values({**given, "days": 1.0})["start_pay_lb"])


def grazed(key: str, days: float, forage: float, used_pct: float, lb_day: float) -> float:
    given = {"forage_lb_acre": forage, "eaten_pct": used_pct, "intake_lb_day": lb_day, "start_lb": 500.0}
    return float(GRAZED.values({**given, "days": days})[key])


@dataclass(frozen=True)
class Check:
    """One published number, how we get it, and how far it may be off (the rounding of the page)."""

    source: str
    what: str
    ours: Callable[[], float]
    printed: float
    tolerance: float


def gained(start_lb: float, start: float, end_lb: float, end: float) -> Callable[[], float]:
    return lambda: float(value_of_gain(start_lb, start, end_lb, end) or float("nan"))


def slide(
    weight: float, price: float, base: float, per_cwt: float, two_way: bool = False
) -> Callable[[], float]:
    budget = budget_of(BudgetShape((StretchShape("kept"),), "two-way contract" if two_way else "contract"))
    terms = {"contract_price_cwt": price, "contract_weight_lb": base, "contract_slide_cwt": per_cwt}
    return lambda: float(budget.values({**terms, "start_lb": weight, "days": 1.0})["price_cwt"])


def interest(rate_pct: float, days: float, value_head: float) -> float:
    budget = budget_of(BudgetShape((StretchShape("kept"),)))
    inputs = budget.with_defaults({"interest_pct": rate_pct, "days": days, "net_now": value_head})
    (paid,) = budget.function(("interest_head",), ("net_now",))({**inputs, "net_now": value_head}, None)
    return float(paid)


ALABAMA = "Alabama Cooperative Extension, Marketing feeder cattle with a price slide"
PEEL_2017 = "Peel, Oklahoma State University, Cow-Calf Corner, September 2017"
PEEL_RULES = "Peel, Oklahoma State University, Old rules of thumb can be misleading"
BURDINE = "Burdine, University of Kentucky, 20 March 2024"
CONTRACTS = [
    Check(ALABAMA, "735 lb at $75, 686 lb delivered, $5", slide(686, 75, 735, 5, True), 77.45, 1e-9),
    Check(PEEL_2017, "605 lb on a 575-lb bid of $150", slide(605, 150, 575, 10.05), 146.985, 1e-9),
    Check(PEEL_2017, "6.7 percent of $150", lambda: percent_slide(150, 6.7), 10.05, 1e-9),
    Check(PEEL_RULES, "9 percent of $325", lambda: percent_slide(325, 9), 29.25, 1e-9),
    Check(PEEL_RULES, "7 percent of $280", lambda: percent_slide(280, 7), 19.60, 1e-9),
    Check(PEEL_RULES, "5 percent of $250", lambda: percent_slide(250, 5), 12.50, 1e-9),
    Check(BURDINE, "850 lb on 800 lb at $240, $8", slide(850, 240, 800, 8), 236.0, 1e-9),
    Check(BURDINE, "a head of it", lambda: 8.5 * slide(850, 240, 800, 8)(), 2006.0, 1e-9),
]

NOBLE = "Noble Foundation, 1 May 2005"
RASBY = "Rasby, University of Nebraska, November 2015"
PEEL_2025 = "Peel, Oklahoma State University, Cow-Calf Corner, 1 September 2025"
PEEL_2014 = "Peel, Oklahoma State University, Cow-Calf Corner, 13 October 2014"
PEEL_BEEF = "Peel in BEEF, about 2011"
PREVATT = "Prevatt, Auburn University, in BEEF"
REPRINTED = "widely reprinted example, recomputed from its own prices (its printed $2.10 does not follow)"
MCKINNON = "McKinnon, Virginia Tech, April 1999"
VALUES = [
    Check(NOBLE, "500 to 600 lb", gained(500, 140, 600, 126), 0.56, 0.00005),
    Check(RASBY, "550 to 750 lb", gained(550, 230, 750, 190), 0.80, 0.00005),
    Check(PEEL_2025, "475 to 775 lb, earlier", gained(475, 204.98, 775, 176.77), 1.3210, 0.00005),
    Check(PEEL_2025, "475 to 775 lb, now", gained(475, 481.50, 775, 372.12), 1.9894, 0.00005),
    Check(PEEL_2014, "450 to 700 lb", gained(450, 301.73, 700, 253.24), 1.6596, 0.00005),
    Check(PEEL_2014, "550 to 800 lb", gained(550, 273.60, 800, 240.66), 1.6819, 0.00005),
    Check(PEEL_BEEF, "515 to 825 lb", gained(515, 138.56, 825, 132.50), 1.2243, 0.00005),
    Check(PREVATT, "600 to 800 lb", gained(600, 103, 800, 90), 0.51, 0.00005),
    Check(REPRINTED, "400 to 450 lb", gained(400, 291, 450, 281), 2.01, 0.00005),
    Check(MCKINNON, "650 to 750 lb", gained(650, 66.16, 750, 63.12), 0.4336, 0.00005),
    Check(MCKINNON, "750 to 850 lb", gained(750, 63.12, 850, 60.45), 0.4043, 0.00006),
    Check(MCKINNON, "850 to 950 lb", gained(850, 60.45, 950, 57.53), 0.3271, 0.00006),
]

OKLAHOMA = {
    400: 174.18,
    450: 169.22,
    500: 161.82,
    550: 153.24,
    600: 148.20,
    650: 147.02,
    700: 147.25,
    750: 147.46,
    800: 148.26,
    850: 146.66,
    900: 142.69,
}
NEXT_FIFTY = (65, 48, 34, 46, 66, 75, 75, 80, 61, 38)
PEEL_2019 = "Peel, Oklahoma State University, 11 November 2019; slide not monotone"
NEXT = [
    Check(
        PEEL_2019,
        f"50 lb on {lb} lb",
        gained(lb, OKLAHOMA[lb], lb + 50, OKLAHOMA[lb + 50]),
        said / 50,
        0.0201,
    )
    for lb, said in zip(OKLAHOMA, NEXT_FIFTY, strict=False)
]

BEVERS = "Bevers, Texas A&M AgriLife Extension, stocker budget 2016, Rolling Plains"
HOGAN = "Hogan, Texas A&M AgriLife Extension, stocker budget 2015, Far West"
BEVERS_TABLE = {
    859: (206.92, 170.31),
    827: (196.46, 176.90),
    795: (186.01, 184.02),
    763: (175.55, 191.74),
    731: (165.10, 200.13),
}
HOGAN_TABLE = {
    680: (271.26, 203.06),
    665: (264.31, 207.64),
    650: (257.35, 212.43),
    635: (250.39, 217.45),
    620: (243.44, 222.71),
}


def stocker(
    source: str,
    table: dict[int, tuple[float, float]],
    cost: float,
    alive: float,
    lb: float,
    bought: float,
    sold: float,
) -> list[Check]:
    """Return the checks of a stocker budget: breakeven purchase and sale price at each pay weight."""

    def purchase(weight: float) -> Callable[[], float]:
        given = {
            "start_lb": lb,
            "gain_lb_day": weight - lb,
            "later_price_cwt": sold,
            "later_weight_lb": weight,
        }
        given |= {"other_head": cost - bought * lb / 100, "death_loss_pct": 100.0 * (1.0 - alive)}
        return lambda: even("start_price_cwt", **given)

    def sale(weight: float) -> Callable[[], float]:
        return lambda: even_sale(cost, weight, alive)

    out = []
    for weight, (buy, sell) in table.items():
        out.append(Check(source, f"breakeven purchase at {weight} lb", purchase(weight), buy, 0.01))
        out.append(Check(source, f"breakeven sale at {weight} lb", sale(weight), sell, 0.01))
    return out


HARP = "Harp, Tarleton State University, classroom stocker chain"
B1241 = "Texas A&M B-1241, 2006"


def harp_interest() -> float:
    return interest(10.0, 182.5, 380.0)


def harp_cost() -> float:
    return 378 + 20 + 80 + 7.5 + harp_interest()


BUDGETS = [
    *stocker(BEVERS, BEVERS_TABLE, 1419.05, 0.970, 475, 225.0, 160.0),
    *stocker(HOGAN, HOGAN_TABLE, 1311.76, 0.950, 500, 218.24, 244.10),
    Check(HARP, "interest", harp_interest, 19.0, 1e-9),
    Check(HARP, "cost of gain", lambda: cost_of_gain(harp_cost() - 378, 300) or 0.0, 0.422, 0.0005),
    Check(HARP, "breakeven", lambda: even_sale(harp_cost(), pay_weight(660, 2)), 78.00, 0.005),
    Check(B1241, "interest", lambda: interest(9.0, 365, 336.536), 30.29, 0.005),
]

NOBLE_98 = "Noble Foundation, 1998"
FARMER = "Alberta Farmer, 20 March 2017"
BOYLES = "Boyles, Ohio State University Extension, 30 May 2012"
SHRINK = [
    Check(NOBLE_98, "600 lb less 4 percent at $80", lambda: pay_weight(600, 4) * 0.80, 460.80, 1e-9),
    Check(NOBLE_98, "600 lb less 2 percent at $79", lambda: pay_weight(600, 2) * 0.79, 464.52, 1e-9),
    Check(NOBLE_98, "600 lb less 6 percent at $71", lambda: pay_weight(600, 6) * 0.71, 400.44, 1e-9),
    Check(FARMER, "$90 less 2 percent pencil shrink", lambda: pay_weight(100, 0, 2) * 0.90, 88.20, 1e-9),
    Check(BOYLES, "1 hour", lambda: hauling_shrink_pct(1), 2.0, 1e-9),
    Check(BOYLES, "8 hours", lambda: hauling_shrink_pct(8), 6.0, 1e-9),
    Check(BOYLES, "16 hours", lambda: hauling_shrink_pct(16), 8.0, 1e-9),
    Check(BOYLES, "24 hours", lambda: hauling_shrink_pct(24), 10.0, 1e-9),
    Check(BOYLES, "32 hours", lambda: hauling_shrink_pct(32), 12.0, 1e-9),
]

PENN = "Penn State Agronomy Guide, Table 1.8-9 (25 lb a day for 1,000 lb)"
PENN_TABLE = {
    (1, 80): (0.042, 0.031, 0.021),
    (2, 75): (0.089, 0.067, 0.044),
    (3, 75): (0.133, 0.100, 0.067),
    (4, 70): (0.190, 0.143, 0.095),
    (5, 65): (0.256, 0.192, 0.128),
    (6, 60): (0.333, 0.250, 0.167),
    (7, 60): (0.389, 0.292, 0.194),
}
MAINE = "University of Maine Extension"


def acres(days: float, used_pct: float, forage: float) -> Callable[[], float]:
    return lambda: grazed("acres_head", days, forage, used_pct, 25.0)


PASTURE = [
    Check(PENN, f"{days} days, {used} percent of {forage} lb", acres(days, used, forage), printed, 0.0006)
    for (days, used), row in PENN_TABLE.items()
    for forage, printed in zip((750, 1000, 1500), row, strict=True)
]
PASTURE += [
    Check(
        MAINE,
        "cow-days of 5 inches at 9 an inch",
        lambda: grazed("head_days_acre", 1, 5 * 9 * 30, 100, 30),
        45,
        1e-9,
    ),
    Check(
        MAINE, "acres a day for 100 cows", lambda: 100 * grazed("acres_head", 1, 45 * 30, 100, 30), 2.2, 0.03
    ),
    Check(
        "NCAT/ATTRA",
        "1,050 lb at 3 percent",
        lambda: 100 * grazed("acres_head", 1, 100, 100, 1050 * 0.03),
        31.5,
        1e-9,
    ),
]

CHECKS = [*CONTRACTS, *VALUES, *NEXT, *BUDGETS, *SHRINK, *PASTURE]


def holds(check: Check, nudge: float = 0.0) -> bool:
    """Return whether our number is the printed one, or the printed one nudged."""
    return abs(check.ours() - (check.printed + nudge)) <= check.tolerance * (1 + 1e-9) + 1e-12


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.source[:20]}: {check.what}")
def test_published(check):
    assert holds(check), (check.source, check.what, check.ours(), check.printed)


def test_a_nudged_number_fails():
    for check in CHECKS:
        for sign in (1, -1):
            assert not holds(check, sign * (2.1 * check.tolerance + 1e-6)), check


def test_five_cents_a_pound_is_five_dollars_a_hundredweight():
    for weight in (560.0, 610.0, 655.5):
        by_cents = 180.0 - 0.05 * (weight - 550.0)
        assert float(slide(weight, 180.0, 550.0, 5.0)()) == pytest.approx(by_cents, abs=1e-12)


def test_headline_breakeven_without_the_deads_is_lower():
    """The page's headline of 178.50 forgets the 3 percent deads; ours has them in the denominator."""
    assert even_sale(1419.05, 795) == pytest.approx(178.50, abs=0.01)
    assert even_sale(1419.05, 795, 0.97) == pytest.approx(184.02, abs=0.01)


def test_best_per_head_and_best_per_hectare_can_disagree():
    """Translational Animal Science, 2020, table 4: net per steer over ha per steer gives the printed $/ha."""
    hectares = (1.83, 1.91, 2.29, 2.76, 3.04, 3.61, 4.13)
    per_steer = (144, 143, 142, 146, 158, 171, 164)
    per_hectare = (79, 74, 62, 53, 52, 49, 40)
    ours = [
        money / grazed("acres_head", 1, 30 / area, 100, 30)
        for area, money in zip(hectares, per_steer, strict=True)
    ]
    for mine, printed in zip(ours, per_hectare, strict=True):
        assert mine == pytest.approx(printed, abs=2.0)
    assert per_steer.index(max(per_steer)) == 5
    assert ours.index(max(ours)) == 0
