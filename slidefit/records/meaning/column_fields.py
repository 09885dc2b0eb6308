"""Which column carries which field: headings first, then what the cells hold, then which of two is surer.

Where both the titles and a column tell days, a column of later days tells deliveries.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from slidefit.records.columns import BoolArray, TextColumn
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import (
    AnimalClass,
    classify,
    classify_cell,
    is_summary,
    leftover_words,
    parse_grade,
    sex_of,
    traits_of,
)
from slidefit.records.words.dates import is_full_date, parse_date
from slidefit.records.words.fields import (
    IGNORED_FIELDS,
    MANY_FIELDS,
    PRICE_FIELDS,
    WEIGHT_FIELDS,
    normal,
)
from slidefit.records.words.headings import ColumnHeading, Evidence
from slidefit.records.words.numerals import is_missing, parse_number
from slidefit.records.words.periods import SEASON_BEGINS, season_year
from slidefit.records.words.units import (
    DRESSED,
    HEAVIEST_LB,
    LIGHTEST_LB,
    MONEY,
    PER_HEAD,
    PRICE_FACTORS,
    money_code,
    not_sold,
    parse_price,
    parse_weight,
    parse_weight_class,
    row_price_unit,
)
from slidefit.records.words.vocabulary import words_of

MOST = 0.5
SURE = 0.8
LONGEST_CODE = 3  # signs
_UNSURE = 90
_ROUNDED_LB = 0.51  # a mean is told in whole pounds
_LONGEST_CLASS = 40
_LONGEST_STATUS = 20
FILL_SHARE = 0.2
_FEWEST_FILLED_ROWS = 3
SAMPLE = 1_000
_LEAP_YEAR = 2000
_MOST_GUESSED = 100_000
_NO = frozenset(["no", "n", "false", "f", "0"])
_YES_OR_NO = _NO | {"yes", "y", "true", "t", "1", "sold"}
_OTHER_DATES = words_of("heading_parts", "other_dates")
_SELLERS = words_of("heading_parts", "sellers")
COUNTED = re.compile(r"\b(?:animals?|cattle|calves|livestock|stock)\b")
_BID = re.compile(r"\bbid\b", re.IGNORECASE)
_OF_THE_SALE = {
    "date": (words_of("heading_parts", "dates_of_sale"), _OTHER_DATES),
    "": (words_of("heading_parts", "measures_of_sale"), words_of("heading_parts", "other_measures")),
}
_TOWNS = words_of("heading_parts", "towns")
_ENDS = ("low", "high")


@dataclass(frozen=True)
class Assignment:
    """Field -> places of its columns, the columns to be filled down, and how each column was read."""

    places: dict[str, tuple[int, ...]]
    filled: frozenset[int]
    how: tuple[tuple[str, str], ...]

    def first(self, name: str) -> int | None:
        """Return the place of a field's column, or None."""
        found = self.places.get(name)
        return found[0] if found else None


def filled(column: TextColumn) -> list[str]:
    """Return the texts of a column, each once, but for those that say that the cell holds nothing."""
    return [text for text in column.distinct() if not is_missing(text)]


def texts_at(table: Table, assignment: Assignment, name: str) -> list[str]:
    """Return the filled texts of a field's column, each once; none without it."""
    place = assignment.first(name)
    return filled(table.columns[place]) if place is not None else []


def _guessed(heading: str, column: TextColumn) -> tuple[str, str]:
    """Return the field of a column with an unknown heading, by its cells alone: dates, sexes, grades, money."""
    column = TextColumn.of(text for text in column.values if not is_summary(text))
    dated = share(column, is_full_date)
    if dated > SURE and not _OTHER_DATES.search(normal(heading)):
        return "date", "its cells are dates"
    named = share(column, lambda text: len(text) < _LONGEST_CLASS and classify(text) != AnimalClass())
    if named > SURE and any(map(sex_of, column.values)):
        return "sex", Evidence.CLASSES
    codes = set(map(classify_cell, filled(column)[:SAMPLE]))
    if len({code.sex for code in codes}) > 1 and AnimalClass() not in codes:
        return "sex", Evidence.CLASSES
    if share(column, is_class) > SURE:
        return "weight_range", "its cells are weight classes"
    if share(column, lambda text: all((parse_grade(text).frame, parse_grade(text).muscle))) > SURE:
        return "grade", "its cells are grades"
    if share(column, lambda text: money_code(text) in MONEY) > SURE:
        return "currency", "its cells name the money"
    if heading and _all_sold_or_not(column):
        return "sold", "its cells say whether the lot was sold"
    units = [(name, test) for name, test in _BY_UNIT if share(column, test) > SURE]
    return (units[0][0], "its cells name their unit") if units and occasion(heading, "") >= 0 else ("", "")


