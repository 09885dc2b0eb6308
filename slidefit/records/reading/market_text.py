"""Market reports and pasted lists as text: one reader of their header lines, their column lines and their clauses.

The lines above the sales tell market, sale day, class, grade and unit; a line of column names (Head, Wt Range, ...)
makes rows of numbers out of the lines below it; everything else is read clause by clause. Every clause with a number
of the shape of a weight or price ends as a row, as no sale, or as not understood.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from slidefit.errors import RecordsError
from slidefit.records.columns import TextColumn
from slidefit.records.quoted_lots import Lot, has_animal, told_in_sentences
from slidefit.records.reading.clauses import Clause, clauses
from slidefit.records.reading.tables import Table
from slidefit.records.reading.text_layout import in_reading_order, lots_in, unfolded
from slidefit.records.words.animals import NOT_FEEDER, classify, find_grade, sex_of
from slidefit.records.words.dates import DAY_TEXT, parse_date
from slidefit.records.words.dialects import PublishedFormat, text_dialect
from slidefit.records.words.fields import normal
from slidefit.records.words.headings import ColumnHeading, Evidence
from slidefit.records.words.numerals import pointed
from slidefit.records.words.report_days import (
    date_in,
    day_sold,
    first_day,
    is_whole,
    names_other_day,
    sale_day,
    with_years,
    year_about,
)
from slidefit.records.words.titles import (
    holds_day_alone,
    market_in,
    name_beside_day,
    names_sale,
    place_in,
    read_titles,
)
from slidefit.records.words.units import currency_of, names_province, price_unit_of
from slidefit.records.words.vocabulary import words_of

_SECTION = words_of("reports", "section")
_OTHER_ANIMALS = words_of("reports", "other_animals")
_SENTENCE = words_of("reports", "sentence")
_NUMBER = r"(?:\$?[\d,]+(?:\.\d+)?|N/A|-)"
_RANGE = r"(?:\$?[\d,]+(?:\.\d+)?(?: ?- ?\$?[\d,]+(?:\.\d+)?)?|N/A(?: ?- ?N/A)?|-)"
_RULE = re.compile(r"^\s*[-=_*]{3,}\s*$")
_VERBS = words_of("reports", "verbs")
_CORRECTED, _ERRATUM = words_of("reports", "corrected"), words_of("reports", "erratum")
_AGE = words_of("reports", "age")
_SHAPE = words_of("reports", "shape")
_OTHER_DAY = words_of("reports", "other_day")
LONGEST_HEADING, _LONGEST_CLASS_LINE = 110, 70
FEWEST_LOTS, _FEWEST_IN_ROW = 2, 3
_SHORTEST_LEAD = 20  # signs before the lots of a line, in which a place may be named
_UNITS = ("price_unit", "currency", "weight_unit")  # told of all rows
_WEIGHTS = re.compile(r"\d\s?(?:lbs?\b|#|kg\b)", re.IGNORECASE)


_OF_ALL = ("date", "market", "status", "category", "sex", "grade", "price_unit")  # what _State tells of a row


@dataclass(frozen=True)
class _State:
    """What the lines so far say of the next row."""

    market: str = ""
    date: str = ""
    status: str = ""
    category: str = ""
    sex: str = ""
    grade: str = ""
    price_unit: str = ""
    columns: tuple[str, ...] = ()
    of_lot: tuple[int, tuple[bool, ...]] | None = None  # line and shape of the lot that told ``sex``


@dataclass
class Residue:
    """What became of the clauses with a number of the shape of a weight or price, beside the rows."""

    not_sales: int = 0
    not_understood: list[tuple[int, str]] = field(default_factory=list)

    @property
    def lost(self) -> int:
        """Return how many lots the clauses that were not understood may hold: as many as they tell weights."""
        return sum(max(1, len(_WEIGHTS.findall(text))) for _, text in self.not_understood)


@dataclass
class _Reading:
    """Rows found so far, field by field, the header lines, and what was no row."""

    cells: list[dict[str, str]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    other: list[str] = field(default_factory=list)
    leads: list[str] = field(default_factory=list)  # what stands before the lots of a line
    told: list[tuple[str, tuple[bool, ...]]] = field(default_factory=list)  # each lot's clause and shape
    residue: Residue = field(default_factory=Residue)
    named: dict[int, tuple[str, str]] = field(default_factory=dict)  # rows above a name and a day -> these

    def signed(self) -> None:
        """Give rows the place and day of the line below them where the first and the last of such lines stand so."""
        places = any(place for place, _ in self.named.values())
        ends = sorted(rows for rows, (place, _) in self.named.items() if place or not places)
        told = self.cells and self.cells[0]["market" if places else "date"]
        if not self.cells or told or ends[:1] == [0] or ends[-1:] != [len(self.cells)]:
            return
        for start, end in itertools.pairwise([0, *ends]):
            for row in self.cells[start:end]:
                row["market"], row["date"] = self.named[end][0], self.named[end][1] or row["date"]

    def miss(self, number: int, text: str) -> None:
        """Keep a clause that was not understood, once."""
        if self.residue.not_understood[-1:] != [(number, text)]:
            self.residue.not_understood.append((number, text))

    def put(self, state: _State, number: int, cells: dict[str, str]) -> None:
        """Keep a row with what the lines above say of it."""
        self.cells.append({name: getattr(state, name) for name in _OF_ALL} | cells)
        self.numbers.append(number)


def market_text(text: str, name: str) -> tuple[Table | None, int, Residue]:
    """Return the rows of a report or list in a text, the count of other lines, and what was not understood."""
    reading, state, text = _Reading(), _State(), pointed(text)
    written, dialect, year = "", text_dialect(text), year_about(text.split("\n"))
    whole_lines = unfolded(text, dialect)
    lines, own = (enumerate(whole_lines.split("\n"), 1), ()) if dialect else in_reading_order(whole_lines)
    for number, line in lines:
        if not line.strip() or _RULE.match(line):
            continue
        if dialect and dialect.line and (found := dialect.line.search(line)):
            names = map(normal, dialect.names.findall(found.group()))
            before = line[: found.start()].strip()
            state = replace(
                _header(before, state, written, year) if before else state,
                columns=tuple(dialect.fields[name][0] for name in names),
            )
        elif state.columns and (cells := _row(line, state.columns)) is not None:
            reading.put(state, number, cells)
        elif dialect:
            reading.other.append(line.strip())
            after = _header(line, state, written, year)
            if _SHAPE.search(line):
                strange = bool(state.columns) and after == state and _like_a_row(line)
                reading.residue.not_understood += [(number, line.strip())] if strange else []
                reading.residue.not_sales += not strange
            state = after
            whole = parse_date(line)
            written = whole.day.isoformat() if whole is not None and whole.precision == "day" else written
        else:
            if line.lstrip().startswith(">"):  # quoted from another letter, beside sales of this one
                if line.strip("> ") in own or not lots_in(line):
                    reading.residue.not_sales += bool(_SHAPE.search(line))
                else:
                    reading.miss(number, line.strip())
                continue
            state, written = _of_prose(with_years(line, year), number, (state, written, year), reading)
    reading.signed()
    for number, line in reading.residue.not_understood:
        if reading.cells and _ERRATUM.search(line):
            raise RecordsError(
                f"line {number} tells of a correction, and not of which lot: {line!r}",
                where=name,
                remedy="Write the right price into its lot, and take the line out.",
            )
    for at in told_in_sentences(reading.told):
        reading.miss(reading.numbers.pop(at), reading.told[at][0])
        del reading.cells[at]
    if not reading.cells:
        return None, len(reading.other), reading.residue
    return _table(reading, state, name, dialect), len(reading.other), reading.residue


def _of_prose(
    line: str, number: int, so_far: tuple[_State, str, str], reading: _Reading
) -> tuple[_State, str]:
    """Return the state and the day written after a line of prose; its lots become rows."""
    state, written, year = so_far
    parts = list(clauses(line))
    before = line[: next((each.at for each in parts if each.kind == "lot"), None)]
    reading.leads += [before] if before != line else []
    days_whole = DAY_TEXT.sub(lambda day: day.group().replace(".", ","), before)
    first = before[: len(re.split(r":\s|(?<!Co)\.\s", days_whole)[0])]
    titles = (before, first, re.split(r"\s{3,}", before.strip())[0])
    place = (market_in(first) if _tells_day(first) else "") or next(
        filter(None, map(name_beside_day, titles)), ""
    )
    if place and (state.date or not reading.cells):  # a name and a day: another sale
        state = _State(market=_of_house(place, state, reading))
        written = "" if _tells_day(before) else written
    elif holds_day_alone(line) and state.date:
        state, written = replace(state, date=""), ""
    day, written = sale_day(line, state.date, written, year)
    state = replace(state, date=day or (place and first_day(line, written or year)))
    own = first_day(line, written or year)
    if place and state.market == place:
        reading.named[len(reading.cells)] = (place, state.date)
    elif own and before == line:
        reading.named[len(reading.cells)] = (place, own)
    state = replace(state, status="corrected" if _CORRECTED.search(line) else "")
    return _clauses(line, before, parts, number, state, reading), written


def _of_house(place: str, state: _State, reading: _Reading) -> str:
    """Return the house told above the lots, before the name of its sale, or the place."""
    house = "" if reading.cells or names_sale(state.market) else state.market
    return house if house and names_sale(place) else place


def _tells_day(text: str) -> bool:
    """Tell whether a text holds a whole day, which is not that of another sale, a print or a comparison."""
    other = names_other_day(text) or _OTHER_DAY.search(text)
    return not other and any(map(is_whole, DAY_TEXT.finditer(text)))


def _table(reading: _Reading, state: _State, name: str, dialect: PublishedFormat | None) -> Table:
    for name_of_all in ("date", "market"):  # told below the lots, and for none of them alone
        if not any(row[name_of_all] for row in reading.cells):
            for row in reading.cells:
                row[name_of_all] = getattr(state, name_of_all)
    keys = dict.fromkeys(key for cells in reading.cells for key in cells)
    filled = [key for key in keys if any(cells.get(key) for cells in reading.cells)]
    said = {key: text for key, text in read_titles([], reading.other).items() if key in _UNITS}
    if place := "" if any(row["market"] for row in reading.cells) else place_in(reading.other, reading.other):
        said["market"] = place
    if any(map(names_province, reading.other)):
        said.setdefault("currency", "CAD")
    if money := next(filter(None, map(currency_of, reading.leads)), ""):
        said = {"currency": money, **said}
    if dialect:
        said = {"price_unit": dialect.price_unit, "weight_unit": dialect.weight_unit, **said}
    return Table(
        name,
        tuple(ColumnHeading(key, key, 0, how=Evidence.TEXT) for key in filled),
        tuple(TextColumn.of([cells.get(key, "") for cells in reading.cells]) for key in filled),
        np.array(reading.numbers, dtype=np.int64),
        said,
        tuple(reading.other),
    )


def _row(line: str, columns: tuple[str, ...]) -> dict[str, str] | None:
    """Return the cells of a line below a column line, the words behind the numbers as remarks; None for any other."""
    numeric = [name for name in columns if name and name != "unused"]
    parts = [f"(?P<{name}>{_RANGE if 'range' in name else _NUMBER})" for name in numeric]
    found = re.match(r"^\s*" + r"\s+".join(parts) + r"(?:\s*(?P<rest>[^\d\s].*|\d.*[A-Za-z].*))?\s*$", line)
    if found is None or not re.search(r"\d", found["head"] if "head" in numeric else found[1]):
        return None
    cells = {name: found[name] for name in numeric}
    cells["remarks"] = (found["rest"] or "").strip()
    return cells


def _like_a_row(line: str) -> bool:
    """Tell whether a line holds numbers side by side as the rows below a column line do, and no sentence.

    >>> _like_a_row("12 steers 500 at 350.00"), _like_a_row("Steers 5.00 to 10.00 lower"), _like_a_row("N/A 600 N/A")
    (True, False, False)
    """
    numbers = sum(bool(re.fullmatch(_RANGE, word)) for word in line.split())
    return numbers >= _FEWEST_IN_ROW and "N/A" not in line and not _SENTENCE.search(line)


def _header(line: str, state: _State, written: str, year: str) -> _State:
    """Return the state after a header line; a day without a year takes that of the last whole day ``written``."""
    bare = " ".join(line.split())
    if _SECTION.match(bare):
        return replace(state, category=bare, sex="", grade="", price_unit="")
    when = date_in([line]) or day_sold(line, written, year)
    if when and (
        re.search(r"report|sale|auction|week", line, re.IGNORECASE) or not state.date or state.columns
    ):
        final = "Final" if re.search(r"\bfinal\b", line, re.IGNORECASE) else ""
        status = "Preliminary" if "prelim" in line.lower() else final
        place = next(filter(None, map(market_in, re.split(r"\s{3,}", line))), "")
        fresh = _State(market=place or state.market, date=when, status=status)
        again = re.search(r"\breport\b", line, re.IGNORECASE) or not state.date or place
        return fresh if again else replace(state, date=when, status=status or state.status)
    if len(bare) > LONGEST_HEADING or _SENTENCE.search(bare) or bare.endswith("."):
        return state
    if market := market_in(line):
        return replace(state, market=market)
    if re.search(r"\d{3,}", bare) or (": " in bare and not has_animal(bare.partition(": ")[0])):
        return state
    if re.match(r"^\(?(?:prices? )?per [^)]*\)?$", bare, re.IGNORECASE) and price_unit_of(bare):
        return replace(state, price_unit=price_unit_of(bare))
    return _class_line(bare, state)


def _class_line(bare: str, state: _State) -> _State:
    """Return the state after a line that may name class, grade and unit."""
    grade, animal = find_grade(bare).text, classify(bare)
    if sex_of(bare) or _OTHER_ANIMALS.search(bare) or (animal.reason and not state.sex):
        return _of_class(bare, state)
    if animal.reason == NOT_FEEDER:
        return replace(state, sex=f"{state.sex} {bare}", grade=grade)
    if grade:
        return replace(state, grade=grade, price_unit=price_unit_of(bare) or state.price_unit)
    if parse_date(bare) is not None and len(bare) < 40:
        return replace(state, date=bare)
    return state


def _of_class(bare: str, state: _State) -> _State:
    """Return the state below a heading of a class; an age alone (Yearlings) keeps sex, grade and unit told above."""
    grade, unit = find_grade(bare).text, price_unit_of(bare)
    if _AGE.match(bare) and sex_of(state.sex) not in ("", "mixed"):
        about = f"{' '.join(word for word in state.sex.split() if not _AGE.match(word))} {bare}"
        return replace(state, sex=about, grade=grade or state.grade, price_unit=unit or state.price_unit)
    return replace(state, sex=bare, grade=grade, price_unit=unit, of_lot=None)


def _clauses(
    line: str, before: str, found: Sequence[Clause], number: int, state: _State, reading: _Reading
) -> _State:
    """Take the clauses of a line, and what stands before its lots; class, grade, place, unit hold until they change."""
    no_lot = before == line
    words = re.split(_VERBS, before)[0].removeprefix(" date ")
    market = market_in(words) if no_lot or len(before) > _SHORTEST_LEAD else ""
    if market and (no_lot or not state.market):
        state = replace(state, market=_of_house(market, state, reading), sex="", grade="")
    reading.other += [line.strip()] if no_lot else []
    for clause in found:
        state = _after(clause, number, state, reading)
    return state


def _after(clause: Clause, number: int, state: _State, reading: _Reading) -> _State:
    """Take one clause: a lot becomes a row, a heading changes what the next lots are."""
    if clause.kind == "class" and len(clause.text) <= _LONGEST_CLASS_LINE and not market_in(clause.text):
        return _of_class(clause.text, state)
    if clause.kind == "grade":
        return replace(state, grade=find_grade(clause.text).text)
    if clause.kind == "unit":
        return replace(state, price_unit=price_unit_of(clause.text))
    if clause.kind == "market":
        return replace(state, market=clause.text)
    lot = clause.lot
    named = re.split(r"\d", clause.text, maxsplit=1)[0]
    if clause.kind == "narrative" or (clause.kind == "unknown" and classify(f"{state.sex} {named}").reason):
        reading.residue.not_sales += 1
    elif clause.kind == "unknown":
        reading.miss(number, clause.text)
    elif lot is not None:
        state = _of_lot(clause, lot, number, state, reading)
    return state


def _of_lot(clause: Clause, lot: Lot, number: int, state: _State, reading: _Reading) -> _State:
    """Take a lot: its own class, else that told above, unless that was told of a lot of another shape."""
    before, inside = " ".join(lot.before), " ".join(lot.words)
    if clause.kind == "lot" and has_animal(before) and not (lot.head and has_animal(inside)):  # else a name
        state = replace(state, sex=before, grade="", of_lot=(number, lot.shape))
    own, remarks = lot.told()
    about = own or state.sex
    above = state.of_lot is None or state.of_lot[0] == number
    if own and above and (classify(state.sex).reason or sex_of(own) in ("", "mixed")):
        about = f"{state.sex} {own}"  # mixed colors, or an age, below a heading that names the sex
    if own and not state.sex:
        state = replace(state, sex=own, of_lot=(number, ()))  # for the next ones of its line
    if clause.kind == "partial" and not lot.weight and classify(f"{before} {about}").reason:
        reading.residue.not_sales += 1
    elif (
        clause.kind == "partial"
        or lot.names_others(about, state.sex if lot.behind else about)
        or not (own or has_animal(before) or _carries(state, lot, number))
    ):
        reading.miss(number, clause.text)
        if has_animal(before):  # of other calves than those above
            state = replace(state, sex="", of_lot=None)
    else:
        reading.told.append((clause.text, lot.shape))
        reading.put(state, number, lot.cells(about, remarks))
    return state


def _carries(state: _State, lot: Lot, number: int) -> bool:
    """Tell whether the class of a lot above may be that of a lot on another line: told as that one was."""
    return state.of_lot is None or state.of_lot[0] == number or state.of_lot[1] == lot.shape
