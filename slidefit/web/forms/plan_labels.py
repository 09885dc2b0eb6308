"""What the form of a plan calls its fields, and which of them it shows at once."""

from __future__ import annotations

from slidefit.plan.costs import KEEPING_COSTS, SELLING_COSTS
from slidefit.plan.feeding import Feed, Pasture, Phase, Program
from slidefit.plan.plan import Dates, Finance, Forward, Group, Plan, PlanFutures, Risk, TypedPrices
from slidefit.plan.selling import Contract, Floor, Selling
from slidefit.toml_tables import TomlTable

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
        "draws": "Draws",
        "seed": "Start of the draws",
        "gain_forage_corr": "Gain goes with forage",
        "vary": "What is drawn",
        "beyond_data": "Allow weights outside the records",
        "unseen_months": "Allow months without a sale",
    },
}
SHOWN: dict[type[TomlTable], tuple[str, ...]] = {
    Plan: ("title",),
    TypedPrices: (
        "weight_lb", "price_cwt", "slide_pct", "later_month", "later_weight_lb", "later_price_cwt",
    ),
    PlanFutures: ("contract", "settlement", "as_of"),
    Dates: ("weaning", "first_sale", "last_sale", "sale_day"),
    Group: ("name", "sex", "head", "weight_lb", "muscle", "bid_cwt"),
    Forward: ("month", "weight_lb", "price_cwt", "name"),
    Program: (
        "name", "gain_lb_day", "cost_head_day", "earliest_on", "latest_off", "death_loss_pct", "health_head",
        "mineral_head_day", "labor_head_day", "yardage_head_day",
    ),
    Pasture: ("kind", "forage_lb_acre", "utilization_pct", "intake_pct", "acres", "cost_acre"),
    Feed: ("name", "lb_day", "price_ton", "waste_pct"),
    Phase: ("name", "days", "gain_lb_day", "cost_head_day"),
    Selling: ("commission_pct", "yardage_head", "checkoff_head", "freight_loaded_mile", "miles", "shrink_pct"),
    Contract: ("price_cwt", "base_weight_lb", "slide_cwt", "window_lb"),
    Floor: ("floor_cwt", "cost_cwt"),
    Finance: ("interest_pct",),
    Risk: ("loss_head",),
}  # fmt: skip
PROGRAM_COSTS = frozenset(
    {"death_loss_pct", "death_sd_pct", "spent_head", "shrink_pct", *(each.key for each in KEEPING_COSTS)}
)
"""Fields of a way to keep calves that stand among the costs, not with the feed."""

NEW_NAMES = {
    "groups": "Group", "forward": "Forward price", "programs": "Way", "ration": "Feed", "phases": "Phase",
    "futures": "Futures contract",
}  # fmt: skip
"""What a new table of a list is called until the user names it."""

CHOICE_WORDS = {
    "L": "L: large", "ML": "ML: medium and large", "M": "M: medium", "MS": "MS: medium and small", "S": "S: small",
    "": "not said", "market": "the market", "these calves": "these calves", "this buyer": "this buyer alone",
}  # fmt: skip
