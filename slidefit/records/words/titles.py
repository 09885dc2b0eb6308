"""What the lines above and below a table say for all of its rows: place, class, grade, units, money."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from slidefit.records.words.animals import (
    NOT_FEEDER,
    AnimalClass,
    classify,
    find_grade,
    leftover_words,
    sex_of,
    traits_of,
)
from slidefit.records.words.dates import DAY_TEXT, WEEKDAY, is_date, month_number, parse_date
from slidefit.records.words.report_days import (
    day_sold_in,
    month_in,
    names_other_day,
    sale_day_in,
    year_in,
    year_of_all,
)
from slidefit.records.words.units import (
    DRESSED,
    PER_HEAD,
    currency_of,
    names_province,
    price_unit_of,
    weight_unit_of,
)
from slidefit.records.words.vocabulary import words_of

_LABELLED = words_of("titles", "labelled")
_PLACE_ABROAD = words_of("titles", "place_abroad")
_PLACE = re.compile(f"{_PLACE_ABROAD.pattern}|{words_of('titles', 'place').pattern}", re.IGNORECASE)
_SOURCE = words_of("titles", "source")
_GENERIC, _GENERIC_ABROAD = words_of("titles", "generic"), words_of("titles", "generic_abroad")
_SALE_NAME, _OF_SALES, _PUBLISHER = (words_of("titles", of) for of in ("sale_name", "of_sales", "publisher"))
_END_ABROAD = re.compile(r"\s(?:vom|am|du|del?)$")
_OF_A_REPORT = words_of("titles", "of_a_report")  # words behind a dash that are no part of a name
_AFTER_NAME = words_of("titles", "after_name")
_FEES = words_of("titles", "fees")
_MARKS, _SIGNED = " ,;*#_>", "~-–—( "  # around a title, as in Markdown; before a signature
_SENTENCE = words_of("titles", "sentence")
# the code of a state belongs to a name
_NAMES_APART = re.compile(r"[;|]|:(?=\s)|\s\((?=[^()]*\$)|,(?!\s*[A-Z]{2}\b)|\s[-–—]{1,2}\s")
_DASH = re.compile(r"(?<!\s)\s++[-–—|]\s++")
_CLASS_LINE, _WEIGHTS = words_of("titles", "class_line"), words_of("titles", "weights")
_SOME_BY_HEAD = words_of("titles", "some_by_head")
_MONEY = re.compile(r"\$\s?\d|\d\.\d\d\b")  # beside a weight it is a price quoted, and no title
_LONGEST_CLASS_TITLE = 90
LONGEST_NAME = 100
_STAGE = re.compile(r"\bpreliminary\b|\bfinal\b", re.IGNORECASE)  # of a report
_OF_WEIGHT = words_of("titles", "of_weight")
_SOLD_AT = words_of("titles", "sold_at")
_FOOTNOTES = words_of("titles", "footnotes")
_AT = re.compile(r"^(?:At|In|From)\s(?:the\s)?")
_SOLD = re.compile(r"(?<=\w)\s(?:sold|had|reported)\b")
_SUBJECT = re.compile(r"^(?:(?:subject|re|fwd?)\s*:\s*)+", re.IGNORECASE)
_SENDER = re.compile(r"(?:from|to|cc|sent)\s*:", re.IGNORECASE)
_NEXT = re.compile(r"(?:the )?(?:next|upcoming|coming)\b|(?:that|here|there|it|what)['’]s\b", re.IGNORECASE)
_WEEKDAY_END = re.compile(rf"\s(?:on\s)?(?:{WEEKDAY.pattern})$", re.IGNORECASE)


def market_in(line: str) -> str:
    """Return the place of sale that a title names, or blank.

    >>> market_in("Tri-River Auctions (combined) - monthly average feeder cattle prices")
    'Tri-River Auctions (combined)'
    >>> market_in("Marché aux bovins de Lieu-le-Haut")
    'Marché aux bovins de Lieu-le-Haut'
    >>> market_in("Weekly feeder prices, C$/cwt"), market_in("USDA AMS Market News")
    ('', '')
    >>> market_in("Monday calf sale - Ox Tooth"), market_in("Kestrel Sale Co. Monday (Nov 16)")
    ('Ox Tooth', 'Kestrel Sale Co.')
    """
    bare = _SUBJECT.sub("", " ".join(line.split()).strip(_MARKS).lstrip(_SIGNED))
    if _NEXT.match(bare) or _SENDER.match(bare):
        return ""
    said = _LABELLED.match(bare)
    if said:
        return said["name"].strip()
    if not bare or len(bare) > LONGEST_NAME or _SOURCE.search(bare) or not _PLACE.search(bare):
        return ""
    parts = _NAMES_APART.split(re.sub(r"\s\.$", "", DAY_TEXT.sub("", bare)))
    for at, part in enumerate((*parts, bare)):
        if at == len(parts) and (beside := _beside_kind(parts)):
            return beside
        said = _LABELLED.match(part)
        if said:
            return said["name"].strip()
        part = _SOLD_AT.sub("", part)
        first, _, rest = _DASH.sub("\n", part, count=1).partition("\n")
        name = _AFTER_NAME.sub("", first if _OF_A_REPORT.search(rest) else part)
        name = _SOLD_AT.sub("", _SOLD.split(DAY_TEXT.sub("", name))[0])
        name = name.replace("()", "").replace(" )", "").strip(" ,;:-–|")
        name = _AT.sub("", _WEEKDAY_END.sub("", name).rstrip(" ,;:-–|("))
        own = _GENERIC.sub("", WEEKDAY.sub("", _PLACE.sub("", name)))
        if abroad := _PLACE_ABROAD.match(name):
            name = _END_ABROAD.sub("", name)
            own = _GENERIC_ABROAD.sub("", name[abroad.end() :]).strip()
            own = "" if month_number(own.lstrip("0123456789. ")) else own
        named = _PLACE.search(part) and own and re.match(r"[A-Z0-9]", name)
        if named and "$" not in name and not re.search(r"(?<!\bco)(?<!\binc)(?<!\bltd)\.$", name.lower()):
            return _proper(name)
    return ""


def _beside_kind(parts: Sequence[str]) -> str:
    """Return the one name beside a part that tells a weekday's sale alone, or blank."""
    kinds = [part for part in parts if WEEKDAY.search(part) and _PLACE.search(part)]
    kinds = [part for part in kinds if not _GENERIC.sub("", WEEKDAY.sub("", part))]
    names = [part.strip() for part in parts if is_name(part)]
    return names[0] if kinds and len(names) == 1 else ""


