"""Sex and kind of animal, grade, frame and muscle, remarks.

The scale is that of the U.S. Standards for Grades of Feeder Cattle (USDA AMS, 2000).
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from slidefit.records.words.dates import neighbors_in_date
from slidefit.records.words.vocabulary import VOCABULARY, alternatives, apart, words_of

DAIRY = "dairy"
NOT_FEEDER = "not_feeder"

_SEXES = {sex: words_of("animals", sex) for sex in ("steer", "heifer", "bull")}
_CASTRATED = words_of("animals", "castrated")
_MALE = words_of("animals", "male")
_MIXED = words_of("animals", "mixed")
_DAIRY_BREEDS = words_of("animals", "dairy_breeds")
_DAIRY = words_of("animals", "dairy")
_NO_FEEDER = words_of("animals", "not_feeder")
_REMARK_NO_FEEDER = words_of("animals", "not_feeder_in_remarks")
_OPEN_FEMALES = words_of("animals", "open_females")
_SUMMARY = words_of("animals", "summary")
_SEX_CODES: dict[str, str] = VOCABULARY["animals"]["codes"]
TRAITS: dict[str, str] = {trait: alternatives(text) for trait, text in VOCABULARY["traits"].items()}
_COMPILED = {trait: re.compile(pattern, re.IGNORECASE) for trait, pattern in TRAITS.items()}
_COLORS, _FILLER = words_of("remarks", "colors"), words_of("remarks", "filler")
_HOLSTEIN_GRADE = re.compile(r"^(?:h|hol)[- ]?[1-4]$", re.IGNORECASE)  # H-2: common practice, no source
_LAND = words_of("animals", "land")  # Buffalo Gap is a place
_CLASS_FILLER = words_of("remarks", "class_filler")
_TOLD = re.compile(r"\d\.\d\d|[a-z]\.\s+[A-Z]")  # a price, or the end of a sentence


@dataclass(frozen=True)
class AnimalClass:
    """Sex (steer, heifer, bull, mixed or blank) and the reason that it is no feeder calf, or blank."""

    sex: str = ""
    reason: str = ""


def sex_of(text: str) -> str:
    """Return the sex that a text names; two sexes together are mixed, unless a sentence tells of them.

    Males that are steers in one country and bulls in another have none, unless a word beside tells which.

    >>> sex_of("Yearling Steer"), sex_of("Strs & Hfrs"), sex_of("Feeder Cattle"), sex_of("Mâles castrés"), sex_of("1")
    ('steer', 'mixed', 'mixed', 'steer', '')
    >>> sex_of("Steers 3.00 to 5.00 higher. Heifers firm."), sex_of("Terneros"), sex_of("intact male")
    ('', '', 'bull')
    """
    text = _CASTRATED.sub(" steer ", apart(text))
    found = [sex for sex, pattern in _SEXES.items() if pattern.search(text)]
    male = bool(_MALE.search(text))
    if len(found) == 1 and not (male and found == ["heifer"]):
        return found[0]
    if len(found) > 1 and _TOLD.search(text):
        return ""
    return "mixed" if found or (_MIXED.search(text) and not male) else ""


def classify(text: str) -> AnimalClass:
    """Return what a class, category or title says of the animals.

    Examples
    --------
    >>> classify("Feeder Holstein Steers Large 3"), classify("Slaughter Cows").reason, classify("STEERS")
    (AnimalClass(sex='steer', reason='dairy'), 'not_feeder', AnimalClass(sex='steer', reason=''))
    >>> classify("Elk Point"), classify("Elk, Point Ranch").reason
    (AnimalClass(sex='', reason=''), 'not_feeder')
    """
    plain = _OPEN_FEMALES.sub(" ", _LAND.sub(" ", " ".join(apart(text).split())))
    sex = sex_of(plain)
    if _NO_FEEDER.search(plain):
        return AnimalClass(sex, NOT_FEEDER)
    return AnimalClass(sex, DAIRY if _DAIRY.search(plain) else "")


def is_dairy_breed(text: str) -> bool:
    """Tell whether a cell of a column of breeds names a dairy breed, by its name or its code.

    >>> is_dairy_breed("Holstein"), is_dairy_breed("FR"), is_dairy_breed("LMX")
    (True, True, False)
    """
    return classify(text).reason == DAIRY or bool(_DAIRY_BREEDS.search(text.strip()))


def classify_cell(text: str) -> AnimalClass:
    """Return what a cell of a class column says; single letters, alone or beside colors, are read as codes.

    >>> classify_cell("H").sex, classify_cell("Bk S").sex, classify_cell("Cow").reason, classify_cell("2").sex
    ('heifer', 'steer', 'not_feeder', '')
    """
    if _HOLSTEIN_GRADE.match(text.strip()):
        return AnimalClass("", DAIRY)
    bare = text.strip().strip(".").lower()
    code = _SEX_CODES.get(bare) or _SEX_CODES.get(_COLORS.sub(" ", bare).strip(" -/,."))
    return AnimalClass(code) if code else classify(text)


def remark_reason(text: str) -> str:
    """Return why a remark shows that a row is no feeder calf, or blank.

    >>> remark_reason("Dairy X"), remark_reason("Guaranteed Open"), remark_reason("4 - 6 Mos Bred")
    ('dairy', '', 'not_feeder')
    """
    plain = _OPEN_FEMALES.sub(" ", text)
    if _REMARK_NO_FEEDER.search(plain):
        return NOT_FEEDER
    return DAIRY if _DAIRY.search(plain) else ""


@lru_cache(maxsize=1 << 15)
def is_summary(text: str) -> bool:
    """Tell whether a label is that of an average or a total.

    >>> is_summary("Total/Avg"), is_summary("5-yr avg"), is_summary("Avg."), is_summary("Steers")
    (True, True, True, False)
    """
    return bool(_SUMMARY.search(text))


_SIZES = {word: size for size, words in VOCABULARY["sizes"].items() for word in words.split()}
_FRAMES = {frozenset(frame): frame for frame in ("L", "ML", "M", "MS", "S")}
_MOST_MUSCLE = 4
_LOOKS = {name: words_of("grades", name, VOCABULARY["grade_parts"]) for name in VOCABULARY["grades"]}
_IN_TEXT = (_LOOKS["in_words"], _LOOKS["in_letters"])


@dataclass(frozen=True)
class Grade:
    """Frame (L, ML, M, MS, S) and muscle (1 to 4, or two neighbors); blank where not said."""

    frame: str = ""
    muscle: str = ""

    @property
    def text(self) -> str:
        """Return both with a blank between, as ML 1-2; blank where neither is said."""
        return f"{self.frame} {self.muscle}".strip()


def _frame(found: re.Match[str]) -> str:
    sizes = {_SIZES[word.lower().rstrip(".")] for word in (found["first"], found["second"]) if word}
    return _FRAMES.get(frozenset(sizes), "")


def _muscle(found: re.Match[str]) -> str:
    """Return the muscle number of a match: 1, 1-2, ...; numbers that aren't neighbors are no grade."""
    low, high = found["low"], found["high"]
    if low is None:
        return ""
    if found["half"] and int(low) < 4:
        return f"{low}-{int(low) + 1}"
    if high is None or high == low:
        return low
    return f"{low}-{high}" if int(high) - int(low) == 1 else ""


