"""What a column of a sale file can mean, and the headings that say so: one table for readers and documents."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from slidefit.records.words.vocabulary import VOCABULARY, phrases_of


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
WEIGHT_FIELDS = frozenset(
    {"weight", "weight_range", "weight_low", "weight_high", "class_low", "class_high", "lot_weight"}
)
MEASURE_FIELDS = PRICE_FIELDS | WEIGHT_FIELDS | {"head", "average"}
DATE_FIELDS = frozenset({"date", "year", "month", "week"})

PHRASES: dict[str, tuple[str, int]] = {}
for _field in FIELDS:
    for _rank, _phrase in enumerate(_field.phrases):
        PHRASES.setdefault(_phrase, (_field.name, _rank))

_GLUED: dict[str, tuple[str, int]] = {}
for _phrase, _meaning in PHRASES.items():
    _GLUED.setdefault(_phrase.replace(" ", ""), _meaning)


def normal(text: str) -> str:
    """Return a heading in small letters, words apart, punctuation out.

    >>> normal("LotWgt"), normal("Avg. Wt."), normal("market_location_name"), normal("No. Hd.")
    ('lot wgt', 'avg wt', 'market location name', 'no hd')
    """
    text = re.sub(r"\b(?:[^\W\d_]\.){2,}", lambda initials: initials.group().replace(".", ""), text)
    apart = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", text)
    return " ".join(re.sub(r"[^\w\s#$%]|_", " ", apart.replace("'", "")).lower().split())


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