_COUNT = words_of("cells", "count")
_BY_UNIT: tuple[tuple[str, Callable[[str], bool]], ...] = (
    ("head", lambda text: bool(_COUNT.search(text.strip()))),
    ("price", lambda text: parse_price(text).unit in PRICE_FACTORS),
    ("weight", lambda text: bool(parse_weight(text).unit)),
)


def _all_sold_or_not(column: TextColumn) -> bool:
    """Tell whether all cells of a column say that a lot was sold or not; of two codes the one may be unknown."""
    texts = {text.strip().lower().replace("_", " ") for text in column.values if not is_missing(text)}
    short = max(map(len, texts), default=0) <= _LONGEST_STATUS
    unsold = {text for text in texts if not_sold(text)}
    told = {text for text in texts if "sold" in text} | unsold
    return bool(texts) and short and (texts == told or (bool(unsold) and len(texts) == 2))


def says_unsold(text: str) -> bool:
    """Tell whether a cell of a column of lots sold says that this one was not.

    >>> [says_unsold(text) for text in ("0", "No", "PO", "Not sold", "1", "Sold", "")]
    [True, True, True, True, False, False, False]
    """
    return text.strip().lower() in _NO or not_sold(text.replace("_", " "))


def share(column: TextColumn, test: Callable[[str], bool]) -> float:
    """Return the share of the first filled cells that pass a test."""
    texts = [text for text in column.values[:SAMPLE] if not is_missing(text)]
    return float(np.mean([test(text) for text in texts])) if texts else 0.0


def is_class(text: str) -> bool:
    """Tell whether a text is a class of weight from one to another."""
    found = parse_weight_class(text)
    return found is not None and found.low != found.high and not re.search(r"[a-z]{4,}", text.lower())


def _settled(heading: ColumnHeading, column: TextColumn) -> tuple[str, str]:
    """Return the field of a column after a look at its cells, and the reason when that changed it."""
    name, low = heading.field, heading.text.lower()

    def most(test: Callable[[str], object], least: float = MOST) -> bool:
        return share(column, lambda text: bool(test(text))) > least

    if heading.how is Evidence.SAID:
        return name, ""
    if most(lambda text: _COUNT.search(text.strip()), SURE) or (
        name == "category" and COUNTED.search(low) and most(str.isdecimal, SURE)
    ):
        return "head", "its cells are counts"
    if name == "private" and most(
        lambda text: classify(text) != AnimalClass() and not leftover_words(text), SURE
    ):
        return "category", Evidence.CLASSES
    classed = name in ("sex", "category", "frame", "grade", "weight")
    if classed and most(is_class) and not most(sex_of, 0.0):
        return "weight_range", "its cells are weight classes"
    timed = name in ("week", "market", "region") and most(lambda text: parse_date(text, year=_LEAP_YEAR))
    if timed or (name == "price" and most(is_full_date, SURE)):
        return "date", "its cells are dates"
    if name == "price_unit" and most(parse_number):
        return "unused", "called a unit, but its cells are numbers"
    if name == "price_unit" and not most(row_price_unit, 0.0):
        if most(lambda text: text.lower().strip(" .") in ("lb", "lbs", "kg")):
            return "weight_unit", "its cells are units of weight"
        return "unused", "its cells are no units"
    sold = name == "date" and "sold" in low
    if (name in ("region", "category") and _all_sold_or_not(column)) or (
        sold and most(lambda text: text.strip().lower() in _YES_OR_NO or not_sold(text), SURE)
    ):
        return "sold", "its cells say whether the lot was sold"
    if sold and most(lambda text: "$" in text, SURE):
        return "price", "its cells are money"
    if name == "date" and most(lambda text: re.fullmatch(r"\d{1,2}(?:\.0)?", text.strip())):
        return "day", "its cells are days of the month"
    if name == "month" and most(parse_date):
        return "date", "its cells hold a month and a year"
    if name == "year" and most(lambda text: season_year(text, SEASON_BEGINS)):
        return "year", "its cells are seasons, from July to June: January of 2018-19 is of 2019"
    if name == "year" and most(parse_date):
        return "date", "its cells are dates"
    if name == "remarks" and low in ("quality", "condition", "class") and most(parse_number):
        return "unused", "its cells are scores"
    numeric = name in ("head", "weight", "price", "lot_weight") and not all(map(is_missing, column.values))
    if numeric and not most(lambda text: re.search(r"\d", text), 0.0):
        return "unused", "its cells hold no numbers"
    return name, ""


