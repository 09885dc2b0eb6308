"""What a heading means when it is in no list: read word by word, and only where every word is understood."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from slidefit.records.fields import normal
from slidefit.records.units import price_unit_of

BY_WORDS_RANK = 60
"""Less sure than any heading of the lists."""

_KINDS: dict[str, str] = {
    "weight": "wt wts wgt wgts wght weight weights liveweight bodyweight lwt lw lb lbs pound pounds kg kgs kilo "
    "kilos kilograms peso poids",
    "price": "price prices prc px pr pricing bid bids precio precios prix cents cts dollars dollar usd cad aud",
    "head": "head heads hd hds count numbers number no num qty cnt cabezas",
    "animals": "calves animals cattle",
    "date": "date dates dt dte fecha",
    "day": "day",
    "week": "week wk",
    "end": "ending ended end beginning begin starting start",
    "month": "month mo mon mm mes",
    "year": "year yr yyyy año ano",
    "place": "market mkt mkts barn salebarn yard yards saleyard saleyards stockyard stockyards location venue",
    "label": "name",
    "sex": "sex sx gender cl cls",
    "steer": "steer steers str strs",
    "heifer": "heifer heifers hfr hfrs hf",
    "sort": "type kind code class",
    "frame": "frame frm",
    "muscle": "muscle musc muscling",
    "grade": "grade grd gr grades usda",
    "score": "score size sz thickness",
    "remarks": "remarks remark notes note comments comment",
    "low": "low lo min minimum lowest from lightest lower bottom least",
    "high": "high hi max maximum highest to heaviest upper top most",
    "mean": "avg average averages ave av mean median wtd weighted typical promedio medio moyen",
    "total": "total tot gross combined overall",
    "lot": "lot lots draft pen",
    "range": "range ranges rng class bracket band category span spread interval",
    "sold": "sold",
    "noise": "live est estimated approx approximate approximately sale sales selling actual off truck at in of the "
    "by each net pay shrunk body calf animal final reported report recorded per and or stock feeder feeders "
    "auction individual scale vivo de del en por this",
}
_KINDS_OF: dict[str, set[str]] = {}
for _kind, _words in _KINDS.items():
    for _word in _words.split():
        _KINDS_OF.setdefault(_word, set()).add(_kind)

# field: every kind that a heading must have, and those that it may have beside them
_COMBINATIONS: tuple[tuple[str, str, str], ...] = (
    ("date", "date", "sold week day end"),
    ("date", "day", "sold"),
    ("date", "week end", "date"),
    ("date", "year month", "date"),
    ("week", "week", "head"),
    ("market", "place", "label"),
    ("sex", "sex", "sort"),
    ("sex", "steer heifer", "sort sex"),
    ("grade", "frame muscle", "grade score"),
    ("grade", "grade", "frame muscle"),
    ("frame", "frame", "score"),
    ("muscle", "muscle", "score"),
    ("remarks", "remarks", ""),
    ("head", "head", "total lot sold animals"),
    ("head", "animals sold", "total"),
)
_PER_HEAD = r"\s*(?:/|\bper\b|\ba\b|\beach\b)\s*(?:head|hd|calf|animal|cabeza)\b\.?"
_WEIGHT_PER_HEAD = re.compile(
    rf"\b(?P<unit>lbs?|pounds?|kgs?|kilos?|weight|wt|wgt|liveweight)\b\.?\)?{_PER_HEAD}", re.IGNORECASE
)
_ANY_PER_HEAD = re.compile(_PER_HEAD, re.IGNORECASE)
_PRICE_UNIT = re.compile(
    r"(?:\b(?:usd?|cad|aud|c|ct|cts|cents?|dollars?)|[$¢€£])?\s*(?:/|\bper\b|\bpor\b)\s*"
    r"(?:cwt|hundred\s?weight|(?:100|hundred)\s?(?:lbs?|kgs?)?|lbs?|pounds?|kgs?|kilos?)\b\.?",
    re.IGNORECASE,
)
_OF_PRICE = re.compile(r"\b(?:live\s?weight|live\s?wt|lwt|lw|cwt|hundred\s?weight)\b", re.IGNORECASE)


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
        bare = _OF_PRICE.sub(" ", _PRICE_UNIT.sub(" ", bare))
    words = re.sub(r"[$#%¢€£]", " ", normal(_ANY_PER_HEAD.sub(" ", bare))).split()
    each = [_KINDS_OF.get(word, set()) for word in words]
    if not all(each):
        return ""
    kinds = set().union(*each, {"price"} if priced else set()) - {"noise"}
    return _measure(kinds, by_head=by_head and not weighed) or ("" if by_head or priced else _other(each))


def _measure(kinds: set[str], *, by_head: bool) -> str:
    """Return the field of weight or price that a set of kinds of words makes; blank where two readings are left."""
    core = kinds & {"weight", "price"}
    allowed = {
        "weight",
        "price",
        "low",
        "high",
        "mean",
        "total",
        "lot",
        "range",
        "sort",
        "sold",
        "animals",
        "head",
    }
    if len(core) != 1 or kinds - allowed or ("low" in kinds and "high" in kinds and "range" not in kinds):
        return ""
    name = core.pop()
    edge = next((f"{name}_{kind}" for kind in ("range", "low", "high") if kind in kinds), "")
    if name == "weight":
        whole = "lot_weight" if kinds & {"total", "lot"} and "mean" not in kinds else "weight"
        return "" if by_head else edge or whole
    if "total" in kinds and "mean" not in kinds:
        return "" if by_head else "amount"
    return edge or ("price_head" if by_head or "head" in kinds else "price")


def _other(words: Sequence[set[str]]) -> str:
    """Return the field of the first combination that the words make; blank for none."""
    kinds = set().union(*words)
    for field, must, may in _COMBINATIONS:
        needed, allowed = set(must.split()), {"noise", *must.split(), *may.split()}
        if needed <= kinds and all(word & allowed for word in words):
            return field
    return ""