def find_grade(text: str) -> Grade:
    """Return the grade named inside a longer text, such as a title; single letters count only beside a number.

    Examples
    --------
    >>> find_grade("Feeder Steers Medium and Large 1 - 2"), find_grade("M&L 1 & 2")
    (Grade(frame='ML', muscle='1-2'), Grade(frame='ML', muscle='1-2'))
    >>> find_grade("AB Steers 500-600"), find_grade("L-1").frame, find_grade("Medium-Large frame").frame
    (Grade(frame='', muscle=''), 'L', 'ML')
    """
    found = (Grade(_frame(each), _muscle(each)) for pattern in _IN_TEXT for each in pattern.finditer(text))
    framed = [grade for grade in found if grade.frame]
    best = next((grade for grade in framed if grade.muscle), framed[0] if framed else Grade())
    if not best.frame and (letters := _LOOKS["joined_letters"].search(text)):
        best = Grade(_frame(letters))
    if not best.muscle and (signed := _LOOKS["signed_muscle"].search(text)):
        best = Grade(best.frame, _muscle(signed))
    return best


def grade_spans(text: str) -> list[tuple[int, int, Grade]]:
    """Return where a longer text names grades: begin, end and the grade; a size alone counts when two stand together.

    >>> [(start, end) for start, end, _ in grade_spans("Steers M&L 1: 8 hd")]
    [(7, 12)]
    """
    spans: list[tuple[int, int, Grade]] = []
    for pattern in _IN_TEXT:
        before = sorted((start, end) for start, end, _ in spans)  # of the pattern before, none over another
        for found in pattern.finditer(text):
            grade = Grade(_frame(found), _muscle(found))
            at = bisect_left(before, (found.end(),)) - 1
            apart = at < 0 or before[at][1] <= found.start()
            if grade.frame and (grade.muscle or found["second"]) and apart:
                spans.append((found.start(), found.start() + len(found.group().rstrip(" ,:-.")), grade))
    return sorted(spans)