_CAPITALS = re.compile(r"(?:(?:[A-Z][\w'.&-]*|&|\(|of|the|at|and|[\d-]+)(?:,(?=\s[A-Z]{2}\b))?\s*+)+")
_CLOCK = re.compile(r"\d:\d\d")  # of a message, whose name is its sender's
_NAME = r"(?:[A-Z][\w'&-]*\s){0,4}[A-Z][\w'&-]*"
_NAME_AND_DAY = re.compile(_NAME.replace(r"\s", r"\s+"))
_IN_SENTENCE = re.compile(  # beside a day, which is a line end here
    rf"\b(?:[Aa]t|to|from|[Ii]n)\s(?:the\s)?\*{{0,2}}(?P<place>{_NAME}(?:\sCo\.)?)\*{{0,2}}"
    r"(?:\s(?:sale ?yards?|sale ?barn|stock ?yards?|yards|auction))?(?:,|\son|\swas|\sheld|\slast)?\s?\(?\n"
    rf"|\n\)?,?\s(?:at|in)\s(?:the\s)?(?P<place2>{_NAME})"
    rf"|\bThe\s(?P<place3>{_NAME})\s(?:sale|auction)\s(?:on|of)\s\n"
)


def _proper(name: str) -> str:
    """Return the name in a title: in a sentence, the run of capitals that holds the word of the place.

    >>> _proper("We hauled to Willow Valley Commission Co. on Monday"), _proper("Rill Creek livestock auction")
    ('Willow Valley Commission Co.', 'Rill Creek livestock auction')
    >>> _proper("Bawling calf sale")
    ''
    """
    own = [word for word in name.split() if _GENERIC.sub("", word)]
    if _PLACE_ABROAD.match(name) or not any(word[:1].islower() for word in own):
        return "" if traits_of(" ".join(own)) and len(own) == 1 and not name.istitle() else name
    found = (run.group().strip(" (") for run in _CAPITALS.finditer(name))
    runs = (re.sub(r"^(?:(?:of|the|at|and)\s+)+", "", run) for run in found)
    return next((run for run in runs if _PLACE.search(run) and _GENERIC.sub("", run)), "")


