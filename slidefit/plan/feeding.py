"""The part of a plan that says how calves are kept: pasture, ration, phases and what they cost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from pydantic import model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from slidefit.plan.cost_fields import cost_fields
from slidefit.plan.costs import KEEPING_COSTS
from slidefit.toml_faults import Problem, Where
from slidefit.toml_tables import TomlTable, entry

ForageKind = Literal["", "grass", "cereal", "sorghum", "legume"]
KIND_MEANING = "Kind of forage, for the cautions: grass, cereal, sorghum or legume."
PASTURE_COSTS = {
    "establish_acre": "to establish",
    "grow_acre": "to grow",
    "graze_acre": "to graze",
    "hold_acre": "to hold the land",
}
FORMER_COSTS = {
    "seed_acre": ("establish_acre", "seed"),
    "establishment_acre": ("establish_acre", "tillage and planting"),
    "fertilizer_acre": ("grow_acre", "fertilizer"),
    "other_acre": ("grow_acre", "other"),
    "fence_acre": ("graze_acre", "fence"),
    "water_acre": ("graze_acre", "water"),
    "rent_acre": ("hold_acre", "rent"),
}
"""Names of pasture costs up to version 0.1, read for one more version."""
ITEMS_UNIT = "list of [what, $/acre]"
Items = tuple[tuple[str, float], ...]


class Pasture(TomlTable):
    """A pasture budget: what an acre costs, what it grows and how much of that a calf eats."""

    kind: ForageKind = entry("", meaning=KIND_MEANING)
    cost_acre: float | None = entry(
        None, unit="$/acre", meaning="Whole cost of an acre, in place of the items.", low=0, high=3000
    )
    establish_acre: float = entry(
        0.0, unit="$/acre", meaning="To establish the pasture: seed, tillage, planting.", low=0, high=2000
    )
    establish_items: Items = entry(
        (), unit=ITEMS_UNIT, meaning="The same item by item, in place of establish_acre."
    )
    grow_acre: float = entry(
        0.0, unit="$/acre", meaning="To grow it: fertilizer, spray, water on the land.", low=0, high=2000
    )
    grow_items: Items = entry((), unit=ITEMS_UNIT, meaning="The same item by item, in place of grow_acre.")
    graze_acre: float = entry(
        0.0, unit="$/acre", meaning="To graze it: fence, stock water, moving.", low=0, high=2000
    )
    graze_items: Items = entry((), unit=ITEMS_UNIT, meaning="The same item by item, in place of graze_acre.")
    hold_acre: float = entry(0.0, unit="$/acre", meaning="To hold the land: rent, taxes.", low=0, high=2000)
    hold_items: Items = entry((), unit=ITEMS_UNIT, meaning="The same item by item, in place of hold_acre.")
    forage_lb_acre: float = entry(
        unit="lb dry matter/acre", meaning="Forage grown over the time grazed.", low=100, high=30000
    )
    forage_sd_pct: float = entry(
        25.0, unit="percent", meaning="Spread of the forage yield from year to year, one standard deviation.",
        low=0, high=100, smallest=1, source="our choice",
    )  # fmt: skip
    utilization_pct: float = entry(
        unit="percent", meaning="Share of the forage that the calves eat.", low=1, high=100, smallest=1
    )
    intake_pct: float | None = entry(
        None, unit="percent of body weight",
        meaning="Dry matter eaten a day, as percent of the mean body weight over the time grazed.", low=0.5,
        high=6,
    )  # fmt: skip
    intake_lb_day: float | None = entry(
        None, unit="lb dry matter/day", meaning="Dry matter eaten a day, in place of a percentage.", low=2,
        high=60,
    )  # fmt: skip
    acres: float | None = entry(
        None, unit="acres", meaning="Acres at hand; they cap the head or the days.", low=0.1, high=1e6
    )
    alternative_acre: float | None = entry(
        None, unit="$/acre", meaning="What the land would return in its other use.", low=-2000, high=5000
    )

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        if (self.intake_pct is None) == (self.intake_lb_day is None):
            what = "intake_pct and intake_lb_day are both given" if self.intake_pct else "no intake is given"
            yield ("intake_pct",), what, "Give one of intake_pct and intake_lb_day."
        if self.cost_acre is not None and self.items():
            yield ("cost_acre",), "is given beside single items", "Keep the total or the items."
        for name in PASTURE_COSTS:
            if getattr(self, name) and getattr(self, items_of(name)):
                yield (items_of(name),), f"is given beside {name}", "Keep the sum or its items."

    def items(self) -> tuple[tuple[str, float], ...]:
        """Return the itemised costs that are not zero: what, and $/acre."""
        out: list[tuple[str, float]] = []
        for name, text in PASTURE_COSTS.items():
            total = getattr(self, name)
            out += [(text, total)] if total else [each for each in getattr(self, items_of(name)) if each[1]]
        return tuple(out)

    @property
    def total_cost_acre(self) -> float:
        """Cost of an acre, given or added up [$/acre]."""
        return sum(cost for _, cost in self.items()) if self.cost_acre is None else self.cost_acre

    @property
    def holds_land(self) -> bool:
        """Whether a cost of the land is counted."""
        return self.cost_acre is not None or bool(self.hold_acre or self.hold_items)

    @property
    def former(self) -> tuple[str, ...]:
        """The names of earlier versions that the costs were given under; no part of what makes two pastures equal."""
        return tuple(self.__dict__.get("_former", ()))

    @model_validator(mode="wrap")
    @classmethod
    def _read_former(cls, given: Any, build: ModelWrapValidatorHandler[Pasture]) -> Pasture:
        found = [name for name in FORMER_COSTS if isinstance(given, dict) and name in given]
        if not found:
            return build(given)
        kept = {name: value for name, value in given.items() if name not in FORMER_COSTS}
        for name in found:
            new, text = FORMER_COSTS[name]
            if not isinstance(given[name], (int, float)) or not 0 <= given[name] <= 2000:
                return build({**kept, new: given[name]})
            key = items_of(new)
            if given[name]:
                kept[key] = [*kept.get(key, []), [text, float(given[name])]]
        out = build(kept)
        out.__dict__["_former"] = tuple(found)
        return out


def items_of(name: str) -> str:
    """Return the field that holds the items of a pasture cost."""
    return name.replace("_acre", "_items")


class Feed(TomlTable):
    """One feed of a ration."""

    name: str = entry(meaning="What the feed is.")
    kind: ForageKind = entry("", meaning=KIND_MEANING)
    lb_day: float = entry(
        unit="lb as fed/head-day", meaning="Eaten by one calf a day, as fed.", low=0, high=150
    )
    price_ton: float = entry(unit="$/ton as fed", meaning="Price of 2,000 lb.", low=0, high=5000)
    waste_pct: float = entry(
        0.0, unit="percent", meaning="Share of the feed bought that is wasted.", low=0, high=80
    )
    dry_matter_pct: float | None = entry(
        None, unit="percent", meaning="Dry matter in the feed.", low=5, high=100
    )
    nem_mcal_lb: float | None = entry(
        None, unit="Mcal/lb dry matter", meaning="Net energy for maintenance.", low=0.2, high=1.6
    )
    neg_mcal_lb: float | None = entry(
        None, unit="Mcal/lb dry matter", meaning="Net energy for gain.", low=0.0, high=1.3
    )

    @property
    def cost_head_day(self) -> float:
        """Cost of one head-day of the feed, waste included [$]."""
        return self.lb_day / (1.0 - self.waste_pct / 100.0) * self.price_ton / 2000.0


class Phase(TomlTable):
    """A stretch of a program with its own gain and feed."""

    name: str = entry("", meaning="What you call it.")
    days: int | None = entry(
        None, unit="days", meaning="How long it lasts; only the last phase may leave it out.", low=1, high=730
    )
    gain_lb_day: float = entry(unit="lb/day", meaning="Daily gain over the phase.", low=-2, high=6)
    cost_head_day: float = entry(0.0, unit="$/head-day", meaning="Feed or yard cost a day.", low=0, high=30)
    pasture: Pasture | None = entry(None, meaning="A pasture budget.")
    ration: tuple[Feed, ...] = entry((), meaning="Feeds of a ration.")

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong inside the phase."""
        if self.pasture is not None:
            for where, what, remedy in self.pasture.problems():
                yield ("pasture", *where), what, remedy


