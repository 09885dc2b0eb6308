"""The plan: calves, feeding programs, selling, money, dates and risk, as one checked document.

Weights are in pounds, prices in dollars per hundredweight, percentages in percent (2 means two percent).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Literal

from slidefit.errors import SlidefitError
from slidefit.futures_contracts import FuturesQuote, contract_month
from slidefit.plan.feeding import Program
from slidefit.plan.selling import Selling
from slidefit.public_result import PublicResult
from slidefit.toml_faults import Problem, Where
from slidefit.toml_tables import Month, TomlTable, entry


class Dates(TomlTable):
    """When the calves are weaned and when they could be sold."""

    weaning: date = entry(unit="date", meaning="Day the calves are weaned and could be sold.")
    first_sale: Month | None = entry(None, unit="YYYY-MM", meaning="First month of sale to compare.")
    last_sale: Month | None = entry(None, unit="YYYY-MM", meaning="Last month of sale to compare.")
    sales: tuple[Month, ...] | None = entry(
        None, unit="list of YYYY-MM", meaning="Months of sale, when they are not a run from first to last."
    )
    sale_day: int = entry(
        15, unit="day of month", meaning="Day of the month that calves are sold.", low=1, high=28
    )
    every_week: bool = entry(
        False, meaning="Compare every week from the first to the last month, not one day a month."
    )

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        if self.sales is None and (self.first_sale is None or self.last_sale is None):
            remedy = "Give first_sale and last_sale, or a list in sales."
            yield ("sales",), "no months of sale are given", remedy
        if self.sales is not None and (self.first_sale or self.last_sale):
            yield ("sales",), "sales is given beside first_sale or last_sale", "Keep one of the two."
        if self.first_sale and self.last_sale and self.first_sale > self.last_sale:
            what = f"is {self.last_sale}, before first_sale {self.first_sale}"
            yield ("last_sale",), what, "Put the months in order."
        for position, month in enumerate(self.sale_months()):
            if month < f"{self.weaning:%Y-%m}":
                where: Where = ("sales", position) if self.sales else ("first_sale",)
                yield where, f"{month} is before weaning on {self.weaning}", "Sell in a later month."
                return

    def sale_months(self) -> tuple[str, ...]:
        """Return every month of sale, in order."""
        if self.sales is not None:
            return tuple(sorted(set(self.sales)))
        if self.first_sale is None or self.last_sale is None:
            return ()
        year, month = (int(part) for part in self.first_sale.split("-"))
        months: list[str] = []
        while f"{year:04d}-{month:02d}" <= self.last_sale and len(months) < 36:
            months.append(f"{year:04d}-{month:02d}")
            year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        return tuple(months)


class Forward(TomlTable):
    """A price that you expect, or were told, for these calves in a month to come."""

    month: Month = entry(unit="YYYY-MM", meaning="Month that the price is for; it holds on the day of sale.")
    weight_lb: float = entry(unit="lb", meaning="Weight that the price is for, per head.", low=150, high=1400)
    price_cwt: float = entry(
        unit="$/cwt",
        meaning="Price of these calves at that weight and at your market: a futures price needs the local basis added.",
        low=30,
        high=1200,
    )
    name: str = entry("", meaning="Where the price comes from.")


class Group(TomlTable):
    """Calves that are alike enough to be decided together."""

    name: str = entry(meaning="What you call this group.")
    sex: Literal["steer", "heifer", "bull"] = entry(meaning="Steers, heifers or bulls.")
    frame: Literal["L", "ML", "M", "MS", "S", ""] = entry(
        "ML", meaning="Frame: L large, ML medium and large, M medium, MS medium and small, S small."
    )
    muscle: Literal["1", "1-2", "2", "2-3", "3", "3-4", "4", ""] = entry(
        "1", meaning="Muscle thickness by the U.S. Standards for Grades of Feeder Cattle."
    )
    head: int = entry(unit="head", meaning="How many calves.", low=1, high=100_000)
    weight_lb: float | None = entry(
        None, unit="lb", meaning="Mean weight at weaning, per head.", low=150, high=1400
    )
    weight_sd_lb: float = entry(
        0.0, unit="lb", meaning="Spread of weights within the group, one standard deviation.", low=0, high=200
    )
    weights_lb: tuple[float, ...] | None = entry(
        None, unit="list of lb", meaning="Every calf's weight, in place of a mean."
    )
    bid_cwt: float | None = entry(
        None, unit="$/cwt",
        meaning="Price bid today for the group at its mean weight; without one the outlook's price is used.",
        low=30, high=1200,
    )  # fmt: skip
    bid_is: Literal["", "market", "these calves", "this buyer"] = entry(
        "",
        meaning="What a bid off the market tells of: the market, these calves (they sell so later too), or this "
        "buyer alone. Left out, it is shared by how much each of them varies.",
    )
    forward: tuple[Forward, ...] = entry(
        (), meaning="Forward prices to go by in place of the outlook's own expectation."
    )
    weaning: date | None = entry(None, unit="date", meaning="This group's own weaning day.")
    programs: tuple[str, ...] | None = entry(
        None, unit="list of names", meaning="Programs open to this group; all when left out."
    )

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        if self.bid_is and self.bid_cwt is None:
            what = f"is {self.bid_is!r}, and there is no bid"
            yield ("bid_is",), what, "Give bid_cwt, or leave bid_is out."
        if self.weights_lb is None and self.weight_lb is None:
            remedy = "Give weight_lb, or every calf's weight in weights_lb."
            yield ("weight_lb",), "no weight is given", remedy
        if self.weights_lb is not None and (self.weight_lb is not None or self.weight_sd_lb):
            yield ("weights_lb",), "is given beside weight_lb or weight_sd_lb", "Keep one of the two."
        months = [each.month for each in self.forward]
        for position, month in enumerate(months):
            if month in months[:position]:
                where: Where = ("forward", position, "month")
                yield where, f"is {month}, given twice", "Keep one price for a month."
        for position, weight in enumerate(self.weights_lb or ()):
            if not 150 <= weight <= 1400:
                where = ("weights_lb", position)
                yield where, f"is {weight:g}; calves weigh 150 to 1,400 lb", "Give pounds per head."
        if self.weights_lb is not None and len(self.weights_lb) != self.head:
            what = f"holds {len(self.weights_lb)} weights for {self.head} head"
            yield ("weights_lb",), what, "Give one weight for each calf."

    @property
    def mean_weight_lb(self) -> float:
        """The mean weight at weaning [lb]."""
        if self.weights_lb:
            return sum(self.weights_lb) / len(self.weights_lb)
        return float(self.weight_lb or 0.0)


class Finance(TomlTable):
    """What money costs."""

    interest_pct: float = entry(
        8.0, unit="percent a year",
        meaning="Interest on the calf's value at weaning, and on half the cash costs, while it is kept.", low=0,
        high=40, smallest=0.5, source="our choice; ask your lender",
    )  # fmt: skip


Varying = Literal["price", "slide", "lot", "gain", "deaths", "forage"]
ALL_VARYING: tuple[Varying, ...] = ("price", "slide", "lot", "gain", "deaths", "forage")


class Risk(TomlTable):
    """How the odds are worked out."""

    draws: int = entry(
        16_384, meaning="Runs of price, gain, deaths and forage together.", low=100, high=200_000
    )
    seed: int = entry(
        20261014, meaning="Start of the random numbers; the same start gives the same odds.", low=0
    )
    loss_head: float = entry(
        50.0, unit="$/head", meaning="A loss from keeping that you would call big.", low=0, high=5000
    )
    gain_forage_corr: float = entry(
        0.5, meaning="Correlation of daily gain with forage yield: poor grass years gain less.", low=-0.99,
        high=0.99, source="our choice",
    )  # fmt: skip
    vary: tuple[Varying, ...] = entry(
        ALL_VARYING,
        unit="list",
        meaning="What varies from run to run; leave one out to hold it at its planned value.",
    )
    beyond_data: bool = entry(
        False, meaning="Allow weights over 50 lb outside the sale records, on the outlook's extrapolation."
    )
    unseen_months: bool = entry(
        False,
        meaning="Allow months that no sale was ever seen in, read off the season's wave, with a wider range.",
    )


class TypedPrices(TomlTable):
    """Prices typed in place of sale records: today's price, and a slide or a later price."""

    as_of: date | None = entry(
        None, unit="date", meaning="Day that today's price is of; weaning when left out."
    )
    weight_lb: float = entry(unit="lb", meaning="Weight that today's price is for.", low=150, high=1400)
    price_cwt: float = entry(unit="$/cwt", meaning="Today's price at that weight.", low=30, high=1200)
    slide_pct: float | None = entry(
        None, unit="percent per cwt", meaning="Fall of the price for 100 lb more.", low=-30, high=40
    )
    slide_cwt: float | None = entry(
        None, unit="$/cwt per cwt",
        meaning="The same in dollars for 100 lb at weight_lb, in place of a percentage; 8 cents a pound is 8.",
        low=-60, high=120,
    )  # fmt: skip
    later_month: Month | None = entry(
        None, unit="YYYY-MM", meaning="Month of a later price, in place of a slide."
    )
    later_weight_lb: float | None = entry(
        None, unit="lb", meaning="Weight that the later price is for.", low=150, high=1600
    )
    later_price_cwt: float | None = entry(None, unit="$/cwt", meaning="The later price.", low=30, high=1200)
    season_pct: tuple[float, ...] | None = entry(
        None,
        unit="list of percent",
        meaning="Season of the price, January to December, against the year's mean; typical when left out.",
    )
    price_sd_pct: float | None = entry(
        None, unit="percent a month", meaning="Spread of the price level a month ahead; typical when left out.",
        low=0, high=30,
    )  # fmt: skip

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        later = (self.later_month, self.later_weight_lb, self.later_price_cwt)
        slides = [each for each in (self.slide_pct, self.slide_cwt) if each is not None]
        if any(each is not None for each in later) and None in later:
            what = "a later price needs its month and its weight"
            yield ("later_price_cwt",), what, "Give later_month, later_weight_lb and later_price_cwt."
        if not slides and None in later:
            what = "neither a slide nor a later price is given"
            yield ("slide_pct",), what, "Give slide_pct, or a later price with its month and weight."
        if len(slides) > 1:
            yield ("slide_cwt",), "is given beside slide_pct", "Keep one of the two."
        if slides and self.later_price_cwt is not None:
            remedy = "Keep one: a later price says what the slide is."
            yield ("slide_pct",), "is given beside a later price", remedy
        if self.later_weight_lb is not None and abs(self.later_weight_lb - self.weight_lb) < 20:
            what = f"is {self.later_weight_lb:g}, within 20 lb of weight_lb: no slide can be read from that"
            yield ("later_weight_lb",), what, "Give a weight further off, or slide_pct."
        if self.season_pct is not None and len(self.season_pct) != 12:
            yield ("season_pct",), f"holds {len(self.season_pct)} numbers", "Give twelve, January first."


