"""Where the chunks of a fit are worked on: here, one after the other, or wherever another engine sends them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol, TypeVar

from slidefit.market.lots import Lots, LotSource, Span

Told = TypeVar("Told", contravariant=True)
Found = TypeVar("Found")
Work = Callable[[Lots, Told], Found]


class Engine(Protocol):
    """Maps a piece of work over the chunks of a source."""

    def run(
        self, work: Callable[[Lots, Told], Found], source: LotSource, told: Callable[[Span], Told]
    ) -> Iterator[Found]:
        """Yield what ``work`` makes of each chunk, in order of the chunks.

        Parameters
        ----------
        work : function of a chunk's lots and of what it is told
            A function of a module, so that it can be sent.
        told : function of a span
            What the work on that chunk needs to know.
        """
        ...


class HereEngine:
    """Works on the chunks in this process, one at a time."""

    def run(
        self, work: Callable[[Lots, Told], Found], source: LotSource, told: Callable[[Span], Told]
    ) -> Iterator[Found]:
        """Yield what ``work`` makes of each chunk, in order of the chunks."""
        for span, lots in source.pieces():
            yield work(lots, told(span))