if TYPE_CHECKING:

    class KeepingCosts(TomlTable):
        """The costs of `plan.costs` as fields."""

else:
    KeepingCosts = cost_fields("KeepingCosts", KEEPING_COSTS)


class Program(KeepingCosts):
    """One way to keep the calves: feed from pasture, a ration, a cost per day, or phases of these."""

    name: str = entry(meaning="What you call this program.")
    earliest_on: date | None = entry(
        None, unit="date", meaning="First day it is open; from weaning until then the calves wait."
    )
    latest_off: date | None = entry(None, unit="date", meaning="Last day that calves can stay on it.")
    wait_gain_lb_day: float | None = entry(
        None, unit="lb/day", meaning="Daily gain while waiting for the first day.", low=-2, high=4
    )
    wait_cost_head_day: float | None = entry(
        None, unit="$/head-day", meaning="Feed cost a day while waiting.", low=0, high=30
    )
    gain_lb_day: float | None = entry(
        None, unit="lb/day", meaning="Daily gain; or give phases.", low=-2, high=6
    )
    gain_sd_lb_day: float = entry(
        0.25, unit="lb/day", meaning="How far the group's mean daily gain may miss, one standard deviation.",
        low=0, high=2, source="our choice",
    )  # fmt: skip
    slump_lb: float = entry(
        0.0, unit="lb", meaning="Weight lost right after weaning, before gain begins.", low=0, high=100
    )
    cost_head_day: float = entry(0.0, unit="$/head-day", meaning="Feed or yard cost a day.", low=0, high=30)
    pasture: Pasture | None = entry(None, meaning="A pasture budget.")
    ration: tuple[Feed, ...] = entry((), meaning="Feeds of a ration.")
    phases: tuple[Phase, ...] = entry((), meaning="Stretches with their own gain and feed, in order.")
    shrink_pct: float | None = entry(
        None, unit="percent", meaning="Shrink of calves sold off this program; selling's shrink when left out.",
        low=0, high=20, smallest=0.2,
    )  # fmt: skip
    death_loss_pct: float = entry(
        2.0, unit="percent of head started", meaning="Calves that die over the whole time kept.", low=0,
        high=50, smallest=0.1, source="published stocker budgets use 2, 3 and 5",
    )  # fmt: skip
    death_sd_pct: float = entry(
        0.0, unit="percent", meaning="Spread of the death rate from year to year beyond chance.", low=0,
        high=20, smallest=0.1,
    )  # fmt: skip
    spent_head: float = entry(
        0.0, unit="$/head",
        meaning="Costs of the days to come that are already paid, whatever is decided now; they are left out.",
        low=0, high=5000,
    )  # fmt: skip
    pens_head: int | None = entry(
        None, unit="head", meaning="Head that the pens or the yard can hold.", low=1, high=1_000_000
    )

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        one_stage = {"gain_lb_day": self.gain_lb_day, "pasture": self.pasture, "ration": self.ration or None}
        if self.phases:
            for name, value in one_stage.items():
                if value is not None:
                    yield (name,), "is given beside phases", "Put it into the phases."
        elif self.gain_lb_day is None:
            yield ("gain_lb_day",), "no daily gain is given", "Give gain_lb_day, or phases."
        for position, phase in enumerate(self.stages()):
            prefix: Where = ("phases", position) if self.phases else ()
            for where, what, remedy in phase.problems():
                yield (*prefix, *where), what, remedy
            if self.phases and phase.days is None and position < len(self.phases) - 1:
                yield (*prefix, "days"), "no days are given", "Only the last phase may be open-ended."
        if self.earliest_on and self.latest_off and self.earliest_on >= self.latest_off:
            what = f"is {self.latest_off}, not after earliest_on {self.earliest_on}"
            yield ("latest_off",), what, "Put the dates in order."

    def stages(self) -> tuple[Phase, ...]:
        """Return the phases, or the program itself as one open phase."""
        if self.phases:
            return self.phases
        gain = 0.0 if self.gain_lb_day is None else self.gain_lb_day
        return (Phase.model_construct(gain_lb_day=gain, pasture=self.pasture, ration=self.ration),)
