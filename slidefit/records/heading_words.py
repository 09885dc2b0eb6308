"""What a heading means when it is in no list: read word by word, and only where every word is understood."""

from __future__ import annotations

import re
from functools import lru_cache

from slidefit.records.fields import normal
from slidefit.records.units import price_unit_of

BY_WORDS_RANK = 60
"""Less sure than any heading of the lists."""

_KINDS: dict[str, str] = {
    "weight": "wt wts wgt wgts wght weight weights liveweight bodyweight lwt lw lb lbs pound pounds kg kgs kilo "
    "kilos kilograms peso poids",
    "price": "price prices prc pricing bid bids precio precios prix cents dollars dollar usd cad aud",
    "head": "head heads hd hds count number no num qty cnt cabezas",
    "date": "date dates fecha",
    "low": "low lo min minimum lowest from lightest lower bottom least",
    "high": "high hi max maximum highest to heaviest upper top most",
    "mean": "avg average averages ave av mean median wtd weighted typical promedio medio moyen",
    "total": "total tot lot lots gross combined overall draft pen",
    "range": "range ranges class bracket band category span spread interval",
    "noise": "live est estimated approx approximate approximately sale sales sold actual off truck at in of the by "
    "each net pay shrunk body calf calves animal animals cattle final reported report recorded lot's per and "
    "stock feeder feeders auction individual vivo de del en por this",
}
_KIND_OF: dict[str, str] = {word: kind for kind, words in _KINDS.items() for word in words.split()}
_PER_HEAD = r"\s*(?:/|\bper\b|\ba\b|\beach\b)\s*(?:head|hd|calf|animal|cabeza)\b\.?"
_WEIGHT_PER_HEAD = re.compile(
    rf"\b(?P<unit>lbs?|pounds?|kgs?|kilos?|weight|wt|wgt|liveweight)\b\.?\)?{_PER_HEAD}", re.IGNORECASE
)
_ANY_PER_HEAD = re.compile(_PER_HEAD, re.IGNORECASE)
_PRICE_UNIT = re.compile(
    r"(?:\b(?:usd?|cad|aud|c|ct|cts|cents?|dollars?)|[$¢€£])?\s*(?:/|\bper\b|\bpor\b)\s*"
    r"(?:cwt|hundred\s?weight|100\s?(?:lbs?|kgs?)?|lbs?|pounds?|kgs?|kilos?)\b\.?",
    re.IGNORECASE,
)
_LIVE = re.compile(r"\b(?:live\s?weight|live\s?wt|lwt|lw)\b", re.IGNORECASE)


def per_head_weight(text: str) -> bool:
    """Tell whether a heading names a weight for each head, such as ``kg/head``: no price.

    >>> per_head_weight("Avg liveweight (kg/head)"), per_head_weight("$/head")
    (True, False)
    """
    return bool(_WEIGHT_PER_HEAD.search(text))


@lru_cache(maxsize=4096)
def field_by_words(text: str) -> str:
    """Return the field that the words of a heading make together; blank when one word is not understood.

    >>> field_by_words("Avg live weight (kg)"), field_by_words("Lowest price, c/kg lwt")
    ('weight', 'price_low')
    >>> field_by_words("Total Wt of Lot"), field_by_words("Change in price")
    ('lot_weight', '')
    """
    weighed = per_head_weight(text)
    bare = _WEIGHT_PER_HEAD.sub(lambda found: f" {found['unit']} ", text)
    priced = bool(price_unit_of(bare)) or bool(re.search(r"[$¢€£]", bare))
    by_head = bool(_ANY_PER_HEAD.search(bare))
    if priced:
        bare = _LIVE.sub(" ", _PRICE_UNIT.sub(" ", bare))
    words = re.sub(r"[$#%¢€£]", " ", normal(_ANY_PER_HEAD.sub(" ", bare))).split()
    kinds = {_KIND_OF.get(word, "") for word in words} - {"noise"}
    if "" in kinds:
        return ""
    if priced:
        kinds |= {"price"}
    return _field(kinds, by_head=by_head and not weighed)


def _field(kinds: set[str], *, by_head: bool) -> str:
    """Return the field of a set of kinds of words; blank where two readings are left."""
    core = kinds & {"weight", "price", "date"}
    if len(core) > 1 or ("low" in kinds and "high" in kinds and "range" not in kinds):
        return ""
    if core == {"weight"}:
        if by_head:
            return ""
        return _edge(kinds, "weight") or (
            "lot_weight" if "total" in kinds and "mean" not in kinds else "weight"
        )
    if core == {"price"}:
        if "total" in kinds and "mean" not in kinds:
            return ""
        return _edge(kinds, "price") or ("price_head" if by_head or "head" in kinds else "price")
    if core == {"date"}:
        return "date" if kinds == {"date"} else ""
    return "head" if "head" in kinds and kinds <= {"head", "total"} and not by_head else ""


def _edge(kinds: set[str], name: str) -> str:
    """Return the field of an edge or a range, if the words name one."""
    for kind in ("range", "low", "high"):
        if kind in kinds:
            return f"{name}_{kind}"
    return ""
