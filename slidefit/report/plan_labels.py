"""What page and paper call the fields of a plan."""

from __future__ import annotations

from slidefit.plan.costs import KEEPING_COSTS, SELLING_COSTS
from slidefit.plan.feeding import Feed, Pasture, Phase, Program
from slidefit.plan.plan import Dates, Finance, Forward, Group, Plan, PlanFutures, Risk, TypedPrices
from slidefit.plan.selling import Contract, Floor, Selling
from slidefit.toml_tables import TomlTable, table_class

Path = tuple[str | int, ...]

LABELS: dict[type[TomlTable], dict[str, str]] = {
    Plan: {
        "title": "Name of the plan",
        "as_of": "Compared again on",
        "prices": "Prices typed in place of records",
        "futures": "Futures",
        "dates": "Dates",
        "groups": "Groups of calves",
        "programs": "Ways to keep them",
        "selling": "Selling",
        "money": "Money",
        "risk": "Odds",
    },
    TypedPrices: {
        "weight_lb": "Weight today's price is for",
        "price_cwt": "Price today",
        "slide_pct": "Slide, percent",
        "slide_cwt": "Slide, dollars",
        "later_month": "Month of a later price",
        "later_weight_lb": "Weight the later price is for",
        "later_price_cwt": "Price later",
        "as_of": "Day of today's price",
        "season_pct": "Season by month",
        "price_sd_pct": "Spread of prices a month ahead",
    },
    PlanFutures: {"contract": "Contract month", "settlement": "Settlement", "as_of": "Day of settlement"},
    Dates: {
        "weaning": "Weaning day",
        "first_sale": "First month of sale",
        "last_sale": "Last month of sale",
        "sale_day": "Day of the month",
        "sales": "Single months of sale",
        "every_week": "Compare every week",
    },
    Group: {
        "name": "Name",
        "sex": "Sex",
        "head": "Head",
        "weight_lb": "Mean weight",
        "bid_cwt": "Price bid today",
        "bid_is": "What that bid tells of",
        "weight_sd_lb": "Spread of weights",
        "weights_lb": "Every calf's weight",
        "frame": "Frame",
        "muscle": "Muscle",
        "forward": "Forward prices",
        "weaning": "Own weaning day",
        "programs": "Open to these ways only",
    },
    Forward: {
        "month": "Month of that price",
        "weight_lb": "At what weight",
        "price_cwt": "Forward price",
        "name": "Where it comes from",
    },
    Program: {
        "name": "Name",
        "gain_lb_day": "Daily gain",
        "cost_head_day": "Feed or yard cost a day",
        "earliest_on": "First day open",
        "latest_off": "Last day open",
        "wait_gain_lb_day": "Gain while waiting",
        "wait_cost_head_day": "Feed cost while waiting",
        "slump_lb": "Lost after weaning",
        "gain_sd_lb_day": "Spread of the gain",
        "pens_head": "Room in the pens",
        "pasture": "Pasture",
        "ration": "Ration",
        "phases": "Phases",
        "shrink_pct": "Shrink",
        "death_loss_pct": "Death loss",
        "death_sd_pct": "Spread of the death loss",
        "spent_head": "Already spent",
        **{each.key: each.label.capitalize() for each in KEEPING_COSTS},
    },
    Pasture: {
        "kind": "Kind of forage",
        "forage_lb_acre": "Forage grown",
        "utilization_pct": "Share eaten",
        "intake_pct": "Eaten a day, percent",
        "acres": "Acres at hand",
        "cost_acre": "Whole cost of an acre",
        "establish_acre": "To establish it",
        "grow_acre": "To grow it",
        "graze_acre": "To graze it",
        "hold_acre": "To hold the land",
        "establish_items": "To establish it, by item",
        "grow_items": "To grow it, by item",
        "graze_items": "To graze it, by item",
        "hold_items": "To hold the land, by item",
        "intake_lb_day": "Eaten a day, pounds",
        "forage_sd_pct": "Spread of the yield",
        "alternative_acre": "Worth in other use",
    },
    Feed: {
        "name": "Feed",
        "lb_day": "Fed a day",
        "price_ton": "Price a ton",
        "waste_pct": "Waste",
        "kind": "Kind of forage",
        "dry_matter_pct": "Dry matter",
        "nem_mcal_lb": "Energy for maintenance",
        "neg_mcal_lb": "Energy for gain",
    },
    Phase: {
        "name": "Name",
        "days": "Days",
        "gain_lb_day": "Daily gain",
        "cost_head_day": "Feed or yard cost a day",
        "pasture": "Pasture",
        "ration": "Ration",
    },
    Selling: {
        "commission_pct": "Commission",
        "commission_head": "Commission, by the head",
        "freight_loaded_mile": "Freight of a load",
        "miles": "Miles to market",
        "load_lb": "Weight of a full load",
        "shrink_pct": "Shrink",
        "hours_hauled": "Hours on the truck",
        "pencil_shrink_pct": "Pencil shrink",
        **{each.key: each.label.capitalize() for each in SELLING_COSTS},
        "contract": "Forward contract",
        "floor": "Price floor",
    },
    Contract: {
        "price_cwt": "Contract price",
        "base_weight_lb": "Base weight",
        "slide_cwt": "Slide",
        "window_lb": "Pounds free of slide",
        "two_way": "Lighter calves bring more too",
        "months": "Months of delivery",
        "groups": "Groups under contract",
    },
    Floor: {"floor_cwt": "Floor", "cost_cwt": "Cost of the floor"},
    Finance: {"interest_pct": "Interest"},
    Risk: {
        "loss_head": "A big loss",
        "draws": "Runs",
        "seed": "Start of the runs",
        "gain_forage_corr": "Gain goes with forage",
        "vary": "What varies",
        "beyond_data": "Allow weights outside the records",
        "unseen_months": "Allow months without a sale",
    },
}
CHOICE_WORDS = {
    "L": "L: large", "ML": "ML: medium and large", "M": "M: medium", "MS": "MS: medium and small", "S": "S: small",
    "": "not said", "market": "the market", "these calves": "these calves", "this buyer": "this buyer alone",
}  # fmt: skip


def field_label(name: str) -> str:
    """Return what a plan's field is called; its own name where it has no other.

    >>> field_label("cost_head_day"), field_label("color_code")
    ('Feed or yard cost a day', 'color code')
    """
    return next((labels[name] for labels in LABELS.values() if name in labels), name.replace("_", " "))


def path_label(path: Path) -> str:
    """Return what a number of a plan is called inside its part.

    >>> path_label(("programs", 0, "ration", 1, "price_ton")), path_label(("groups", 0, "weights_lb", 2))
    ('Ration 2: Price a ton', "Every calf's weight 3")
    """
    table: type[TomlTable] = Plan
    words: list[str] = []
    for part in path:
        if isinstance(part, int):
            words[-1] += f" {part + 1}"
        else:
            words.append(LABELS[table][part])
            table = table_class(table.model_fields[part].annotation) or table
    return ": ".join(words[1:])