def is_name(line: str) -> bool:
    """Tell whether a line is a name of two words or more, all with capitals, and names no class of animals.

    >>> is_name("Lantern Crossing"), is_name("Coffee break"), is_name("Feeder Steers"), is_name("Office Copy")
    (True, False, False, False)
    """
    bare = line.strip(" .:")
    if " " not in bare or not _NAME_AND_DAY.fullmatch(bare) or len(_GENERIC.sub(" ", bare)) < len(bare):
        return False
    told = traits_of(line) or find_grade(line).text or names_other_day(line)
    return not told and classify(line) == AnimalClass()


def _names_class(name: str) -> bool:
    """Tell whether a name is a class of animals: Bred Cows, Black Steer; Lost Mule and Black Rock are places."""
    if classify(name) == AnimalClass():
        return bool(traits_of(name)) and not is_of_land(name)
    many = any(word[-1:].lower() == "s" and classify(word) != AnimalClass() for word in name.split())
    return many or not leftover_words(name) or " " not in name


def holds_day_alone(line: str) -> bool:
    """Tell whether a line holds a day and nothing else but words such as sale.

    >>> holds_day_alone("Sale of Oct 3, 2026"), holds_day_alone("10/3/26"), holds_day_alone("12 hd Oct 3, 2026")
    (True, True, False)
    """
    rest = _GENERIC.sub(" ", WEEKDAY.sub(" ", DAY_TEXT.sub(" ", line))).strip(" .,;:-–|()")
    return not rest and is_date(line) and not names_other_day(line) and bool(DAY_TEXT.search(line))


def name_beside_day(line: str) -> str:
    """Return the name in a title that holds nothing but a name and a day, or blank; one behind a label is none.

    >>> name_beside_day("Wren Prairie. Sale of 11/9/26."), name_beside_day("Feeder Steers 11/9/26")
    ('Wren Prairie', '')
    >>> name_beside_day("[11/10/26, 11:06:55 AM] Rusty:"), name_beside_day("OPAL RUN (Monday, Oct. 26) 90 head")
    ('', 'OPAL RUN')
    >>> name_beside_day("LOST MULE, Thursday Oct. 29, 2026."), name_beside_day("BRED COWS, Thursday Oct. 29, 2026.")
    ('LOST MULE', '')
    >>> name_beside_day("11/20/2026  Customer: Cedar Pens"), name_beside_day("We hauled to Ivory Lake on Oct. 7, 2026")
    ('', 'Ivory Lake')
    """
    marked = DAY_TEXT.sub("\n", line)
    if marked == line or not (is_date(line) or WEEKDAY.search(line) or _PLACE.search(marked)):
        return ""
    said = _IN_SENTENCE.search(marked)
    if names_other_day(marked[: said.end()] if said else line) or _CLOCK.search(line):
        return ""
    bare = " ".join(DAY_TEXT.sub(" ", WEEKDAY.sub(" ", _SOLD_AT.sub("", line))).split())
    rest = " ".join(_GENERIC.sub(" ", bare).split()).strip(" .,;:-–|()")
    rest = next(filter(None, said.groups())) if said else rest
    alone = said and said["place3"] and not is_of_land(rest)  # "The Fall sale on Oct 3"
    if alone or not _NAME_AND_DAY.fullmatch(rest.removesuffix(".")) or _names_class(rest):
        return ""
    if said:
        return rest
    words = r"[,\s]+".join(map(re.escape, rest.split()))
    as_written = re.search(rf"(?<!: ){words}(?:\s(?:Springs?|Falls?)(?!\s\w))?", bare)  # no season at the end
    return (market_in(bare) or as_written.group()) if as_written else ""  # else its words belong to labels


_LAND = words_of("animals", "land").pattern.partition(" ")[2]
_OF_LAND = re.compile(
    rf"(?<![\w'-])(?P<name>(?:[A-Z][\w'-]*\s){{1,4}}(?=[A-Z])(?i:{_LAND}|{words_of('titles', 'town').pattern})"
    r"(?:\sSpecial\b(?=\W*$))?(?:,\s[A-Z]{2}\b)?)"
)
_AT_NAME = re.compile(
    rf"{_OF_SALES.pattern}[^.;]{{0,60}}?\b[Aa]t\s(?:the\s)?\*{{0,2}}(?P<place>(?-i:{_OF_LAND.pattern}(?:\s[A-Z]\w*)*))",
    re.IGNORECASE,
)
_SURNAMES = re.compile(r"\b(?:hills?|fords?|wells)\W*$", re.IGNORECASE)  # too: no place by themselves