def occasion(heading: str, name: str) -> int:
    """Return 1 where a heading names the sale, -1 where it names another occasion, else 0.

    >>> [occasion(text, "weight") for text in ("Pay wt", "Wt", "Gross wt")], occasion("Born", "date")
    ([1, 0, -1], -1)
    """
    of_sale, other = _OF_THE_SALE.get(name, _OF_THE_SALE[""])
    plain = normal(heading)
    return -1 if other.search(plain) else int(bool(of_sale.search(plain)))


def assign(table: Table) -> Assignment:
    """Return which columns carry which field.

    Of two columns for one field the surer heading wins; an average beats a range; ``Average`` is the price when
    nothing else is; a state stands in for the place of sale.
    """
    found: dict[str, list[tuple[int, int]]] = {}
    how: list[tuple[str, str]] = []

    def stand_in(other: str, name: str, why: str = "") -> None:
        found[name] = found.pop(other)
        how[found[name][0][1]] = (name, why or f"no better column for {name}")

    sellers = any(h.field == "private" and _SELLERS.search(h.text) for h in table.headings)
    for place, heading in enumerate(table.headings):
        name, why = _settled(heading, table.columns[place]) if heading.field else ("", "")
        town = name in ("market", "region") and _TOWNS.search(heading.text)
        if town and (sellers or (name == "market" and table.said.get("market"))):
            name, why = "unused", "beside the place of sale it tells where sellers live"
        how.append((name, why or heading.how.value))
        if name and name not in IGNORED_FIELDS:
            found.setdefault(name, []).append((heading.rank, place))
    for place, heading in enumerate(table.headings):
        if not heading.known and not how[place][0] and len(table.columns[place].values) <= _MOST_GUESSED:
            guess, why = _guessed(heading.text, table.columns[place])
            rivals = {"grade": {"frame", "muscle"}, "price": PRICE_FIELDS | {"average"}}.get(guess, set())
            rivals |= WEIGHT_FIELDS if guess in WEIGHT_FIELDS else set()
            if guess and guess not in found and not rivals & found.keys():
                found[guess] = [(_UNSURE, place)]
                how[place] = (guess, why)
    if "price" in found and "average" in found and not (WEIGHT_FIELDS - {"weight_range"}) & found.keys():
        bounds = TextColumn.constant(f"{LIGHTEST_LB}-{HEAVIEST_LB}", len(table.rows))
        bounds = table.columns[found["weight_range"][0][1]] if "weight_range" in found else bounds
        if _share_inside(table.columns[found["average"][0][1]], bounds) > SURE:
            stand_in("average", "weight", "an average beside a price, and no better column for weight")
    if {"price_range", "weight", "price"} <= found.keys() and "weight_range" not in found:
        pounds, price, bounds = (table.columns[found[n][0][1]] for n in ("weight", "price", "price_range"))
        if _share_inside(pounds, bounds) > SURE and _share_inside(price, bounds) < MOST:
            stand_in("price_range", "weight_range", "the weights lie inside it, and the prices don't")
    mean = _mean_of_lots(table, found, how)
    if mean is not None:
        found["lot_weight"] = found.get("lot_weight", []) + found.get("weight", [])
        found["weight"], how[mean] = [(_UNSURE, mean)], ("weight", "the weight of the lot over its head")
    highest = "price_high" in found and not {"average", *PRICE_FIELDS - {"price_high"}} & found.keys()
    if highest and _BID.search(normal(table.headings[found["price_high"][0][1]].text)):
        stand_in("price_high", "price")  # the high bid is what the lot brought
    placed = bool(table.said.get("market")) or any(map(_may_name_places, table.headings, table.columns))
    states = table.columns[found["region"][0][1]].distinct() if "region" in found else ()
    if placed or all(len(text.strip()) <= LONGEST_CODE for text in states):
        found.pop("region", None)  # a code is no place of sale, which a title or another column may tell
    for other, name in (("average", "price"), ("region", "market")):
        if name not in found and other in found:
            stand_in(other, name)
    places: dict[str, tuple[int, ...]] = {}
    for name, candidates in found.items():
        several = len(candidates) > 1
        candidates.sort(
            key=lambda item, several=several: (  # type: ignore[misc]
                np.sum(table.columns[item[1]].bools(is_missing)) >= 0.999 * len(table.rows),
                name == "head" and several and _counts_no_lot(table.columns[item[1]]),
                table.headings[item[1]].unit in (DRESSED, PER_HEAD),
                name == "price" and not table.headings[item[1]].unit,
                -occasion(table.headings[item[1]].text, name),
                item[0],
                not table.headings[item[1]].unit,
            )
        )
        keep = candidates if name in MANY_FIELDS or name == "trait" else candidates[:1]
        places[name] = tuple(place for _, place in keep)
        for _, place in candidates[len(keep) :]:
            how[place] = ("unused", f"another column is surer for {name}")
    if len(found.get("sex", ())) > 1:  # another column of classes may tell what is no feeder calf
        others = [place for _, place in found["sex"][1:]]
        places["category"] = (*places.get("category", ()), *others)
        for place in others:
            how[place] = ("category", "another column is surer for sex")
    names = {"market", "sex" if "sex" in places else "category", "date", "year", "month", "day"}
    once = _written_once(table, [place for name in sorted(names) for place in places.get(name, ())])
    return Assignment(places, once, tuple(how))


