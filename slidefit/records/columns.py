"""The tidy record's columns and flags, why a row is rejected, TextColumn (texts held once each)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class RecordColumn:
    """One column of the tidy record: its name, kind (date, text, number, whole), unit and meaning."""

    name: str
    kind: str
    unit: str
    meaning: str


RECORD_COLUMNS: tuple[RecordColumn, ...] = (
    RecordColumn(
        "sale_date", "date", "day", "day of the sale; month-only sources hold the first of the month"
    ),
    RecordColumn("date_precision", "text", "", "day, week or month: how closely the source dates the sale"),
    RecordColumn("market", "text", "", "place of sale; blank when the file and the user name none"),
    RecordColumn("sex", "text", "", "steer, heifer, bull or mixed"),
    RecordColumn("frame", "text", "", "frame size L, ML, M, MS or S (USDA feeder grades); blank unknown"),
    RecordColumn("muscle", "text", "", "muscle 1, 1-2, 2, 2-3, 3, 3-4 or 4; blank unknown"),
    RecordColumn("head", "number", "head", "calves in the lot or reported class; missing unknown"),
    RecordColumn("weight_lb", "number", "lb", "mean weight per head"),
    RecordColumn("weight_low_lb", "number", "lb", "lightest, or lower edge of the class; missing unknown"),
    RecordColumn("weight_high_lb", "number", "lb", "heaviest, or upper edge of the class; missing unknown"),
    RecordColumn("price_cwt", "number", "$/cwt", "mean price per hundredweight of live weight"),
    RecordColumn("price_low_cwt", "number", "$/cwt", "lowest price; missing unknown"),
    RecordColumn("price_high_cwt", "number", "$/cwt", "highest price; missing unknown"),
    RecordColumn("traits", "text", "", "what the reporter said of the calves, sorted words joined by ;"),
    RecordColumn("currency", "text", "", "three-letter code of the money, USD unless said"),
    RecordColumn("flags", "text", "", "what was assumed, sorted words joined by ;"),
    RecordColumn("batch", "text", "", "the addition to the sale book that the record came with"),
    RecordColumn("source_row", "whole", "", "row or line in the file that it was read from"),
)

COLUMN_NAMES: tuple[str, ...] = tuple(column.name for column in RECORD_COLUMNS)
TEXT_COLUMNS: tuple[str, ...] = tuple(column.name for column in RECORD_COLUMNS if column.kind == "text")
NUMBER_COLUMNS: tuple[str, ...] = tuple(column.name for column in RECORD_COLUMNS if column.kind == "number")

FLAGS: dict[str, str] = {
    "weight_mid": "no mean weight was given: the middle of the weight class stands in",
    "price_mid": "no mean price was given: the middle of the price range stands in",
    "converted": "weight or price was converted from another unit",
    "preliminary": "the source called the price preliminary",
    "corrected": "the source told the lot again with this price",
    "price_far": "the price is far from its own sale and weight, but not impossible",
}


FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class TextColumn:
    """Text of n rows: ``values[codes[i]]`` is the text of row i.

    Examples
    --------
    >>> column = TextColumn.of(["12", "", "12"])
    >>> len(column.values), column.floats(lambda text: float(text or 0)).tolist()
    (2, [12.0, 0.0, 12.0])
    """

    codes: NDArray[np.int32]
    values: Sequence[str]

    @classmethod
    def of(cls, texts: Iterable[str]) -> TextColumn:
        """Return the coded form of a sequence of texts."""
        import pandas as pd

        cells = np.array(list(texts), dtype=object)
        if not len(cells):
            return cls(np.zeros(0, dtype=np.int32), ())
        codes, values = pd.factorize(cells)
        return cls(codes.astype(np.int32), tuple(values))

    @classmethod
    def held(cls, column: pd.Series) -> TextColumn:
        """Return the texts of a column of a table."""
        import pandas as pd

        texts = column.array if isinstance(column.dtype, pd.CategoricalDtype) else pd.Categorical(column)
        return cls(texts.codes.astype(np.int32), tuple(texts.categories.tolist()))

    @classmethod
    def constant(cls, text: str, length: int) -> TextColumn:
        """Return a column of one text throughout."""
        return cls(np.zeros(length, dtype=np.int32), (text,))

    @classmethod
    def joined(cls, parts: Sequence[TextColumn]) -> TextColumn:
        """Return several columns one below the other."""
        if len(parts) == 1:
            return parts[0]
        starts = np.cumsum([0, *(len(part.values) for part in parts[:-1])])
        codes = np.concatenate([part.codes + start for part, start in zip(parts, starts, strict=True)])
        return cls(codes.astype(np.int32), tuple(value for part in parts for value in part.values))

    def __len__(self) -> int:
        return len(self.codes)

    def floats(self, parse: Callable[[str], float]) -> FloatArray:
        """Return a number for each row; ``parse`` sees each distinct text once."""
        if not self.values:
            return np.full(len(self), np.nan)
        return np.array([parse(value) for value in self.values], dtype=float)[self.codes]

    def bools(self, test: Callable[[str], bool]) -> BoolArray:
        """Return a truth value for each row; ``test`` sees each distinct text once."""
        if not self.values:
            return np.zeros(len(self), dtype=bool)
        found = np.array([test(value) for value in self.values], dtype=bool)
        return found[self.codes] if found.any() else np.zeros(len(self), dtype=bool)

    def mapped(self, change: Callable[[str], str]) -> TextColumn:
        """Return the column with each distinct text replaced."""
        changed = [change(value) for value in self.values]
        places: dict[str, int] = {}
        codes = np.array([places.setdefault(text, len(places)) for text in changed], dtype=np.int32)
        if len(places) == 1:
            return TextColumn.constant(changed[0], len(self))
        return TextColumn(codes[self.codes] if len(codes) else self.codes, tuple(places))

    def take(self, rows: IntArray | BoolArray) -> TextColumn:
        """Return some of the rows."""
        return TextColumn(self.codes[rows], self.values)

    def filled_down(self, blank: BoolArray) -> TextColumn:
        """Return the column with blank rows holding the last text above them."""
        places = np.where(blank, -1, np.arange(len(self)))
        last = np.maximum.accumulate(places) if len(self) else places
        return TextColumn(np.where(last >= 0, self.codes[np.maximum(last, 0)], self.codes), self.values)

    def chosen(self, other: TextColumn, where: BoolArray) -> TextColumn:
        """Return this column where ``where`` holds, the other elsewhere."""
        if not where.any():
            return other
        shifted = other.codes + len(self.values)
        return TextColumn(
            np.where(where, self.codes, shifted).astype(np.int32), (*self.values, *other.values)
        )

    def texts(self) -> NDArray[np.object_]:
        """Return the text of every row."""
        if not self.values:
            return np.full(len(self), "", dtype=object)
        low, high = (int(self.codes.min()), int(self.codes.max()) + 1) if len(self) else (0, 0)
        if 2 * len(self) < high - low:
            return np.array([self.values[code] for code in self.codes.tolist()], dtype=object)
        return np.array(self.values[low:high], dtype=object)[self.codes - low]

    def category(self) -> pd.Categorical:
        """Return the text of every row as a pandas categorical."""
        import pandas as pd

        plain = self if len(self.values) <= len(self) else TextColumn.of(self.texts().tolist())
        if len(set(plain.values)) < len(plain.values):
            plain = plain.mapped(str)
        return pd.Categorical.from_codes(plain.codes, categories=pd.Index(list(plain.values), dtype="str"))

    def distinct(self) -> tuple[str, ...]:
        """Return the texts that some row really holds, in the order of their codes."""
        return self._distinct

    @cached_property
    def _distinct(self) -> tuple[str, ...]:
        return tuple(self.values[code] for code in np.flatnonzero(np.bincount(self.codes)).tolist())


def numbered(codes: Sequence[NDArray[np.integer[Any]]], sizes: Sequence[int]) -> tuple[IntArray, IntArray]:
    """Return a number for each row that tells apart rows whose codes differ, and the first row of each number.

    Parameters
    ----------
    codes : arrays of int, each of shape (n,)
        From 0 to less than the size of their own.
    """
    import pandas as pd

    keys, room = np.zeros(len(codes[0]), dtype=np.int64), 1
    for code, size in zip(codes, sizes, strict=True):
        if size < 2:
            continue
        if room > _ROOM // size:
            keys, found = pd.factorize(keys)
            room = len(found)
        keys *= size
        keys += code
        room *= size
    if room <= _DENSE * len(keys):  # a table of all possible keys is faster than one of those that come
        first = np.full(room, -1, dtype=np.int64)
        first[keys[::-1]] = np.arange(len(keys))[::-1]
        there = first >= 0
        return (np.cumsum(there) - 1)[keys], first[there]
    groups, found = pd.factorize(keys)
    examples = np.zeros(len(found), dtype=np.int64)
    examples[groups[::-1]] = np.arange(len(groups))[::-1]
    return groups, examples


_ROOM, _DENSE = 1 << 62, 4


def combined(columns: Sequence[TextColumn]) -> tuple[IntArray, IntArray]:
    """Return a number for each row that tells rows of equal texts, and one example row of each number.

    >>> groups, examples = combined([TextColumn.of("aab"), TextColumn.of("xxx")])
    >>> groups.tolist(), examples.tolist()
    ([0, 0, 1], [0, 2])
    """
    return numbered([column.codes for column in columns], [len(column.values) for column in columns])


def middles(groups: IntArray, values: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the median of the values of each group, and how many there are.

    >>> middles(np.array([0, 1, 0, 0]), np.array([5.0, 2.0, 1.0, 9.0]))[0].tolist()
    [5.0, 2.0]
    """
    if not len(values):
        return np.zeros(0), np.zeros(0, dtype=np.int64)
    counts, lowest, band = np.bincount(groups), values.min(), np.ptp(values) + 1.0
    # one sort by group and value: each group's values lie in a band of their own
    ordered, starts = np.sort(groups * band + (values - lowest)), np.cumsum(counts) - counts
    low, high = ordered[starts + (counts - 1) // 2], ordered[starts + counts // 2]
    return 0.5 * (low + high) - np.arange(len(counts)) * band + lowest, counts


REASONS: dict[str, str] = {
    "hidden_row": "the row is hidden in the sheet or page, by a filter or by hand, or struck through",
    "shifted_row": "more cells than headings, as where a comma stands inside a cell without quotation marks",
    "too_long": "a cell is longer than 1,000 characters",
    "summary_row": "an average or a total, not a sale",
    "not_feeder": "no feeder calf: slaughter, bred or breeding stock, pairs, baby calves or another species",
    "dairy": "dairy or dairy-cross cattle, whose prices follow another slide",
    "missing_date": "no date of sale, or one that can't be read",
    "implausible_date": "the date of sale lies in the future",
    "missing_price": "no price, one that can't be read, or a bid at which the calves were not sold",
    "per_head_price": "the price is by the head; it is never read as a price per hundredweight",
    "carcass_price": "the price is by carcass weight",
    "price_inconsistent": "the mean price lies outside its own range, or the range is too wide for one class",
    "open_ended_weight": "the weight class has only one edge, or takes in all calves, and no mean weight is given",
    "implausible_head": "more head than any sale sells in one lot or class",
    "missing_weight": "no weight, or one that can't be read",
    "weight_inconsistent": "mean weight, range and lot weight over head disagree",
    "implausible_weight": "no feeder calf weighs this",
    "missing_sex": "nothing says whether these are steers, heifers, bulls or mixed calves",
    "unit_doubtful": "no unit is given, and the number fits another unit better than its neighbors'",
    "implausible_price": "the price is more than twice, or (good grades) less than a third of, what its sale pays "
    "for weight and sex",
    "sale_level": "the whole sale is more than twice, or less than half, as high as the sales around it",
    "superseded": "a preliminary or uncorrected row whose final one is here",
    "duplicate": "the same report again",
}
REASON_CODES: dict[str, int] = {name: place for place, name in enumerate(REASONS, start=1)}
REASON_NAMES: tuple[str, ...] = ("", *REASONS)