def name_of_report(line: str) -> str:
    """Return the name of land or of a town beside words of a report, as the place of its sales, or blank.

    >>> name_of_report("Kettle Ridge Weekly Wrap"), name_of_report("Fall run at Cinder Forks")
    ('Kettle Ridge', 'Cinder Forks')
    >>> name_of_report("Ivory Draw, ON: Barn prices"), name_of_report("Salt Lick Ridge Bulletin, prices by weight")
    ('Ivory Draw, ON', '')
    """
    bare = " ".join(_SUBJECT.sub("", line).split()).strip(_MARKS)
    if len(bare) > LONGEST_NAME or _NEXT.search(bare) or _SENDER.match(bare) or _SOURCE.search(bare):
        return ""
    if names_other_day(bare) or _PUBLISHER.search(bare) or not _OF_SALES.search(bare):
        return ""
    if said := _AT_NAME.search(bare):
        return said["place"] if _PLACE.search(said["place"]) else said["name"]
    parts = map(str.strip, _NAMES_APART.split(DAY_TEXT.sub(" ", bare)))
    found = [said for part in parts if (said := _OF_LAND.match(part))]
    rest = found[0].string[found[0].end() :] if len(found) == 1 else ""
    plain = not leftover_words(_GENERIC.sub(" ", WEEKDAY.sub(" ", _OF_SALES.sub(" ", rest))))
    return found[0]["name"] if len(found) == 1 and plain else ""


def place_in(lines: Sequence[str], bare: Sequence[str] = ()) -> str:
    """Return the place of sale that lines tell: a house before a sale, a name beside a day, that of a report, or blank.

    Of the lines ``bare`` one may be nothing but its name.

    >>> place_in(["Prairie Ledger Auction Mart", "PRESORT MAPLE CALF SALE"]), place_in([], ["Feed bill", "Alder Lake"])
    ('Prairie Ledger Auction Mart', 'Alder Lake')
    """
    place = ""
    for name in filter(None, map(market_in, lines)):  # the whole name beats its beginning
        place = name if name.startswith(place) or (names_sale(place) and not names_sale(name)) else place
    named = (name for name in map(name_beside_day, lines) if " " in name)
    if place := place or next(named, ""):
        return place
    reports = list(dict.fromkeys(filter(None, map(name_of_report, lines))))
    reports = reports or list(dict.fromkeys(filter(None, map(place_alone, bare))))
    return reports[0] if len(reports) == 1 else ""


def place_alone(line: str) -> str:
    """Return a line that is nothing but the name of land or of a town, and no surname, as a place; else blank.

    >>> place_alone("# Alder Lake"), place_alone("Ivory Draw, ON"), place_alone("Dana Hill")
    ('Alder Lake', 'Ivory Draw, ON', '')
    """
    alone = line.strip(_MARKS)
    named = is_of_land(alone) and is_name(alone.partition(",")[0]) and not _SURNAMES.search(alone)
    return alone if named else ""


def is_of_land(name: str) -> bool:
    """Tell whether a name of two words or more ends in a kind of land or town: Larch Ferry, Ivory Draw, ON."""
    return bool(_OF_LAND.fullmatch(name))


def told_around(
    above: Sequence[str], between: Sequence[str], below: Sequence[str], said: Mapping[str, str]
) -> dict[str, str]:
    """Return the place and day that its titles lack and the lines between the rows of a table and below it tell.

    >>> sold = "The pens were sold on Friday, October 2, at Ember Lake Livestock, whom we thank"
    >>> told_around([], [], [sold], {"year": "2026"}), told_around([], [], [sold], {"date": "October 9, 2026"})
    ({'date': '2026-10-02', 'market': 'Ember Lake Livestock'}, {})
    """
    titled, day, line = parse_date(said.get("date", "")), "", ""
    if titled is None or titled.precision != "day":
        line, day = day_sold_in(below, said.get("year") or year_of_all([*above, *below]))
    named = name_beside_day(DAY_TEXT.sub(day, line)) or place_in([], between)
    return ({"date": day} if day else {}) | ({"market": named} if named and "market" not in said else {})


def names_sale(name: str) -> bool:
    """Tell whether a name is of a sale alone, as Rook Hill Calf Sale, and not of a house that holds sales.

    >>> names_sale("Rook Hill Calf Sale"), names_sale("Rook Hill Livestock Calf Sale")
    (True, False)
    """
    return bool(_SALE_NAME.search(name)) and not _PLACE.search(_SALE_NAME.sub(" ", name))


