"""The part of a plan that says what selling costs and on what terms the calves are sold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from slidefit.plan.cost_fields import cost_fields
from slidefit.plan.costs import SELLING_COSTS
from slidefit.toml_faults import Problem
from slidefit.toml_tables import Month, TomlTable, entry

DEFAULT_COMMISSION_PCT = 3.0
DEFAULT_SHRINK_PCT = 3.0


class Contract(TomlTable):
    """A forward sale of the kept calves with a price slide agreed beforehand."""

    price_cwt: float = entry(unit="$/cwt", meaning="Price at the base weight.", low=30, high=1200)
    base_weight_lb: float = entry(
        unit="lb", meaning="Pay weight that the price holds for.", low=150, high=1400
    )
    slide_cwt: float = entry(
        unit="$/cwt per cwt",
        meaning="Price change for 100 lb of weight; a 5-cent slide is 5.",
        low=0,
        high=80,
    )
    window_lb: float = entry(
        0.0, unit="lb", meaning="Pounds off the base weight before the slide begins.", low=0, high=200
    )
    two_way: bool = entry(False, meaning="Lighter calves bring more too; otherwise only heavier ones less.")
    months: tuple[Month, ...] | None = entry(
        None, unit="list of YYYY-MM", meaning="Months of delivery; every month when left out."
    )
    groups: tuple[str, ...] | None = entry(
        None, unit="list of names", meaning="Groups under the contract; all when left out."
    )


class Floor(TomlTable):
    """A price floor bought for the kept calves."""

    floor_cwt: float = entry(unit="$/cwt", meaning="Lowest price, at the weight sold.", low=30, high=1200)
    cost_cwt: float = entry(unit="$/cwt", meaning="What the floor costs, per cwt sold.", low=0, high=200)


if TYPE_CHECKING:

    class SellingCosts(TomlTable):
        """The costs of `plan.costs` as fields."""

else:
    SellingCosts = cost_fields("SellingCosts", SELLING_COSTS)


class Selling(SellingCosts):
    """What selling costs, per head sold, today and later."""

    commission_pct: float | None = entry(
        None, unit="percent of the check",
        meaning="Commission as a share of the check; 3 when no commission is given.", low=0, high=20,
        smallest=0.2,
    )  # fmt: skip
    commission_head: float | None = entry(
        None, unit="$/head", meaning="Commission by the head, in place of a share.", low=0, high=200
    )
    freight_loaded_mile: float = entry(
        0.0, unit="$/loaded mile", meaning="Freight of a truck, by the loaded mile.", low=0, high=30
    )
    miles: float = entry(0.0, unit="miles", meaning="Loaded miles to the market.", low=0, high=3000)
    load_lb: float = entry(
        50_000.0, unit="lb", meaning="Live weight of a full load.", low=1000, high=100_000,
        source="common practice, no source",
    )  # fmt: skip
    shrink_pct: float | None = entry(
        None, unit="percent",
        meaning="Weight lost on the way to the scale; 3 when hours_hauled is not given either.", low=0, high=20,
        smallest=0.2,
    )  # fmt: skip
    hours_hauled: float | None = entry(
        None, unit="hours", meaning="Hours on a moving truck, for shrink read from a published table.", low=0,
        high=32, source="Boyles, Ohio State University Extension, 2012",
    )  # fmt: skip
    pencil_shrink_pct: float = entry(
        0.0, unit="percent", meaning="Shrink taken off by agreement after the scale.", low=0, high=10,
        smallest=0.2,
    )  # fmt: skip
    contract: Contract | None = entry(None, meaning="A forward sale with an agreed slide.")
    floor: Floor | None = entry(None, meaning="A price floor bought.")

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        if self.commission_pct is not None and self.commission_head is not None:
            yield ("commission_head",), "is given beside commission_pct", "Keep one of the two."
        if self.shrink_pct is not None and self.hours_hauled is not None:
            yield ("hours_hauled",), "is given beside shrink_pct", "Keep one of the two."
        if bool(self.freight_loaded_mile) != bool(self.miles):
            what = "freight by the loaded mile needs both freight_loaded_mile and miles"
            yield ("miles",), what, "Give both, or freight_head."

    @property
    def commission_share_pct(self) -> float:
        """Commission as percent of the check; zero when it goes by the head."""
        if self.commission_pct is not None:
            return self.commission_pct
        return DEFAULT_COMMISSION_PCT if self.commission_head is None else 0.0