def _mean_of_lots(
    table: Table, found: Mapping[str, list[tuple[int, int]]], how: list[tuple[str, str]]
) -> int | None:
    """Return the column that is not understood and holds the weight of each lot over its head, or None."""
    lots = found.get("weight", found.get("lot_weight", []))
    if not lots or "head" not in found:
        return None
    head, *pounds = (
        table.columns[at].floats(lambda text: parse_weight(text).low) for _, at in (found["head"][0], *lots)
    )
    for place, heading in enumerate(table.headings):
        if not how[place][0] and heading.unexplained:
            mean = table.columns[place].floats(lambda text: parse_weight(text).low)
            if any(np.mean(np.abs(lot - head * mean) <= _ROUNDED_LB * head) > SURE for lot in pounds):
                return place
    return None


def _share_inside(column: TextColumn, bounds: TextColumn) -> float:
    """Return the share of numbers that lie inside the range of their row."""
    numbers = column.floats(lambda text: parse_weight(text).low)
    low, high = (bounds.floats(lambda text, end=end: getattr(parse_weight(text), end)) for end in _ENDS)  # type: ignore[misc]
    inside = ((low <= numbers) & (numbers <= high))[np.isfinite(numbers)]
    return float(inside.mean()) if len(inside) else 0.0


def _counts_no_lot(column: TextColumn) -> bool:
    """Tell whether a column holds one number for many rows, as the head of a sale, or numbers the rows."""
    steps = np.diff(column.floats(lambda text: ((found := parse_number(text)) and found.value) or np.nan))
    return len(steps) >= _FEWEST_FILLED_ROWS and max(np.mean(steps == 0), np.mean(steps == 1)) > SURE


def _may_name_places(heading: ColumnHeading, column: TextColumn) -> bool:
    """Tell whether a column that is not understood holds names: capitals, no digits, no classes or traits."""
    names = filled(column)[:SAMPLE] if heading.unexplained else []
    return bool(names) and all(
        text[:1].isupper()
        and len(text) > LONGEST_CODE
        and not re.search(r"\d", text)
        and not traits_of(text)
        and classify(text) == AnimalClass()
        for text in names
    )


def _written_once(table: Table, candidates: list[int]) -> frozenset[int]:
    """Return the columns that are written once for several rows below.

    Such a column begins filled, is blank in many rows, and no text stands twice running in it (else a blank is a
    missing cell), but where another column begins a block of rows. So is one with blanks only where such a one has.
    """
    blanks, begun = dict[int, BoolArray](), dict[int, BoolArray]()
    for place in candidates:
        codes = table.columns[place].codes
        blank = table.columns[place].bools(lambda text: not text.strip())
        if len(blank) < _FEWEST_FILLED_ROWS or blank[0]:
            continue
        last = np.maximum.accumulate(np.where(blank, 0, np.arange(len(blank))))
        begun[place] = ~blank & np.r_[True, codes[1:] != codes[last[:-1]]]
        if blank.any() and table.headings[place].how is not Evidence.TEXT:  # those were settled line by line
            blanks[place] = blank
    sure = []
    for place, blank in blanks.items():
        blocks = [new for other, new in begun.items() if other != place and not (new & blank).any()]
        anew = np.logical_or.reduce([begun[place], *blocks])
        if blank.mean() >= FILL_SHARE and not (~blank & ~anew).any():
            sure.append(place)
    return frozenset(
        place for place, blank in blanks.items() if any(not (blank & ~blanks[base]).any() for base in sure)
    )
