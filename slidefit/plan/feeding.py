"""The part of a plan that says how calves are kept: pasture, ration, phases and what they cost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Literal

from slidefit.toml_faults import Problem, Where
from slidefit.toml_tables import TomlTable, entry

ForageKind = Literal["", "grass", "cereal", "sorghum", "legume"]
KIND_MEANING = "Kind of forage, for the cautions: grass, cereal, sorghum or legume."
PASTURE_ITEMS = {
    "seed_acre": "seed",
    "fertilizer_acre": "fertilizer",
    "establishment_acre": "tillage and planting",
    "fence_acre": "fence",
    "water_acre": "water",
    "rent_acre": "rent",
    "other_acre": "other pasture cost",
}


class Pasture(TomlTable):
    """A pasture budget: what an acre costs, what it grows and how much of that a calf eats."""

    kind: ForageKind = entry("", meaning=KIND_MEANING)
    cost_acre: float | None = entry(
        None, unit="$/acre", meaning="Whole cost of an acre, in place of the items.", low=0, high=3000
    )
    seed_acre: float = entry(0.0, unit="$/acre", meaning="Seed.", low=0, high=1000)
    fertilizer_acre: float = entry(0.0, unit="$/acre", meaning="Fertilizer.", low=0, high=1000)
    establishment_acre: float = entry(0.0, unit="$/acre", meaning="Tillage and planting.", low=0, high=1000)
    fence_acre: float = entry(0.0, unit="$/acre", meaning="Fence.", low=0, high=1000)
    water_acre: float = entry(0.0, unit="$/acre", meaning="Water.", low=0, high=1000)
    rent_acre: float = entry(0.0, unit="$/acre", meaning="Rent of the land.", low=0, high=1000)
    other_acre: float = entry(0.0, unit="$/acre", meaning="Any other cost of the pasture.", low=0, high=1000)
    forage_lb_acre: float = entry(
        unit="lb dry matter/acre", meaning="Forage grown over the time grazed.", low=100, high=30000
    )
    forage_sd_pct: float = entry(
        25.0,
        unit="percent",
        meaning="Spread of the forage yield from year to year, one standard deviation.",
        low=0,
        high=100,
        smallest=1,
        source="our choice",
    )
    utilization_pct: float = entry(
        unit="percent", meaning="Share of the forage that the calves eat.", low=0, high=100, smallest=1
    )
    intake_pct: float | None = entry(
        None,
        unit="percent of body weight",
        meaning="Dry matter eaten a day, as percent of the mean body weight over the time grazed.",
        low=0.5,
        high=6,
    )
    intake_lb_day: float | None = entry(
        None,
        unit="lb dry matter/day",
        meaning="Dry matter eaten a day, in place of a percentage.",
        low=2,
        high=60,
    )
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

    def items(self) -> tuple[tuple[str, float], ...]:
        """Return the itemised costs that are not zero: what, and $/acre."""
        return tuple(
            (text, getattr(self, name)) for name, text in PASTURE_ITEMS.items() if getattr(self, name)
        )

    @property
    def total_cost_acre(self) -> float:
        """Cost of an acre, given or added up [$/acre]."""
        return sum(cost for _, cost in self.items()) if self.cost_acre is None else self.cost_acre


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


class Program(TomlTable):
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
        0.25,
        unit="lb/day",
        meaning="How far the group's mean daily gain may miss, one standard deviation.",
        low=0,
        high=2,
        source="our choice",
    )
    slump_lb: float = entry(
        0.0, unit="lb", meaning="Weight lost right after weaning, before gain begins.", low=0, high=100
    )
    cost_head_day: float = entry(0.0, unit="$/head-day", meaning="Feed or yard cost a day.", low=0, high=30)
    pasture: Pasture | None = entry(None, meaning="A pasture budget.")
    ration: tuple[Feed, ...] = entry((), meaning="Feeds of a ration.")
    phases: tuple[Phase, ...] = entry((), meaning="Stretches with their own gain and feed, in order.")
    shrink_pct: float | None = entry(
        None,
        unit="percent",
        meaning="Shrink of calves sold off this program; selling's shrink when left out.",
        low=0,
        high=20,
        smallest=0.2,
    )
    death_loss_pct: float = entry(
        2.0,
        unit="percent of head started",
        meaning="Calves that die over the whole time kept.",
        low=0,
        high=50,
        smallest=0.1,
        source="published stocker budgets use 2, 3 and 5",
    )
    death_sd_pct: float = entry(
        0.0,
        unit="percent",
        meaning="Spread of the death rate from year to year beyond chance.",
        low=0,
        high=20,
        smallest=0.1,
    )
    health_head: float = entry(0.0, unit="$/head", meaning="Vaccines, medicine, processing.", low=0, high=500)
    mineral_head_day: float = entry(0.0, unit="$/head-day", meaning="Mineral and salt.", low=0, high=5)
    labor_head_day: float = entry(0.0, unit="$/head-day", meaning="Labor.", low=0, high=10)
    yardage_head_day: float = entry(0.0, unit="$/head-day", meaning="Yardage.", low=0, high=10)
    fuel_head_day: float = entry(0.0, unit="$/head-day", meaning="Fuel and equipment.", low=0, high=10)
    other_head: float = entry(0.0, unit="$/head", meaning="Any other cost, once.", low=0, high=2000)
    other_head_day: float = entry(0.0, unit="$/head-day", meaning="Any other cost a day.", low=0, high=20)
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
