"""What the form calls each field of the plan, and which fields it shows at first; the rest is declared by the plan."""

from __future__ import annotations

from slidefit.decision.fields import PlanTable
from slidefit.decision.growing import Feed, Pasture, Phase, Program
from slidefit.decision.plan import Dates, Forward, Group, Money, Plan, Risk
from slidefit.decision.selling_terms import Contract, Floor, Selling

LABELS: dict[type[PlanTable], dict[str, str]] = {
    Plan: {
        "title": "Name of the plan",
        "dates": "Dates",
        "groups": "Groups of calves",
        "programs": "Ways to keep them",
        "selling": "Selling",
        "money": "Money",
        "risk": "Odds",
    },
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
        "health_head": "Health",
        "mineral_head_day": "Mineral and salt",
        "labor_head_day": "Labor",
        "yardage_head_day": "Yardage",
        "fuel_head_day": "Fuel and equipment",
        "other_head": "Other, once",
        "other_head_day": "Other, by the day",
    },
    Pasture: {
        "kind": "Kind of forage",
        "forage_lb_acre": "Forage grown",
        "utilization_pct": "Share eaten",
        "intake_pct": "Eaten a day, percent",
        "acres": "Acres at hand",
        "cost_acre": "Whole cost of an acre",
        "rent_acre": "Rent",
        "seed_acre": "Seed",
        "fertilizer_acre": "Fertilizer",
        "establishment_acre": "Tillage and planting",
        "fence_acre": "Fence",
        "water_acre": "Water",
        "other_acre": "Other pasture cost",
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
        "yardage_head": "Yardage at the market",
        "checkoff_head": "Checkoff",
        "freight_head": "Freight, by the head",
        "freight_loaded_mile": "Freight of a load",
        "miles": "Miles to market",
        "load_lb": "Weight of a full load",
        "shrink_pct": "Shrink",
        "hours_hauled": "Hours on the truck",
        "pencil_shrink_pct": "Pencil shrink",
        "insurance_head": "Insurance",
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
    Money: {"interest_pct": "Interest"},
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
SHOWN: dict[type[PlanTable], tuple[str, ...]] = {
    Plan: ("title",),
    Dates: ("weaning", "first_sale", "last_sale", "sale_day"),
    Group: ("name", "sex", "head", "weight_lb", "bid_cwt"),
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
    Money: ("interest_pct",),
    Risk: ("loss_head",),
}  # fmt: skip
PROGRAM_COSTS = frozenset(
    {
        "death_loss_pct", "death_sd_pct", "health_head", "mineral_head_day", "labor_head_day",
        "yardage_head_day", "fuel_head_day", "other_head", "other_head_day", "shrink_pct",
    }
)  # fmt: skip
"""Fields of a way to keep calves that stand among the costs, not with the feed."""

NEW_NAMES = {
    "groups": "Group", "forward": "Forward price", "programs": "Way", "ration": "Feed", "phases": "Phase",
}  # fmt: skip
"""What a new table of a list is called until the user names it."""

CHOICE_WORDS = {
    "L": "L: large", "ML": "ML: medium and large", "M": "M: medium", "MS": "MS: medium and small", "S": "S: small",
    "": "not said",
}  # fmt: skip
