"""Numbers as people type them."""

from __future__ import annotations

import re

THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d{0,15})?")
DECIMAL_COMMA = re.compile(r"[+-]?\d{1,15},\d{1,2}")
PLAIN = re.compile(r"[+-]?(?:\d{1,15}(?:\.\d{0,15})?|\.\d{1,15})")
UNIT = re.compile(
    r"\s?(?:lbs?|pounds?|days?|head|acres?|percent|dollars?|%|\$)?(?:\s?(?:/|an? |per )\s?[a-z]{1,12})*\.?"
)
LONGEST = 60


def number_of(text: str) -> float | None:
    """Return a number that a person typed; None where it is none.

    One comma before one or two last digits is a decimal comma; the browser's reader has the same rule.

    >>> [number_of(text) for text in ("540 lb", "1,9", "$365", "4%", "$1,250.50", "1.55 a day", "about 5", "")]
    [540.0, 1.9, 365.0, 4.0, 1250.5, 1.55, None, None]
    """
    bare = " ".join(text[: LONGEST + 1].lower().replace("\u2212", "-").split())
    if len(bare) > LONGEST:
        return None
    bare = re.sub(r"^([+-]?) ?\$ ?", r"\1", bare)
    for kind in (THOUSANDS, DECIMAL_COMMA, PLAIN):
        found = kind.match(bare)
        if found and UNIT.fullmatch(bare, found.end()):
            digits = found.group()
            plain = digits.replace(",", "." if kind is DECIMAL_COMMA else "")
            return float(plain)
    return None
