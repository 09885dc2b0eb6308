"""What to look at when records come from several barns: names that look like one, barns that never meet."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from slidefit.market.lots import month_number

IntArray = NDArray[np.int64]

NAMED = 3
_PLACE_AFTER = re.compile(r"\s+[-–]\s+[^-–]+,\s*[A-Za-z]{2}\.?$")
_COMMON = re.compile(
    r"\b(?:the|inc|llc|ltd|co|company|corp|livestock|stockyards?|saleyards?|auction|market|marketing|exchange|"
    r"commission|sale|sales|barn|yards?|cattle)\b"
)


def bare_name(market: str) -> str:
    """Return a market's name without its place, its kind of business, capitals and punctuation.

    >>> bare_name("Alder Ford Livestock Auction - Alder Ford, NM"), bare_name("ALDER FORD LIVESTOCK, INC.")
    ('alder ford', 'alder ford')
    """
    words = re.sub(r"[^\w\s]", " ", _PLACE_AFTER.sub("", market).lower())
    return " ".join(_COMMON.sub(" ", words).split())


def barn_notes(markets: Sequence[str], sale_market: IntArray, sale_day: IntArray) -> tuple[str, ...]:
    """Return what the reader must know of the barns, in words.

    Parameters
    ----------
    markets : sequence of str
    sale_market, sale_day : arrays, shape (s,)
        Market (index into ``markets``) and day (since 1970-01-01) of each sale.
    """
    alike: dict[str, list[str]] = defaultdict(list)
    for market in markets:
        alike[bare_name(market)].append(market)
    notes = [
        f"{' and '.join(repr(name) for name in names)} look like one place under several names; they were taken as "
        "separate barns. To join them, take the batch out (undo) and add its files again with one name "
        "(a column of places: --map 'HEADING=unused' --market NAME)"
        for name, names in alike.items()
        if name and len(names) > 1
    ]
    apart = _groups(len(markets), sale_market, sale_day)
    if len(apart) > 1:
        shown = "; ".join(_listed([markets[place] for place in group]) for group in apart)
        notes.append(
            "barns that never sold in the same month can't be compared, so they were taken to stand at one level: "
            f"{shown}"
        )
    return tuple(notes)


def _groups(markets: int, sale_market: IntArray, sale_day: IntArray) -> list[list[int]]:
    """Return the markets that are linked by months in which both sold."""
    month = month_number(sale_day)
    _, place = np.unique(month, return_inverse=True)
    size = markets + int(place.max()) + 1
    links = coo_array((np.ones(len(place)), (sale_market, markets + place)), shape=(size, size))
    _, group = connected_components(links, directed=False)
    found: dict[int, list[int]] = defaultdict(list)
    for market in sorted(set(sale_market.tolist())):
        found[int(group[market])].append(market)
    return list(found.values())


def _listed(names: Sequence[str]) -> str:
    """Return some names, and how many more there are."""
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(name or "a market without a name" for name in names[:NAMED]) + more
