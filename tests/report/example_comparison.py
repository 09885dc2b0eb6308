"""An invented comparison, two groups by two programs by six months, for tables, pictures and the report."""

from __future__ import annotations

from datetime import date

from slidefit.decision.results import (
    Best,
    Breakeven,
    BudgetLine,
    CashNeed,
    Comparison,
    DefaultUsed,
    GroupResult,
    Herd,
    KeepOption,
    PastureUse,
    SellNow,
    Unavailable,
)

WEANED = date(2026, 10, 14)
MONTHS = [(2026, 11), (2026, 12), (2027, 1), (2027, 2), (2027, 3), (2027, 4)]
PASTURE, DRY_LOT = "autumn-sown cereal pasture", "dry lot, corn silage"


def lines(income: float, costs: float) -> tuple[BudgetLine, ...]:
    return (
        BudgetLine("Calf sold", f"{income / 3.4:,.0f} lb x $3.40", income, "income"),
        BudgetLine("Feed", "120 days x $1.10", -0.7 * costs, "cost"),
        BudgetLine("Health", "vaccine and wormer", -0.1 * costs, "cost"),
        BudgetLine("Selling", "2% commission, $1.00 check-off, freight $6.00", -0.2 * costs, "cost"),
        BudgetLine("Net", "", income - costs, "total"),
    )


def an_option(program: str, year: int, month: int, gain: float, **changes: object) -> KeepOption:
    sold = date(year, month, 15)
    days = (sold - WEANED).days
    weight = 520.0 + 1.9 * days
    values: dict[str, object] = {
        "program": program,
        "sale_date": sold,
        "sale_month": f"{year}-{month:02d}",
        "days": days,
        "weight_lb": weight,
        "pay_weight_lb": 0.97 * weight,
        "price_cwt": 388.0 - 0.3 * days,
        "price_low_cwt": 330.0,
        "price_high_cwt": 440.0,
        "net_per_head": 1930.0 + gain,
        "gain_per_head": gain,
        "gain_herd": 60 * gain,
        "budget_gain_per_head": gain - 2.0,
        "gain_per_acre": 2.1 * gain if program == PASTURE else None,
        "head_kept": 60,
        "value_of_gain_per_lb": 1.62,
        "cost_of_gain_per_lb": 0.88,
        "odds": 0.5 + gain / 500.0,
        "odds_big_loss": 0.12,
        "p10": gain - 160.0 - 0.8 * days,
        "p50": gain - 2.0,
        "p90": gain + 170.0 + 0.9 * days,
        "mean": gain + 1.0,
        "worst5_mean": gain - 340.0 - days,
        "bad_year": gain - 300.0 - days,
        "draw_error": 1.1,
        "later_bid_cwt": 331.2,
        "breakevens": (
            Breakeven("gain_lb_day", 1.21, 1.9),
            Breakeven("sale_price_cwt", 331.2, 352.0),
            Breakeven("death_loss_pct", None, 1.5, "keeping pays at any death loss up to 100%"),
        ),
        "lines": lines(2320.0 + gain, 390.0),
        "cash": (CashNeed("2026-11", 1800.0, 1800.0), CashNeed("2026-12", 1950.0, 3750.0)),
        "pasture": PastureUse(78.0, 0.72, 0.5, 118.0, 160.0, None) if program == PASTURE else None,
        "energy": None,
        "notes": (),
    }
    return KeepOption(**(values | changes))  # type: ignore[arg-type]


def a_group(
    name: str = "Steers", *, pasture: float = 20.0, lot: float = -10.0, **best: object
) -> GroupResult:
    keep = tuple(
        an_option(program, year, month, base + step * rise)
        for program, base, rise in ((PASTURE, pasture, 22.0), (DRY_LOT, lot, 12.0))
        for step, (year, month) in enumerate(MONTHS)
    )
    top = max(keep, key=lambda option: option.gain_per_head)
    values: dict[str, object] = {
        "choice": top.program,
        "sale_date": top.sale_date,
        "gain_per_head": top.gain_per_head,
        "gain_herd": top.gain_herd,
        "odds_beats_selling": top.odds,
        "runner_up": f"{PASTURE}, 2027-03-15",
        "odds_beats_runner_up": 0.55,
        "too_close": False,
        "month_too_close": True,
    }
    now = SellNow(
        WEANED, 520.0, 509.6, 390.0, True, 0.0, 1930.0, 115800.0, 1930.0, 1930.0, lines(1987.0, 57.0)
    )
    lost = Unavailable(DRY_LOT, "2027-05", "the program ends on April 30")
    return GroupResult(
        name, "steer", 60, now, keep, Best(**(values | best)), (lost,), ("Bid of $390 in hand.",)  # type: ignore[arg-type]
    )  # fmt: skip


def a_comparison(*groups: GroupResult) -> Comparison:
    told = groups or (a_group(), a_group("Heifers", pasture=-60.0, lot=-80.0))
    return Comparison(
        groups=told,
        herd=Herd(60 * len(told), 115800.0 * len(told), 8200.0, 0.69, -9400.0, 8000.0, 27100.0),
        currency="USD",
        as_of=date(2026, 10, 12),
        source="the fit of the sale book",
        draws=10_000,
        seed=1,
        defaults_used=(
            DefaultUsed("selling", ("checkoff_head",), "1.00", "$/head", "Check-off paid on each head sold"),
        ),
        left_out=("land (no rent is charged)", "management"),
        cautions=(
            "An estimate, not a promise of any price; ask your lender and a market adviser.",
            "Cereal pasture: lush growth can bloat cattle and bring on grass tetany; ask your veterinarian.",
            "Drought or frost can raise nitrate in cereals: have the forage tested.",
        ),
        notes=("Prices beyond May are not in this plan.",),
    )