def class_in(lines: Sequence[str]) -> str:
    """Return the last title that names a class of animals, or blank; names of places don't count.

    >>> class_in(["Cow Creek Livestock Auction", "Yearling steers"]), class_in(["Slaughter cows"])
    ('Yearling steers', 'Slaughter cows')
    """
    for line in reversed(lines):
        if len(line) > _LONGEST_CLASS_TITLE or _SOURCE.search(line):
            continue
        place = market_in(line)
        line = (line.replace(place, " ") if place else line).strip(" ,;-")
        if sex_of(line) not in ("", "mixed"):
            return line
        if classify(line).reason == NOT_FEEDER and len(line.split()) <= 8 and "feeder" not in line.lower():
            return line
    return ""


def weights_in(lines: Sequence[str]) -> str:
    """Return the weight class in a title that names the class of calves too, or holds nothing else.

    >>> weights_in(["Steers, 500-600 lb, monthly average"]), weights_in(["500-600 lbs made up 31 percent"])
    ('500-600 lb', '')
    """
    for line in reversed(lines):
        found = _WEIGHTS.search(line)
        weights = found.group().strip() if found else ""
        classed = _CLASS_LINE.search(line) and len(line) <= _LONGEST_CLASS_TITLE
        told = _SENTENCE.search(line) or _MONEY.search(line)
        if weights and not told and (classed or weights == line.strip()):
            return weights
    return ""


def names_house(name: str) -> bool:
    """Tell whether a name is that of a house that holds sales: Rook Hill Livestock."""
    return bool(market_in(name)) and not names_sale(name)


def footnotes(lines: Sequence[str]) -> dict[str, str]:
    """Return the footnote marks that mean preliminary or revised.

    >>> footnotes(["* Preliminary.  n/q = no quote."])
    {'*': 'preliminary'}
    """
    return {mark.lower(): word.lower() for line in lines for mark, word in _FOOTNOTES.findall(line)}


def read_titles(
    above: Sequence[str], below: Sequence[str] = (), *, bare: Sequence[str] = ()
) -> dict[str, str]:
    """Return what the titles say, as field -> text; ``below`` counts for units and money only.

    Of the titles ``bare`` one may be nothing but the name of a place.

    Examples
    --------
    >>> said = read_titles(["Dollars per hundredweight; Medium and Large No. 1"])
    >>> said["grade"], said["price_unit"], read_titles(["Weight = pounds per head"]).get("price_unit")
    ('ML 1', '$/cwt', None)
    """
    said: dict[str, str] = {}
    lines = [line for line in above if line.strip()]
    if place := place_in(lines, bare):
        said["market"] = place
    for line in lines:
        place = market_in(line)
        grade = find_grade(line.replace(place, " ") if place else line).text
        if grade and not (grade.isdecimal() and is_date(line)):  # the number of an issue
            said["grade"] = grade
    found = {"date": sale_day_in, "year": year_in, "category": class_in, "weight_range": weights_in}
    said |= {name: text for name, look in found.items() if (text := look(lines))}
    if "date" not in said and (month := month_in(lines)):
        said["month"] = month
    for number, line in enumerate((*lines, *below)):
        if _FEES.search(line):
            continue
        if (some := _SOME_BY_HEAD.search(line)) and price_unit_of(line) == PER_HEAD:
            lighter = some["side"].lower() in ("under", "below", "less than", "lighter than")
            said["per_head_below" if lighter else "per_head_above"] = some["weight"]
            continue
        unit, money = price_unit_of(re.split(r"grain", line, flags=re.IGNORECASE)[0]), currency_of(line)
        over_table = number < len(lines)
        other = unit in (PER_HEAD, DRESSED) and (not over_table or classify(line).reason)
        if unit and not other and not (unit == PER_HEAD and _OF_WEIGHT.search(line)):
            said.setdefault("price_unit", unit)
        if money := money or "CAD" * (over_table and names_province(line)):
            said.setdefault("currency", money)
        weighed = re.search(r"weights?\b|\bwt\b", line, re.IGNORECASE) and weight_unit_of(line)
        if weighed in ("kg", "lb"):
            said.setdefault("weight_unit", weighed)
    stages = [stage for line in lines if not footnotes([line]) and (stage := _STAGE.search(line))]
    if stages:
        said["status"] = stages[0].group().title()
    return said
