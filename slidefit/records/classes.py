"""What kind of animal a row is about: steer, heifer, bull or mixed calves, or something that is no feeder calf."""

from __future__ import annotations

import re
from dataclasses import dataclass

FEEDER = ""
DAIRY = "dairy"
NOT_FEEDER = "not_feeder"

_STEER = re.compile(
    r"\bsteers?\b|\bstrs?\b|\bstr\.|\bnovill(?:o|ito)s?\b|\bbullocks?\b|\bbouvillons?\b|\bnovilhos?\b|\bochsen?\b|\bcastrated\b",
    re.IGNORECASE,
)
_HEIFER = re.compile(
    r"\bheifers?\b|\bhfrs?\b|\bhef\b|\bheif\b|\bhembras?\b|\bvaquillas?\b|\bvaquillonas?\b"
    r"|\bnovillas?\b|\bterneras?\b|\bbecerras?\b|\bg[eé]nisses?\b|\btaures?\b|\bnovilhas?\b|\bbezerras?\b"
    r"|\bf[aä]rsen?\b",
    re.IGNORECASE,
)
_BULL = re.compile(
    r"\bbulls?\b|\bbls\b|\btoros?\b|\btoretes?\b|\bterneros\b|\btaurillons?\b|\bbullen\b", re.IGNORECASE
)
_MIXED = re.compile(
    r"\bmixed\b|\bmix\b|\bmxd\b|\bunsorted\b|\bcalves\b|\bcalf\b|\bfeeder cattle\b|\byearlings\b"
    r"|\bstraight run\b",
    re.IGNORECASE,
)
_SEX_CODES = {
    "s": "steer",
    "st": "steer",
    "h": "heifer",
    "hf": "heifer",
    "b": "bull",
    "bl": "bull",
    "bu": "bull",
    "mx": "mixed",
    "x": "mixed",
}
_DAIRY = re.compile(
    r"\bholsteins?\b|\bholst?s?\b\.?|\bdairy\b|\bjerseys?\b|\bbrown swiss\b|\bguernseys?\b"
    r"|\bayrshires?\b|\bfriesians?\b|\bdairies\b",
    re.IGNORECASE,
)
_NO_FEEDER = re.compile(
    r"\bslaughter\b|\bpackers?\b|\bculls?\b|\bcull(?:ed)?\b|\bcows?\b|\bvacas?\b|\bbred\b"
    r"|\bpairs?\b|\bpregnan\w*|(?<!un)(?<!not )\bexposed\b|\bheiferettes?\b|\bhfrettes?\b|\bstags?\b|\breplacements?\b"
    r"|\bbaby (?:calves|calf)\b|\bbob (?:calves|calf|veal)\b|\bbottle\b|\bspringers?\b"
    r"|\bspringing\b|\bnewborn\b|\bweigh[- ]?(?:up )?(?:bulls?|cows?)\b"
    r"|\bboners?\b|\bbreakers?\b|\bcanners?\b|\bcutters?\b|\bcommercial\b|\bbologna\b"
    r"|\b(?:premium )?white\b(?= \d| cows?)|\blean\b|\breturn to feed\b|\breturned to feed\b"
    r"|\b(?:breeding|herd|service|yield grade)\b|\bfamil(?:y|ies)\b|\b(?:choice|prime"
    r"|select)\b(?! (?:feeder|calves))|\bfed (?:steers?|heifers?|cattle)\b|\bfinished\b|\bfat "
    r"(?:steers?|heifers?|cattle)\b|\blive(?: steer| heifer)?s? basis\b"
    r"|\bgoats?\b|\bkids?\b|\bnann(?:y|ies)\b|\bbilly\b|\bbucks?\b|\bdoes?\b(?! not)"
    r"|\bwethers?\b|\bsheep\b|\blambs?\b|\bewes?\b|\brams?\b|\bhogs?\b|\bpigs?\b|\bsows?\b"
    r"|\bboars?\b|\bbarrows?\b|\bgilts?\b"
    r"|\bhorses?\b|\bmares?\b|\bgeldings?\b|\bmules?\b|\bdonkeys?\b|\bpon(?:y|ies)\b|\bbison\b"
    r"|\bbuffalo\b|\bpoultry\b|\bllamas?\b|\balpacas?\b|\belk\b"
    r"|\bcorn\b|\bwheat\b|\bsoybeans?\b|\bmilo\b|\bsorghum\b|\bhay\b|\bgrain\b|\boats\b"
    r"|\bbarley\b|\bstraw\b|\bpygm(?:y|ies)\b"
    r"|\bprocessors?\b|\b(?:1st|2nd|3rd|first|second|third) (?:period|stage|trimester)\b"
    r"|\btrimester\b|\b\d\s?-\s?\d\s?mo(?:s|nths)?\b|\bmiddle aged\b|\bbroken mouth\b|\bshort "
    r"solid\b|\baged\b",
    re.IGNORECASE,
)
_SUMMARY = re.compile(
    r"^\W*(?:(?:grand|sub|sale|report|overall|season|market|weekly|monthly|annual|yearly|year"
    r"|ytd|period)[\s-]*)*(?:totals?|totales|ttl|overall|sum|promedios?|moyennes?"
    r"|durchschnitt|t\s?o\s?t\s?a\s?l|avg|avgs|averages?|means?|medians?|sums?|weighted average"
    r"|wtd\.? avg|maximum|minimum|max|min|std|st\.? ?dev)\b"
    r"|^\W*\d+[\s-]*y(?:ea)?rs?\.?[\s-]*(?:avg|average|mean)\b|\btotal\s*/\s*avg\b|^\W*all "
    r"(?:classes|weights|sales|markets|months|years|lots|steers|heifers)\b|\bsubtotal\b|\bgrand "
    r"total\b|\baverage\s*:?\s*$|\b(?:totals?|ttl|sum)\s*:?\s*$",
    re.IGNORECASE,
)
_OPEN_FEMALES = re.compile(
    r"\bguaranteed open\b|\bopen\b|\breplacement (?:quality|type)\b|\bkid friendly\b|\bnot "
    r"bred\b|\bunbred\b|\bcow (?:fresh|hide)\b",
    re.IGNORECASE,
)
_REMARK_NO_FEEDER = re.compile(
    r"\bbred\b|\bpairs?\b|\bpregnan\w*|(?<!not )\bexposed\b|\bslaughter\b|\breturn(?:ed)? to feed\b|\bheiferettes?\b"
    r"|\bcow-calf\b|\bspringers?\b|\bstags?\b|\bgoats?\b|\bpygm(?:y|ies)\b|\bbaby (?:calves"
    r"|calf)\b|\bpacker\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class AnimalClass:
    """Sex (steer, heifer, bull, mixed or blank) and the reason that it is no feeder calf, or blank."""

    sex: str = ""
    reason: str = FEEDER


def sex_of(text: str) -> str:
    """Return the sex that a text names; two sexes together are mixed.

    >>> sex_of("Yearling Steer"), sex_of("Strs & Hfrs"), sex_of("Feeder Cattle"), sex_of("1")
    ('steer', 'mixed', 'mixed', '')
    """
    found = [
        sex
        for sex, pattern in (("steer", _STEER), ("heifer", _HEIFER), ("bull", _BULL))
        if pattern.search(text)
    ]
    if len(found) == 1:
        return found[0]
    return "mixed" if found or _MIXED.search(text) else ""


def classify(text: str) -> AnimalClass:
    """Return what a class, category or title says of the animals.

    Examples
    --------
    >>> classify("Feeder Holstein Steers Large 3"), classify("Slaughter Cows").reason, classify("STEERS")
    (AnimalClass(sex='steer', reason='dairy'), 'not_feeder', AnimalClass(sex='steer', reason=''))
    """
    plain = _OPEN_FEMALES.sub(" ", re.sub(r"[_\s]+", " ", text))
    sex = sex_of(plain)
    if _NO_FEEDER.search(plain):
        return AnimalClass(sex, NOT_FEEDER)
    return AnimalClass(sex, DAIRY if _DAIRY.search(plain) else FEEDER)


def classify_cell(text: str) -> AnimalClass:
    """Return what a cell of a class column says; single letters are read as codes.

    >>> classify_cell("H").sex, classify_cell("Cow").reason, classify_cell("2").sex
    ('heifer', 'not_feeder', '')
    """
    code = _SEX_CODES.get(text.strip().strip(".").lower())
    return AnimalClass(code) if code else classify(text)


def remark_reason(text: str) -> str:
    """Return why a remark shows that a row is no feeder calf, or blank.

    >>> remark_reason("Dairy X"), remark_reason("Guaranteed Open"), remark_reason("4 - 6 Mos Bred")
    ('dairy', '', 'not_feeder')
    """
    plain = _OPEN_FEMALES.sub(" ", text)
    if _REMARK_NO_FEEDER.search(plain):
        return NOT_FEEDER
    return DAIRY if _DAIRY.search(plain) else FEEDER


def is_summary(text: str) -> bool:
    """Tell whether a label is that of an average or a total.

    >>> is_summary("Total/Avg"), is_summary("5-yr avg"), is_summary("Avg."), is_summary("Steers")
    (True, True, True, False)
    """
    return bool(_SUMMARY.search(text))