def parse_muscle(text: str) -> str:
    """Return the muscle number in a muscle cell; letters (other countries' scales) stay blank.

    >>> parse_muscle("1 - 2"), parse_muscle("#1"), parse_muscle("1.0"), parse_muscle("C"), parse_muscle("2-Jan")
    ('1-2', '1', '1', '', '1-2')
    """
    if alone := _LOOKS["muscle_alone"].match(re.sub(r"\.0+$", "", text.strip())):
        return _muscle(alone)
    as_date = neighbors_in_date(text.strip())
    if as_date is not None and as_date[1] <= _MOST_MUSCLE:
        return f"{as_date[0]}-{as_date[1]}"
    return find_grade(text).muscle


def parse_grade(text: str) -> Grade:
    """Return the grade in a cell that holds frame and muscle together.

    >>> parse_grade("ML1-2"), parse_grade("#1"), parse_grade("Ungr.")
    (Grade(frame='ML', muscle='1-2'), Grade(frame='', muscle='1'), Grade(frame='', muscle=''))
    """
    if letters := _LOOKS["letters_alone"].match(text):
        return Grade(_frame(letters))
    alone = _LOOKS["muscle_alone"].match(text)
    return Grade("", _muscle(alone)) if alone else find_grade(text)


def traits_of(text: str) -> str:
    """Return the traits that a remark names, sorted and joined by ``;``.

    Examples
    --------
    >>> traits_of("Thin Fleshed, un- weaned"), traits_of("VA Calves"), traits_of("Smith ranch")
    ('thin;unweaned', 'calves;value_added', '')
    """
    return ";".join(sorted(trait for trait, pattern in _COMPILED.items() if pattern.search(text)))


def _without_traits(text: str) -> str:
    for pattern in _COMPILED.values():
        text = pattern.sub(" ", text)
    return text


def unknown_words(text: str) -> str:
    """Return what is left of a remark once its traits and filler words are taken out.

    >>> unknown_words("Fleshy"), unknown_words("Fleshy, branded bar T")
    ('', 'branded bar T')
    """
    rest = _without_traits(text)
    return " ".join(rest.replace(",", " ").split()) if _FILLER.sub("", rest) else ""


def tells_hide(text: str) -> bool:
    """Tell whether a text names colors and traits of calves, and no class.

    >>> tells_hide("Black/BWF"), tells_hide("Red Angus"), tells_hide("Black steers"), tells_hide("M")
    (True, True, False, False)
    """
    rest = _without_traits(_COLORS.sub(" ", text))
    return rest != text and not re.search(r"[^\W_]", rest)


def leftover_words(text: str) -> str:
    """Return what is left of a class once animals, grades, traits, numbers and filler words are taken out.

    >>> leftover_words("Feeder Steers Medium and Large 1"), leftover_words("BLK STRS 545#"), leftover_words("zebu strs")
    ('', '', 'zebu')
    """
    rest = _CASTRATED.sub(" ", apart(text))
    for start, end, _ in reversed(grade_spans(rest)):
        rest = f"{rest[:start]} {rest[end:]}"
    for pattern in (*_SEXES.values(), _MALE, _MIXED, _DAIRY, _NO_FEEDER, _OPEN_FEMALES, _COLORS):
        rest = pattern.sub(" ", rest)
    rest = _CLASS_FILLER.sub(" ", _FILLER.sub(" ", _without_traits(rest)))
    return " ".join(re.findall(r"[^\W\d_]{2,}", rest))


def class_line(row: Sequence[str]) -> Sequence[str]:
    """Return a row that holds a class and its grade and nothing else as one cell, any other as it is.

    >>> class_line(["FEEDER STEERS", "", "Medium and Large 1"]), class_line(["Steers", "Heifers"])
    (['FEEDER STEERS  Medium and Large 1'], ['Steers', 'Heifers'])
    """
    first, *rest = [text for text in row if text.strip()] or [""]
    graded = [text for text in rest if find_grade(text).text and classify(text) == AnimalClass()]
    return ["  ".join([first, *rest])] if rest and graded == rest and classify(first).sex else row