class PlanFutures(TomlTable):
    """The settlement of one feeder cattle contract."""

    contract: str = entry(meaning="Month of the contract, as Jan 2027, 2027-01 or F27.")
    settlement: float = entry(unit="$/cwt", meaning="Settlement price.", low=30, high=1200)
    as_of: date = entry(unit="date", meaning="Day of that settlement.")

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong with the contract's month."""
        try:
            contract_month(self.contract, as_of=self.as_of)
        except SlidefitError as fault:
            yield ("contract",), fault.what, fault.remedy or "Write it like 2027-01."

    def quote(self) -> FuturesQuote:
        """Return the settlement as the market's reader takes it."""
        return FuturesQuote(contract_month(self.contract, as_of=self.as_of), self.settlement, self.as_of)


class Plan(PublicResult, TomlTable):
    """A whole plan."""

    title: str = entry("", meaning="A name for the plan, shown on the report.")
    as_of: date | None = entry(
        None,
        unit="date",
        meaning="The day of this comparison, when calves are kept already: weights are of that day, selling now is on "
        "it, and only costs after it count.",
    )
    prices: TypedPrices | None = entry(None, meaning="Prices typed in place of sale records.")
    futures: tuple[PlanFutures, ...] = entry((), meaning="Futures settlements, contract by contract.")
    dates: Dates = entry(meaning="When the calves are weaned and when they could be sold.")
    groups: tuple[Group, ...] = entry(meaning="The calves, group by group.")
    programs: tuple[Program, ...] = entry(meaning="Ways to keep them.")
    selling: Selling = entry(Selling(), meaning="What selling costs, today and later.")
    money: Finance = entry(Finance(), meaning="What money costs.")
    risk: Risk = entry(Risk(), meaning="How the odds are worked out.")

    def group(self, name: str) -> Group:
        """Return a group by its name (KeyError when there is none)."""
        return {group.name: group for group in self.groups}[name]

    def programs_of(self, group: Group) -> tuple[Program, ...]:
        """Return the programs open to a group, in the order of the plan."""
        return tuple(p for p in self.programs if group.programs is None or p.name in group.programs)

    def weekly(self) -> Plan:
        """Return the plan with a sale every week of its months instead of one a month."""
        return self.model_copy(update={"dates": self.dates.model_copy(update={"every_week": True})})

    def weaning_of(self, group: Group) -> date:
        """Return the day that a group is weaned."""
        return group.weaning or self.dates.weaning

    def start_of(self, group: Group) -> date:
        """Return the day of selling now: weaning, or the day of the comparison where that is later."""
        weaning = self.weaning_of(group)
        return weaning if self.as_of is None else max(weaning, self.as_of)
