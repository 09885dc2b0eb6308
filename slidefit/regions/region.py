"""Region and its tables, field by field; its age."""

from __future__ import annotations

import calendar
import math
from collections.abc import Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import Field, create_model

from slidefit.market.outlook import STANDARD_HEAD, STANDARD_WEIGHT_LB
from slidefit.public_result import PublicResult
from slidefit.toml_faults import Problem
from slidefit.toml_tables import TomlTable, entry

FORMAT = "slidefit region"
VERSION = 1
MONTH_KEYS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
SEASON_AT_LB = (450.0, 750.0)
LEVEL_STEP = math.log(1.1)

Percent = Annotated[float, Field(ge=-60.0, le=60.0, allow_inf_nan=False)]
StandardError = Annotated[float, Field(ge=0.0, le=60.0, allow_inf_nan=False)]
ScaleValue = Annotated[float, Field(ge=0.2, le=5.0, allow_inf_nan=False)]
PastPrice = Annotated[float, Field(ge=5.0, le=5_000.0, allow_inf_nan=False)]
IndexValue = Annotated[float, Field(ge=50.0, le=200.0, allow_inf_nan=False)]
Slide = tuple[Percent, StandardError]
MonthIndex = tuple[IndexValue, StandardError]
MonthPoints = tuple[Percent, Percent]
Sex = Literal["steer", "heifer", "bull"]
MonthKey = Literal["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]


class Price(TomlTable):
    """The price of the standard calf on the day of the file."""

    as_of: date = entry(meaning="The day that the price holds for, as a rule the last sale.")
    standard_cwt: float = entry(
        unit="$/cwt", meaning="Price of the standard calf that day.", low=20, high=2000
    )
    se_pct: float = entry(unit="percent", meaning="One standard error of that price.", low=0, high=30)
    seen_cwt: tuple[float, float] = entry(
        unit="$/cwt", meaning="Lowest and highest price of the standard calf in the records."
    )
    year_ago: tuple[PastPrice, StandardError] | None = entry(
        None, unit="$/cwt, percent", meaning="Mean price of the month a year before, and its standard error."
    )
    five_years: tuple[PastPrice, StandardError] | None = entry(
        None, unit="$/cwt, percent", meaning="Mean of that month over the five years before, and its error."
    )


class Standard(TomlTable):
    """The calf that all prices are told against."""

    sex: Sex = entry(meaning="Its sex.")
    grade: str = entry(meaning="Frame and muscle, such as ML 1.")
    weight_lb: float = entry(STANDARD_WEIGHT_LB, unit="lb", meaning="Its weight; can't be changed.")
    head: float = entry(STANDARD_HEAD, unit="head", meaning="Head in its lot; can't be changed.")

    def problems(self) -> Iterator[Problem]:
        """Yield a standard calf that the rest of the file is not told against."""
        for key, fixed in (("weight_lb", STANDARD_WEIGHT_LB), ("head", STANDARD_HEAD)):
            if getattr(self, key) != fixed:
                yield (
                    (key,),
                    f"is {getattr(self, key):g}; in this version it is {fixed:g}",
                    f"Write {fixed:g}.",
                )


def _with_months(base: type[TomlTable], kind: Any, unit: str, meaning: str) -> Any:
    """Return a table with a field for each calendar month after those of another."""
    meanings = [meaning, *(f"The same for {month}." for month in calendar.month_name[2:])]
    fields: dict[str, Any] = {
        key: (kind, entry(unit=unit, meaning=words)) for key, words in zip(MONTH_KEYS, meanings, strict=True)
    }
    return create_model(base.__name__, __base__=base, **fields)


class _Waves(TomlTable):
    waves: Literal[0, 1, 2] = entry(
        meaning="Turns a year that were fitted; 0 where the records show no season. Settles how errors go together."
    )
    unseen: tuple[MonthKey, ...] = entry(meaning="Months without a sale in the records.")


if TYPE_CHECKING:
    _Season = _Waves
    _SlideSeason = TomlTable
else:
    _Season = _with_months(_Waves, MonthIndex, "year mean = 100, percent", "Index and its standard error.")
    _SlideSeason = _with_months(
        TomlTable, MonthPoints, "log points x 100 per cwt", "At 450 lb and at 750 lb."
    )


class SeasonTable(_Season):
    """The season: price of the same calf by calendar month, and one standard error in percent."""

    def months(self) -> tuple[MonthIndex, ...]:
        """Return the twelve pairs of index and standard error."""
        return tuple(getattr(self, key) for key in MONTH_KEYS)


class SlideSeason(_SlideSeason):
    """Points added to the slide of every sex by calendar month, at 450 and at 750 lb, straight between and beyond."""

    def months(self) -> tuple[MonthPoints, ...]:
        """Return the twelve pairs of points at 450 and at 750 lb."""
        return tuple(getattr(self, key) for key in MONTH_KEYS)


class SexTable(TomlTable):
    """The slide of one sex at the price of the file."""

    seen_lb: tuple[float, float] = entry(unit="lb", meaning="The central 99 percent of head in the records.")
    discount_pct: float = entry(
        unit="percent", meaning="How far below the standard calf, at discount_at_lb.", low=-60, high=60
    )
    discount_se: float = entry(unit="points", meaning="One standard error of the discount.", low=0, high=60)
    discount_at_lb: float = entry(unit="lb", meaning="Weight that the discount holds at.", low=100, high=1500)
    discount_more: float = entry(
        unit="points", meaning="Points of discount added when prices rise by 10 percent.", low=-20, high=20
    )
    slide_more: MonthPoints = entry(
        unit="log points x 100 per cwt",
        meaning="Points of slide added when prices rise by 10 percent, at 450 and at 750 lb.",
    )
    slide_more_se: float = entry(
        unit="points per cwt", meaning="One standard error of slide_more, at 550 lb.", low=0, high=60
    )
    slide: dict[str, Slide] = entry(
        unit="percent per cwt",
        meaning="By step of weight: fall of price for 100 lb more, mean of the year, and its standard error.",
    )

    def steps(self) -> list[tuple[float, float, float, float]]:
        """Return the steps in order: from [lb], to [lb], slide [percent per cwt], standard error [points]."""
        return [(*step_ends(key), *value) for key, value in self.slide.items()]


class GradeTable(TomlTable):
    """A grade against the standard one."""

    discount_pct: float = entry(
        unit="percent", meaning="Below the standard grade, at 550 lb.", low=-60, high=80
    )
    slide_more: float = entry(
        unit="percent per cwt", meaning="Slide added to the standard's.", low=-30, high=30
    )
    discount_se: float = entry(
        0.0,
        unit="points",
        meaning="One standard error of the discount; 0 where it isn't known.",
        low=0,
        high=60,
    )


class Forecast(TomlTable):
    """How far prices may wander from the season: the parts that the spread by months ahead is made of."""

    walk_pct_month: float = entry(
        unit="percent", meaning="Walk: grows with the root of the months ahead.", low=0, high=30, smallest=0.1
    )
    drift_pct_month: float = entry(
        unit="percent", meaning="Unseen trend: grows with the months ahead.", low=0, high=20, smallest=0.05
    )
    scale: tuple[ScaleValue, ...] = entry(
        (),
        unit="ratio",
        meaning="What past forecasts multiply the spread by, 1, 2, ... months ahead; none is one.",
    )
    spread_pct: dict[str, float] = entry(
        {},
        unit="percent",
        meaning="By months ahead: one standard error of the price, season apart, from the parts.",
    )


class Basis(TomlTable):
    """Cash less feeder cattle futures by calendar month, which quotes of futures are read with."""

    weight_lb: float = entry(
        750.0, unit="lb", meaning="Weight that it is for: the contract's.", low=300, high=900
    )
    spread_pct: float = entry(
        unit="percent", meaning="One standard error of a month's basis.", low=0.5, high=30
    )
    month_share: float = entry(
        unit="share", meaning="Share of a departure that is left a month later.", low=0, high=0.95
    )
    months: int = entry(
        0, unit="months", meaning="Months of sales with quotes that it rests on.", low=0, high=2400
    )
    month_pct: tuple[Percent, ...] = entry(
        unit="percent", meaning="Cash above the nearest contract, January first."
    )

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong with the twelve months."""
        if len(self.month_pct) != 12:
            yield ("month_pct",), f"holds {len(self.month_pct)} numbers", "Give twelve, January first."


class Noise(TomlTable):
    """How one lot strays from the expected price."""

    lot_pct: float = entry(unit="percent", meaning="Lot to lot.", low=0, high=40)
    calf_pct: float = entry(
        unit="percent", meaning="Calf to calf, divided by the root of the head.", low=0, high=80
    )
    sale_pct: float = entry(unit="percent", meaning="Sale to sale.", low=0, high=40)
    slide_pct: float = entry(unit="points per cwt", meaning="The slide from sale to sale.", low=0, high=20)
    slide_now_pct: float = entry(
        unit="points per cwt",
        meaning="How much steeper the slide stood on price.as_of than the tables say.",
        low=-20,
        high=20,
    )
    slide_week_share: float = entry(
        unit="share", meaning="Share of slide_now_pct that is left a week later.", low=0, high=1
    )
    head_pct: float = entry(unit="percent", meaning="Price added when the head double.", low=-20, high=20)


class SellingTerms(TomlTable):
    """Typical costs of selling; a plan that leaves them out can be given them."""

    commission_pct: float | None = entry(
        None, unit="percent", meaning="Commission of the check.", low=0, high=15, smallest=0.1
    )
    commission_head: float | None = entry(
        None, unit="$/head", meaning="Commission by the head.", low=0, high=200
    )
    yardage_head: float | None = entry(
        None, unit="$/head", meaning="Yardage and feed at the market.", low=0, high=100
    )
    checkoff_head: float | None = entry(
        None, unit="$/head", meaning="Beef checkoff and the like.", low=0, high=10
    )
    freight_head: float | None = entry(None, unit="$/head", meaning="Freight by the head.", low=0, high=300)
    shrink_pct: float | None = entry(
        None, unit="percent", meaning="Weight lost on the way to the scale.", low=0, high=20, smallest=0.2
    )


class SourceTable(TomlTable):
    """Where the numbers came from."""

    first_sale: date = entry(meaning="First sale in the records.")
    last_sale: date = entry(meaning="Last sale in the records.")
    lots: int = entry(unit="lots", meaning="Lots used.", low=0)
    head: int = entry(unit="head", meaning="Head in them; 0 where it wasn't reported.", low=0)
    sales: int = entry(unit="sales", meaning="Sales.", low=0)
    months: int = entry(0, unit="months", meaning="Months with a sale.", low=0)
    batches_sha256: str = entry("", meaning="SHA-256 over the batches of the book that were used.")
    method: str = entry("", meaning="Version of the method, and the model that was chosen.")
    made: date = entry(meaning="Day on which the file was made.")
    verdict: str = entry(meaning="Whether the records are enough, and what to add.")
    notes: tuple[str, ...] = entry(meaning="What the fit said of its records; told with every answer.")


class Pool(TomlTable):
    """The pool that the slide leans on."""

    name: str = entry(meaning="Name of the pool.")
    markets: int = entry(unit="markets", meaning="Markets in it.", low=1)
    between_pct: dict[str, float] = entry(
        unit="points per cwt", meaning="By sex: how far the slides of markets differ, one standard deviation."
    )


class Region(PublicResult, TomlTable):
    """A region's defaults: everything that a comparison needs to know of the market."""

    format: Literal["slidefit region"] = entry(FORMAT, meaning="Says what the file is.")
    version: Literal[1] = entry(VERSION, meaning="Version of the file's form.")
    name: str = entry(meaning="Name of the region.")
    markets: tuple[str, ...] = entry(meaning="Places of sale that it stands for.")
    currency: str = entry("USD", meaning="Currency of every price.")
    remarks: tuple[str, ...] = entry((), meaning="What a reader should know; kept when the file is updated.")
    price: Price = entry(meaning="Price of the standard calf.")
    standard: Standard = entry(meaning="The standard calf.")
    season: SeasonTable = entry(meaning="The season.")
    slide_season: SlideSeason = entry(meaning="The season of the slide.")
    steer: SexTable | None = entry(None, meaning="Steers.")
    heifer: SexTable | None = entry(None, meaning="Heifers.")
    bull: SexTable | None = entry(None, meaning="Bulls.")
    grades: dict[str, GradeTable] = entry(meaning="Each grade against the standard one.")
    forecast: Forecast = entry(meaning="How far prices may wander.")
    noise: Noise = entry(meaning="How lots stray.")
    basis: Basis | None = entry(None, meaning="Cash less futures by month.")
    selling: SellingTerms = entry(SellingTerms(), meaning="Typical costs of selling.")
    source: SourceTable = entry(meaning="Where the numbers came from.")
    pool: Pool | None = entry(None, meaning="The pool that the slide leans on.")

    def sexes(self) -> Mapping[Sex, SexTable]:
        """Return the table of each sex in the file."""
        named: tuple[tuple[Sex, SexTable | None], ...] = (
            ("steer", self.steer),
            ("heifer", self.heifer),
            ("bull", self.bull),
        )
        return {sex: table for sex, table in named if table is not None}


def step_key(from_lb: float, to_lb: float) -> str:
    """Return the key of a step of weight.

    >>> step_key(500.0, 550.0)
    '500-550'
    """
    return f"{from_lb:g}-{to_lb:g}"


def step_ends(key: str) -> tuple[float, float]:
    """Return where a step of weight begins and ends [lb].

    Raises
    ------
    ValueError. The key is not of the form 500-550.

    Examples
    --------
    >>> step_ends("500-550")
    (500.0, 550.0)
    """
    low, dash, high = key.partition("-")
    ends = float(low), float(high)
    if not dash or not all(math.isfinite(end) for end in ends):
        raise ValueError(key)
    return ends


def spread_at(price: Price, forecast: Forecast, months: float) -> float:
    """Return one standard error of the price some months ahead, season apart [percent].

    scale_h sqrt(se^2 + walk^2 h + drift^2 h^2), the scale being that of the middle of the month
    """
    parts = price.se_pct, forecast.walk_pct_month * math.sqrt(months), forecast.drift_pct_month * months
    middles = [place + 0.5 for place in range(len(forecast.scale))]
    return math.hypot(*parts) * (float(np.interp(months, middles, forecast.scale)) if middles else 1.0)


PRICE_STALE_DAYS = 60
SLIDE_STALE_DAYS = 365


def age_days(region: Region, today: date) -> int:
    """Return the days since the last sale behind the file; zero when that lies ahead."""
    return max((today - region.source.last_sale).days, 0)


def is_stale(region: Region, today: date) -> bool:
    """Return whether a crop year has gone by since the last sale: slide and season then want an update."""
    return age_days(region, today) > SLIDE_STALE_DAYS


def age_notes(region: Region, today: date) -> tuple[str, ...]:
    """Return what to say of the file's age: its price after 60 days, the whole file after a year.

    Notes
    -----
    A year is one more crop of calves; in an outlook the price's own spread grows with every day since ``as_of``.
    """
    days = age_days(region, today)
    last = region.source.last_sale
    if days > SLIDE_STALE_DAYS:
        return (
            f"the region file {region.name} is old: its last sale was on {last}, {days:,} days before {today}; "
            f"update it before you rely on it",
        )
    if days > PRICE_STALE_DAYS:
        return (
            f"the region file {region.name} has prices of {last}, {days} days old: a bid in the plan is better",
        )
    return ()
