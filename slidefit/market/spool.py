"""Coded lots on disk: a file for each column, in order of sale, read a few whole sales at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.market.lots import Lots, LotSource, Span

IntArray = NDArray[np.int64]

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
    folder : Path
        A file for each column; the sale of a row follows from ``counts``.
    counts : array of int, shape (s,)
        Lots in each sale.
    start : int
        Row of the files that the first lot is.
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
        return Lots(
            sale_market=self.sale_market[span.sales],
            sale_day=self.sale_day[span.sales],
            grades=self.grades,
            trait_names=self.trait_names,
            trait_table=self.trait_table,
            markets=self.markets,
            currency=self.currency,
            log_price=self._column("log_price", span),
            weight_lb=self._column("weight_lb", span),
            head=self._column("head", span),
            sex=self._column("sex", span).astype(np.int64),
            grade=self._column("grade", span).astype(np.int64),
            trait=self._column("trait", span).astype(np.int64),
            sale=np.repeat(np.arange(len(counts)), counts),
        )

    def part(self, span: Span) -> SpooledLots:
        """Return the lots of a span as a source of its own, left where they lie."""
        return replace(
            self,
            sale_market=self.sale_market[span.sales],
            sale_day=self.sale_day[span.sales],
            counts=self.counts[span.sales],
            start=self.start + span.first_row,
        )

    def _column(self, name: str, span: Span) -> NDArray[Any]:
        kind = _KINDS[name]
        rows = span.end_row - span.first_row
        first = self.start + span.first_row
        return np.fromfile(self.folder / name, kind, rows, offset=first * kind.itemsize)


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
    folder : Path
        Exists; nothing of these names is in it.
    batches : iterable of Arrow record batches
        Columns ``price_cwt``, ``weight_lb``, ``head``, ``sex``, ``grade`` and ``trait``, in order of sale.
    counts : array of int, shape (s,)
        Lots in each sale.
    names : dict
        The fields of `LotSource`.
    progress : callable, optional
        Told how many lots are written, every million.

    Raises
    ------
    FitError
        The disk is full or can't be written.
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
