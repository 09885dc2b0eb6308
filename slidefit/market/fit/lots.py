"""Lots, in memory or on disk, a few whole sales at a time."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, fields
from functools import cached_property, reduce
from operator import add
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.market.fit.counts import LotCounts, tally_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SEXES = ("steer", "heifer", "bull")
_CROP_YEAR_FIRST_MONTH = 7
"""A crop year runs from July: between the last calves of one spring and the first weaned of the next."""
CHUNK_ROWS = 25_000
"""Lots of a chunk: its design of sixty columns takes 12 MB."""


@dataclass(frozen=True)
class Span:
    """Some whole sales, one after the other: their numbers and the rows that they are, ends left out."""

    first_sale: int
    end_sale: int
    first_row: int
    end_row: int

    @property
    def sales(self) -> slice:
        """The sales, as a slice of arrays that have a place for each sale."""
        return slice(self.first_sale, self.end_sale)

    @property
    def rows(self) -> slice:
        """The rows, as a slice of arrays that have a place for each lot."""
        return slice(self.first_row, self.end_row)


@dataclass(frozen=True)
class LotSource(ABC):
    """The sales of a set of lots, what its codes stand for, and a way to read the lots chunk by chunk.

    Attributes
    ----------
    sale_market, sale_day : arrays, shape (s,)
        Market index and day (days since 1970-01-01) of each sale; sales ascend by day.
    grades : tuple of str
    trait_names : tuple of str
    trait_table : array of bool, shape (texts, len(trait_names)). Which traits each spelling of them names.
    markets : tuple of str
    currency : str
    """

    sale_market: IntArray
    sale_day: IntArray
    grades: tuple[str, ...]
    trait_names: tuple[str, ...]
    trait_table: NDArray[np.bool_]
    markets: tuple[str, ...]
    currency: str

    @property
    @abstractmethod
    def sale_rows(self) -> IntArray:
        """Lots in each sale, shape (s,)."""

    @abstractmethod
    def read(self, span: Span) -> Lots:
        """Return the lots of a span, its sales numbered from 0."""

    def __len__(self) -> int:
        return int(self.sale_rows.sum())

    def of_sales(self, sales: slice | IntArray = slice(None)) -> dict[str, Any]:
        """Return the fields of a source of some of the sales."""
        kept = {f.name: getattr(self, f.name) for f in fields(LotSource)}
        return kept | {name: kept[name][sales] for name in ("sale_market", "sale_day")}

    @property
    def sales(self) -> int:
        """Number of sales."""
        return len(self.sale_day)

    def spans(self, rows: int | None = None) -> list[Span]:
        """Return the chunks: whole sales, up to ``rows`` lots (25,000), or one sale that has more."""
        most = rows or CHUNK_ROWS
        ends = np.cumsum(self.sale_rows)
        found: list[Span] = []
        sale = row = 0
        while sale < self.sales:
            end = max(int(np.searchsorted(ends, row + most, side="right")), sale + 1)
            found.append(Span(sale, end, row, int(ends[end - 1])))
            sale, row = end, int(ends[end - 1])
        return found

    def pieces(self, rows: int | None = None) -> Iterator[tuple[Span, Lots]]:
        """Yield the chunks one after the other."""
        for span in self.spans(rows):
            yield span, self.read(span)

    @cached_property
    def tally(self) -> LotCounts:
        """The counts that knots, gates and supports are read from."""
        sizes = (len(SEXES), len(self.grades), len(self.trait_table))
        return reduce(
            add,
            (
                tally_of(p.weight_lb, p.head, p.sex, p.grade, p.trait, p.sale, sizes=sizes)
                for _, p in self.pieces()
            ),
        )


@dataclass(frozen=True)
class Lots(LotSource):
    """Lots in memory, arrays of shape (n,); sales ascend.

    Attributes
    ----------
    log_price : array [ln $/cwt]
    weight_lb : array [lb]
    head : array. NaN where the source gave none.
    sex : array of int. Index into `SEXES`.
    grade : array of int. Index into ``grades``.
    trait : array of int. Index into ``trait_table``.
    sale : array of int. Sale of the row: market and day (market and month where that is all there is).
    """

    log_price: FloatArray
    weight_lb: FloatArray
    head: FloatArray
    sex: IntArray
    grade: IntArray
    trait: IntArray
    sale: IntArray

    def __len__(self) -> int:
        return len(self.log_price)

    @cached_property
    def sale_rows(self) -> IntArray:
        """Lots in each sale, shape (s,)."""
        return np.bincount(self.sale, minlength=self.sales)

    def read(self, span: Span) -> Lots:
        """Return the lots of a span, its sales numbered from 0."""
        return self._with_rows(span.rows, span.sales, self.sale[span.rows] - span.first_sale)

    def take(self, rows: NDArray[np.bool_]) -> Lots:
        """Return the marked rows; sales left without a row keep their number."""
        return self._with_rows(rows, slice(None), self.sale[rows])

    def until(self, day: int) -> Lots:
        """Return what was known on a day (days since 1970-01-01): the sales up to it and nothing of later ones."""
        sales = int(np.searchsorted(self.sale_day, day, side="right"))
        rows = slice(0, int(np.searchsorted(self.sale, sales)))
        return self._with_rows(rows, slice(0, sales), self.sale[rows])

    def _with_rows(self, rows: NDArray[np.bool_] | slice, sales: slice, sale: IntArray) -> Lots:
        columns: dict[str, Any] = {name: getattr(self, name)[rows] for name in _PER_ROW}
        return Lots(**self.of_sales(sales), **columns, sale=sale)


_PER_ROW = ("log_price", "weight_lb", "head", "sex", "grade", "trait")


@dataclass(frozen=True)
class SampledSales:
    """Some sales of a source, whole.

    Attributes
    ----------
    lots : Lots. Sales numbered anew, from 0.
    sale : array of int, shape (s,). Number of each sale in the source.
    row : array of int, shape (n,). Number of each row in the source.
    """

    lots: Lots
    sale: IntArray
    row: IntArray


def draw_sales(source: LotSource, most_rows: int, seed: int) -> SampledSales:
    """Return all lots where they are few enough, or else whole sales at random, always the same ones, up to about that.

    Each sale has the same chance, ``most_rows`` / lots.
    """
    if len(source) <= most_rows:
        keep = np.ones(source.sales, dtype=bool)
    else:
        keep = np.random.default_rng(seed).random(source.sales) < most_rows / len(source)
    rows: list[IntArray] = []
    parts: list[Lots] = []
    for span, piece in source.pieces():
        mine = keep[span.sales][piece.sale]
        if mine.any():
            parts.append(piece.take(mine))
            rows.append(span.first_row + np.flatnonzero(mine))
    row = np.concatenate(rows)
    sale = np.flatnonzero(keep)
    number = np.cumsum(keep) - 1
    columns: dict[str, Any] = {name: np.concatenate([getattr(p, name) for p in parts]) for name in _PER_ROW}
    lots = Lots(**source.of_sales(sale), **columns, sale=np.repeat(number[sale], source.sale_rows[sale]))
    return SampledSales(lots, sale, row)


def month_number(days: IntArray) -> IntArray:
    """Return the months since 1970-01 of days since 1970-01-01.

    >>> month_number(np.array(["1970-01-31", "1971-02-01"], dtype="datetime64[D]").astype(int)).tolist()
    [0, 13]
    """
    return np.asarray(days).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)


def crop_year(days: IntArray) -> IntArray:
    """Return the crop year (July to June, named by its first calendar year) of days since 1970.

    Examples
    --------
    >>> crop_year(np.array(["2026-06-30", "2026-07-01"], dtype="datetime64[D]").astype(int))
    array([2025, 2026])
    """
    return (month_number(days) - (_CROP_YEAR_FIRST_MONTH - 1)) // 12 + 1970


def day_of_year(days: IntArray) -> FloatArray:
    """Return days since the 1st of January of the same year."""
    stamp = np.asarray(days).astype("datetime64[D]")
    return np.asarray((stamp - stamp.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.float64))


def month_of_year(days: IntArray) -> IntArray:
    """Return the calendar month, 1 to 12."""
    return month_number(days) % 12 + 1


TOLD_ROWS = 1_000_000
_KINDS: dict[str, np.dtype[Any]] = {
    "log_price": np.dtype("<f8"),
    "weight_lb": np.dtype("<f8"),
    "head": np.dtype("<f8"),
    "sex": np.dtype("<i1"),
    "grade": np.dtype("<i2"),
    "trait": np.dtype("<i4"),
}


@dataclass(frozen=True)
class SpooledLots(LotSource):
    """Lots in a folder; what is read of them is a span of whole sales.

    Attributes
    ----------
    folder : Path. A file for each column; the sale of a row follows from ``counts``.
    counts : array of int, shape (s,). Lots in each sale.
    start : int. Row of the files that the first lot is.
    """

    folder: Path
    counts: IntArray
    start: int = 0

    @property
    def sale_rows(self) -> IntArray:
        """Lots in each sale, shape (s,)."""
        return self.counts

    def read(self, span: Span) -> Lots:
        """Return the lots of a span, its sales numbered from 0."""
        counts = self.counts[span.sales]
        columns: dict[str, Any] = {name: self._column(name, span) for name in _PER_ROW}
        return Lots(**self.of_sales(span.sales), **columns, sale=np.repeat(np.arange(len(counts)), counts))

    def part(self, span: Span) -> SpooledLots:
        """Return the lots of a span as a source of its own, left where they lie."""
        start = self.start + span.first_row
        return SpooledLots(
            **self.of_sales(span.sales), folder=self.folder, counts=self.counts[span.sales], start=start
        )

    def _column(self, name: str, span: Span) -> NDArray[Any]:
        kind, first = _KINDS[name], self.start + span.first_row
        values = np.fromfile(
            self.folder / name, kind, span.end_row - span.first_row, offset=first * kind.itemsize
        )
        return values.astype(np.int64) if kind.kind == "i" else values


def spool_lots(
    folder: Path,
    batches: Iterable[Any],
    counts: IntArray,
    names: dict[str, Any],
    progress: Callable[[str], None] | None = None,
) -> SpooledLots:
    """Write coded rows to files and return the lots that they are.

    Parameters
    ----------
    folder : Path. Exists; nothing of these names is in it.
    batches : iterable of Arrow record batches
        Columns ``price_cwt``, ``weight_lb``, ``head``, ``sex``, ``grade`` and ``trait``, in order of sale.
    counts : array of int, shape (s,). Lots in each sale.
    names : dict. The fields of `LotSource`.
    progress : callable, optional. Told how many lots are written, every million.

    Raises
    ------
    FitError. The disk is full or can't be written.
    """
    done, rows = 0, int(counts.sum())
    try:
        with ExitStack() as open_files:
            files = {name: open_files.enter_context((folder / name).open("wb")) for name in _KINDS}
            for batch in batches:
                for name, kind in _KINDS.items():
                    source = "price_cwt" if name == "log_price" else name
                    values = batch.column(source).to_numpy(zero_copy_only=False)
                    (np.log(values) if name == "log_price" else values).astype(kind).tofile(files[name])
                if progress is not None and (done + len(batch)) // TOLD_ROWS > done // TOLD_ROWS:
                    progress(f"laying out lots: {done + len(batch):,} of {rows:,}")
                done += len(batch)
    except OSError as fault:
        raise FitError(
            f"the lots can't be laid out for the fit ({fault.strerror or fault})",
            where=str(folder),
            remedy="It takes 31 bytes a lot there: free some room, or set TMPDIR to a folder with more.",
        ) from fault
    return SpooledLots(**names, folder=folder, counts=counts)
