"""A column of text held once for each distinct value, so that a million rows are parsed a few thousand times."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Coded:
    """Text of n rows: ``values[codes[i]]`` is the text of row i.

    Examples
    --------
    >>> column = Coded.of(["12", "", "12"])
    >>> len(column.values), column.floats(lambda text: float(text or 0)).tolist()
    (2, [12.0, 0.0, 12.0])
    """

    codes: NDArray[np.int32]
    values: Sequence[str]

    @classmethod
    def of(cls, texts: Iterable[str]) -> Coded:
        """Return the coded form of a sequence of texts."""
        cells = np.array(list(texts), dtype=object)
        if not len(cells):
            return cls(np.zeros(0, dtype=np.int32), ())
        codes, values = pd.factorize(cells)
        return cls(codes.astype(np.int32), tuple(values))

    @classmethod
    def constant(cls, text: str, length: int) -> Coded:
        """Return a column of one text throughout."""
        return cls(np.zeros(length, dtype=np.int32), (text,))

    @classmethod
    def joined(cls, parts: Sequence[Coded]) -> Coded:
        """Return several columns one below the other."""
        if len(parts) == 1:
            return parts[0]
        codes = np.concatenate(
            [part.codes + start for part, start in zip(parts, _starts(parts), strict=True)]
        )
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

    def mapped(self, change: Callable[[str], str]) -> Coded:
        """Return the column with each distinct text replaced."""
        changed = [change(value) for value in self.values]
        places: dict[str, int] = {}
        codes = np.array([places.setdefault(text, len(places)) for text in changed], dtype=np.int32)
        return Coded(codes[self.codes] if len(codes) else self.codes, tuple(places))

    def take(self, rows: IntArray | BoolArray) -> Coded:
        """Return some of the rows."""
        return Coded(self.codes[rows], self.values)

    def filled_down(self, blank: BoolArray) -> Coded:
        """Return the column with blank rows holding the last text above them."""
        places = np.where(blank, -1, np.arange(len(self)))
        last = np.maximum.accumulate(places) if len(self) else places
        return Coded(np.where(last >= 0, self.codes[np.maximum(last, 0)], self.codes), self.values)

    def chosen(self, other: Coded, where: BoolArray) -> Coded:
        """Return this column where ``where`` holds, the other elsewhere."""
        shifted = other.codes + len(self.values)
        return Coded(np.where(where, self.codes, shifted).astype(np.int32), (*self.values, *other.values))

    def texts(self) -> NDArray[np.object_]:
        """Return the text of every row."""
        if not self.values:
            return np.full(len(self), "", dtype=object)
        if len(self.codes) < len(self.values):
            return np.array([self.values[code] for code in self.codes.tolist()], dtype=object)
        return np.array(self.values, dtype=object)[self.codes]

    def category(self) -> pd.Categorical:
        """Return the text of every row as a pandas categorical."""
        plain = self.mapped(str) if len(self.values) <= len(self) else Coded.of(self.texts().tolist())
        return pd.Categorical.from_codes(plain.codes, categories=pd.Index(list(plain.values), dtype="str"))

    def distinct(self) -> tuple[str, ...]:
        """Return the texts that some row really holds, in the order of their codes."""
        return tuple(self.values[code] for code in np.unique(self.codes))


def _starts(parts: Sequence[Coded]) -> list[int]:
    """Return the first code of each part in the joined column."""
    starts = [0]
    for part in parts[:-1]:
        starts.append(starts[-1] + len(part.values))
    return starts


def combined(columns: Sequence[Coded]) -> tuple[IntArray, IntArray]:
    """Return a number for each row that tells rows of equal texts, and one example row of each number.

    >>> groups, examples = combined([Coded.of("aab"), Coded.of("xxx")])
    >>> groups.tolist(), examples.tolist()
    ([0, 0, 1], [0, 2])
    """
    keys = columns[0].codes.astype(np.int64)
    for column in columns[1:]:
        keys = pd.factorize(keys * max(len(column.values), 1) + column.codes)[0]
    groups, distinct = pd.factorize(keys)
    examples = np.zeros(len(distinct), dtype=np.int64)
    examples[groups[::-1]] = np.arange(len(groups))[::-1]
    return groups, examples
