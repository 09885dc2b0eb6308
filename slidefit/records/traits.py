"""What reporters say of calves: one table of remarks and the words that they become in the record."""

from __future__ import annotations

import re

# trait -> pattern of the spellings; the order matters only where one spelling holds another (un-weaned, weaned)
TRAITS: dict[str, str] = {
    "unweaned": r"un\s?-?\s?weaned|not weaned|bawling|off the cow",
    "weaned": r"(?<!un)(?<!un-)(?<!un- )(?<!not )weaned",
    "long_weaned": r"long[- ]weaned|weaned (?:45|60|90|120)\b|(?:45|60|90|120) ?\+? ?days? weaned",
    "value_added": r"value[- ]?added|va calves|\bvac\b|value[- ]added calf",
    "value_enhanced": r"value[- ]?enhanced",
    "preconditioned": r"pre-?\s?condition\w*|precon\w*|\bpc\b",
    "vaccinated": r"vaccinat\w*|\bshots?\b|two rounds|\bvac'?d\b",
    "certified": r"certified|\bverified\b|source and age|\bqsa\b|\bpvp\b",
    "natural": r"\bnatural\b|all[- ]natural|\bnhtc\b|non[- ]hormone",
    "organic": r"\borganic\b",
    "calves": r"\bcalves\b",
    "yearlings": r"\byearlings?\b|\byrlgs?\b",
    "new_crop": r"new[- ]crop",
    "fleshy": r"\bfleshy\b|heavy flesh\w*|very fleshy",
    "fat": r"\bfat\b|over[- ]?conditioned|over[- ]?fleshed",
    "thin": r"\bthin\b|thin[- ]flesh\w*|light flesh\w*|green\b",
    "full": r"\bfull\b|\btanked?\b",
    "gaunt": r"\bgaunt\b|\bshrunk\b",
    "fancy": r"\bfancy\b|\breputation\b|\bthick fancy\b",
    "plain": r"\bplain\b|\bcommon\b",
    "guaranteed_open": r"guaranteed? open|\bopen\b",
    "replacement_quality": r"replacement (?:quality|type)",
    "black": r"\bblacks?\b|\bblk\b|\bbwf\b|black[- ]hided|\bangus\b",
    "red": r"\breds?\b|\brwf\b",
    "charolais": r"\bchar(?:olais)?x?\b",
    "hereford": r"\bherefords?\b",
    "brahman": r"\bbrahma[n]?x?\b|\beared?\b",
    "mexican": r"\bmexican\b|\bcorriente\b|\blonghorns?\b",
    "horned": r"\bhorn(?:s|ed)\b",
    "polled": r"\bpolled\b|\bdehorned\b",
    "sick": r"\bsick\b|\bunhealthy\b|\blump\w*|\bbad eye\b|\blame\b|\bcripple\w*",
    "stale": r"\bstale\b|\bstressed\b",
    "muddy": r"\bmuddy\b|\bwet\b",
    "small_lot": r"small lots?\b|\bsingles?\b",
    "load_lot": r"\bload lots?\b|pot ?loads?\b|truck ?loads?\b",
    "special_sale": r"special sale|\bgraded sale\b",
}
_COMPILED = {trait: re.compile(pattern, re.IGNORECASE) for trait, pattern in TRAITS.items()}
_FILLER = re.compile(
    r"\b(?:fleshed|flesh|calf|quality|type|few|some|mostly|and|or|with|the|of|in|few|lot|lots"
    r"|per|cwt|actual|head|hd|days?|x|hided|very|dairy|beef)\b|[\d\W_]+",
    re.IGNORECASE,
)


def traits_of(text: str) -> str:
    """Return the traits that a remark names, sorted and joined by ``;``.

    Examples
    --------
    >>> traits_of("Thin Fleshed, un- weaned"), traits_of("VA Calves"), traits_of("Smith ranch")
    ('thin;unweaned', 'calves;value_added', '')
    """
    return ";".join(sorted(trait for trait, pattern in _COMPILED.items() if pattern.search(text)))


def unknown_words(text: str) -> str:
    """Return what is left of a remark once its traits and filler words are taken out.

    >>> unknown_words("Fleshy"), unknown_words("Fleshy, branded bar T")
    ('', 'branded bar T')
    """
    rest = text
    for pattern in _COMPILED.values():
        rest = pattern.sub(" ", rest)
    return " ".join(rest.replace(",", " ").split()) if _FILLER.sub("", rest) else ""
