"""What a column of a sale file can mean, and the headings that say so: one table for readers and documents."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from slidefit.records.words.units import price_unit_of
from slidefit.records.words.vocabulary import VOCABULARY, apart, phrases_of, words_of


@dataclass(frozen=True)
class RecordField:
    """A meaning that a column can have.

    ``phrases`` are headings in small letters, units and punctuation left out, the surest first; ``many`` says
    that several columns may carry it.
    """

    name: str
    meaning: str
    phrases: tuple[str, ...]
    many: bool = False


def _phrases(name: str, headings: str) -> tuple[str, ...]:
    """Return the headings of a field, those of the published formats last."""
    published = (told["columns"].get(name, "") for told in VOCABULARY["dialects"].values())
    return tuple(dict.fromkeys(phrase for text in (headings, *published) for phrase in phrases_of(text)))


FIELDS: tuple[RecordField, ...] = tuple(
    RecordField(name, told["meaning"], _phrases(name, told["headings"]), told.get("many", False))
    for name, told in VOCABULARY["fields"].items()
)
FOREIGN_WORDS = frozenset(phrases_of(VOCABULARY["headings"]["foreign"]))
MAP_ALIASES: dict[str, str] = VOCABULARY["headings"]["also_accepted"]
FIELD_NAMES: tuple[str, ...] = tuple(field.name for field in FIELDS)
MANY_FIELDS = frozenset(field.name for field in FIELDS if field.many)
IGNORED_FIELDS = frozenset({"private", "unused"})
PRICE_ORDER = ("price", "price_range", "price_low", "price_high", "price_head")  # the surest first
PRICE_FIELDS = frozenset(PRICE_ORDER)
_WEIGHT_EDGES = ("class_low", "weight_low", "class_high", "weight_high")
WEIGHT_ORDER = ("weight", "lot_weight", "weight_range", *_WEIGHT_EDGES)
WEIGHT_FIELDS = frozenset(WEIGHT_ORDER)
MEASURE_FIELDS = PRICE_FIELDS | WEIGHT_FIELDS | {"head", "average"}
DATE_FIELDS = frozenset({"date", "year", "month", "week"})

PHRASES: dict[str, tuple[str, int]] = {}
_GLUED: dict[str, tuple[str, int]] = {}
for _field in FIELDS:
    for _rank, _phrase in enumerate(_field.phrases):
        _meaning = PHRASES.setdefault(_phrase, (_field.name, _rank))
        _GLUED.setdefault(_phrase.replace(" ", ""), _meaning)


def normal(text: str) -> str:
    """Return a heading in small letters, words apart, punctuation out.

    >>> normal("LotWgt"), normal("Avg. Wt."), normal("market_location_name"), normal("No. Hd.")
    ('lot wgt', 'avg wt', 'market location name', 'no hd')
    """
    text = re.sub(r"\b(?:[^\W\d_]\.){2,}", lambda initials: initials.group().replace(".", ""), text)
    return " ".join(re.sub(r"[^\w\s#$%]", " ", apart(text).replace("'", "")).lower().split())


def unaccented(text: str) -> str:
    """Return a text without accents.

    >>> unaccented("categoría"), unaccented("têtes")
    ('categoria', 'tetes')
    """
    if text.isascii():
        return text
    return "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))


def field_of(text: str) -> tuple[str, int] | None:
    """Return the field that a heading names and how sure it is (0 the surest), or None.

    >>> field_of("Avg Price")[0], field_of("Head Count")[0], field_of("mystery")
    ('price', 'head', None)
    """
    plain = unaccented(normal(text)).replace("#", "no ").strip()
    return PHRASES.get(" ".join(plain.split())) or _GLUED.get(plain.replace(" ", ""))


_KINDS_OF: dict[str, set[str]] = {}
for _kind, _words in VOCABULARY["heading_words"].items():
    for _word in _words.split():
        _KINDS_OF.setdefault(_word, set()).add(_kind)
_PER_HEAD = r"(?<!\s)\s*+(?:/|\b(?:per|je|por|a|each)\b)\s*(?:head|hd|calf|animal|cabeza|tier)\b\.?"
_WEIGHT_PER_HEAD = re.compile(
    rf"\b(?P<unit>lbs?|pounds?|kgs?|kilos?|weight|wt|wgt|liveweight)\b\.?\)?{_PER_HEAD}", re.IGNORECASE
)
_ANY_PER_HEAD = re.compile(_PER_HEAD, re.IGNORECASE)
_PRICE_UNIT = words_of("heading_parts", "price_unit")
_OF_PRICE = words_of("heading_parts", "of_price")


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
    words = re.sub(r"[$#%¢€£]", " ", unaccented(normal(_ANY_PER_HEAD.sub(" ", bare)))).split()
    each = [_KINDS_OF.get(part, set()) for word in words for part in _apart(word)]
    if not all(each):
        return ""
    kinds = set().union(*each, {"price"} if priced else set()) - {"noise"}
    kinds -= {"total", "lot"} if weighed else set()
    told = _measure(kinds, by_head=by_head and not weighed) or ("" if by_head else _other(each))
    return told if told in (*MEASURE_FIELDS, "amount") or not priced else ""


@lru_cache(maxsize=4096)
def _apart(word: str) -> tuple[str, ...]:
    """Return the words that a heading without blanks is made of, as few as there are; the word itself if unknown.

    >>> _apart("prwtdavg"), _apart("classdesc"), _apart("mystery")
    (('pr', 'wtd', 'avg'), ('class', 'desc'), ('mystery',))
    """
    if word in _KINDS_OF or len(word) > _LONGEST_GLUED:
        return (word,)
    cuts = [(word[:at], _apart(word[at:])) for at in range(len(word) - 2, 1, -1) if word[:at] in _KINDS_OF]
    known = [(first, *rest) for first, rest in cuts if all(part in _KINDS_OF for part in rest)]
    return min(known, key=len, default=(word,))


_LONGEST_GLUED = 24
_OF_MEASURES = frozenset(VOCABULARY["headings"]["of_measures"])


def _measure(kinds: set[str], *, by_head: bool) -> str:
    """Return the field of weight or price that a set of kinds of words makes; blank where two readings are left."""
    core = kinds & {"weight", "price"}
    both = {"low", "high"} <= kinds and "range" not in kinds
    if len(core) != 1 or kinds - _OF_MEASURES or both:
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
    """Return the field that a combination of kinds of words makes, or blank."""
    kinds = set().union(*words)
    for field, combinations in VOCABULARY["heading_combinations"].items():
        for must, may in (each.split("|") for each in combinations):
            allowed = {"noise", *must.split(), *may.split()}
            if kinds.issuperset(must.split()) and all(word & allowed for word in words):
                return str(field)
    return ""
