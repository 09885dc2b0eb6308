"""JSON and XML: records wherever they stand in the document, their parents' words carried down to them."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from itertools import chain, count
from typing import Any
from xml.etree import ElementTree

import numpy as np

from slidefit.errors import RecordsError
from slidefit.records.columns import TextColumn
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.side_by_side import are_places
from slidefit.records.reading.spreadsheets import cell_text
from slidefit.records.reading.tables import MOST_COLUMNS, Grid, Table
from slidefit.records.words.animals import AnimalClass, classify, leftover_words, sex_of
from slidefit.records.words.dates import is_full_date
from slidefit.records.words.fields import PRICE_FIELDS, WEIGHT_FIELDS, field_of, normal
from slidefit.records.words.headings import ColumnHeading, parse_heading, parse_headings
from slidefit.records.words.titles import read_titles
from slidefit.records.words.units import parse_weight_class
from slidefit.records.words.vocabulary import VOCABULARY

_MOST_INHERITED_CHARACTERS = 200
MOST_DEPTH = 64  # lists, records or elements inside one another; a web service's answer has about ten
_WRAPPERS = frozenset(VOCABULARY["json"]["wrappers"].split())
_ENDS = frozenset(VOCABULARY["json"]["ends"].split())
_SCALARS = (str, int, float, bool, type(None))


def json_document(text: str, name: str) -> Any:
    """Return the document of a JSON text; one document a line is a list of documents.

    Raises
    ------
    RecordsError
        The text is no JSON.
    """
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as fault:
        try:
            return [json.loads(line) for line in text.split("\n") if line.strip()]
        except (ValueError, RecursionError):
            raise RecordsError(
                f"is no JSON ({str(fault)[:80]})", where=name, remedy="Fetch or save it again."
            ) from fault


def xml_document(text: str, name: str) -> Any:
    """Return an XML text as lists and records: attributes and elements by their names, repeated ones as lists.

    Raises
    ------
    RecordsError
        The text is no XML, is nested too deep, or declares a document type, whose entities could unfold without end.

    Examples
    --------
    >>> lots = "<sale day='2026-10-08'><lot><wt unit='lb'>512</wt></lot><lot><wt unit='lb'>498</wt></lot></sale>"
    >>> xml_document(lots, "a")
    {'day': '2026-10-08', 'lot': [{'wt': {'value': '512', 'unit': 'lb'}}, {'wt': {'value': '498', 'unit': 'lb'}}]}
    """
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise RecordsError(
            "the XML declares a document type, which is not read",
            where=name,
            remedy="Save it as CSV or JSON.",
        )
    try:
        root = ElementTree.fromstring(text.strip())
    except ElementTree.ParseError as fault:
        raise RecordsError(
            f"is no XML ({str(fault)[:80]})", where=name, remedy="Fetch or save it again."
        ) from fault
    if any(_plain(element.tag) == "Worksheet" for element in root):  # a spreadsheet saved as XML
        sheets = [element for element in root.iter() if _plain(element.tag) == "Table"]
        return {f"sheet {number}": [*map(_cells, sheet)] for number, sheet in enumerate(sheets, 1)}
    lists = {
        (parent.tag, tag)
        for parent in root.iter()
        for tag, times in Counter(child.tag for child in parent).items()
        if times > 1
    }
    told = _value(root, lists, name, MOST_DEPTH)
    return {_plain(root.tag): told} if _holds_records(told) and "name" in told else told


def _plain(tag: str) -> str:
    return tag.rpartition("}")[2]


def _cells(row: ElementTree.Element) -> list[str]:
    """Return the cells of a row; one that tells its place stands there, behind blank ones."""
    cells: list[str] = []
    for cell in row:
        place = next((value for key, value in cell.attrib.items() if _plain(key) == "Index"), "")
        if place.isdecimal():
            cells += [""] * (min(int(place), MOST_COLUMNS) - 1 - len(cells))
        cells.append("".join(cell.itertext()).strip())
    return cells


def _value(element: ElementTree.Element, lists: Set[tuple[str, str]], name: str, depth: int) -> Any:
    if not depth:
        raise RecordsError(f"the XML is nested more than {MOST_DEPTH} deep", where=name)
    text = (element.text or "").strip()
    found: dict[str, Any] = {_plain(key): value for key, value in element.attrib.items()}
    if not len(element):
        return {"value": text, **found} if found and text else found or text
    for child in element:
        value, key = _value(child, lists, name, depth - 1), _plain(child.tag)
        if (element.tag, child.tag) in lists:
            found.setdefault(key, []).append(value)
        else:
            found[key] = value
    return found


def json_tables(document: Any, name: str, options: ReadOptions) -> tuple[list[Table], list[Grid]]:
    """Return the tables in a document, lists of records with the same keys put together; lists of lists as grids.

    Raises
    ------
    RecordsError
        The document is nested more than ``MOST_DEPTH`` deep.
    """
    if _deeper(document, MOST_DEPTH):
        raise RecordsError(
            f"the document holds lists inside one another more than {MOST_DEPTH} deep",
            where=name,
            remedy="Save the list of sales alone.",
        )
    found = [item for item in _record_lists(document, {}) if item]
    grids = [
        Grid(
            name,
            [[cell_text(cell) if isinstance(cell, _SCALARS) else "" for cell in row] for row in item],
            list(range(1, len(item) + 1)),
        )
        for item in found
        if isinstance(item[0], list)
    ]
    groups: dict[frozenset[str], list[tuple[int, Mapping[str, str]]]] = defaultdict(list)
    numbers = count(1)
    for item in found:
        if not isinstance(item[0], list):
            groups[frozenset().union(*item)] += [(next(numbers), record) for record in item]
    return [_table(rows, name, options) for rows in _pointed([*groups.values()])], grids


_Rows = list[tuple[int, Mapping[str, str]]]


def _pointed(lists: list[_Rows]) -> list[_Rows]:
    """Return lists of records with what the shorter list says that each points to by its id, as lots to their sale.

    >>> _pointed([[(1, {"sale_id": "7"})], [(2, {"id": "7", "day": "10/6/26"})]])
    [[(1, {'id': '7', 'day': '10/6/26', 'sale_id': '7'})]]
    """
    for told in lists:
        by_id = {record.get("id", ""): record for _, record in told}
        for rows in lists:
            keys = [key for key in rows[0][1] if normal(key).split()[-1:] == ["id"] and normal(key) != "id"]
            keys = [key for key in keys if all(record.get(key) in by_id for _, record in rows)]
            if (
                rows is told
                or "" in by_id
                or len(keys) != 1
                or len(by_id) < len(told)
                or len(told) > len(rows)
            ):
                continue
            name, records = " ".join([*normal(keys[0]).split()[-2:-1], "name"]), [each for _, each in rows]
            for place, (number, record) in enumerate(rows):
                own = _without_counts(by_id[record[keys[0]]], records)
                rows[place] = number, {name if key == "name" else key: own[key] for key in own} | dict(record)
            return _pointed([each for each in lists if each is not told])
    return lists


def _deeper(value: Any, depth: int) -> bool:
    """Tell whether lists and records lie inside one another more than so many deep.

    >>> _deeper([[1]], 2), _deeper([[1]], 1)
    (False, True)
    """
    inner = value.values() if isinstance(value, Mapping) else value if isinstance(value, list) else None
    return inner is not None and (depth == 0 or any(_deeper(item, depth - 1) for item in inner))


def _uprighted(value: Mapping[str, Any]) -> Any:
    """Return a table written by columns, by row number, or as names and rows, as a list of records; others unchanged.

    >>> _uprighted({"sex": {"0": "steer"}, "price": {"0": 250.0}})
    [{'sex': 'steer', 'price': 250.0}]
    >>> _uprighted({"columns": ["sex", "price"], "data": [["steer", 250.0]]})
    [{'sex': 'steer', 'price': 250.0}]
    """
    lists = {key: item for key, item in value.items() if isinstance(item, list) and item}
    rest = {key: item for key, item in value.items() if not isinstance(item, list)}
    rows = [item for item in lists.values() if all(isinstance(row, list) for row in item)]
    if len(rows) == 1:
        texts = [item for item in lists.values() if all(isinstance(name, str) for name in item)]
        names = next((item for item in texts if len(item) == len(rows[0][0])), None)
        if names is not None:
            return [{**_flat(rest), **dict(zip(names, row, strict=False))} for row in rows[0]]
    plain = all(isinstance(cell, _SCALARS) for item in lists.values() for cell in item)
    if len(lists) > 1 and plain and len(set(map(len, lists.values()))) == 1:
        return [
            {**_flat(rest), **dict(zip(lists, row, strict=True))} for row in zip(*lists.values(), strict=True)
        ]
    inner = list(value.values())
    if len(inner) < 2 or not all(isinstance(part, Mapping) and part for part in inner):
        return value
    if len({frozenset(part) for part in inner}) > 1 or any(_holds_records(part) for part in inner):
        return value
    if sum(field_of(str(key)) is not None for key in value) >= 2:
        return [{key: part[row] for key, part in value.items()} for row in inner[0]]
    if sum(field_of(str(key)) is not None for key in inner[0]) < 2:
        return value
    return [{**_named_by(str(key), value), **part} for key, part in value.items()]


def _record_lists(value: Any, inherited: Mapping[str, str], label: str = "") -> Iterator[list[Any]]:
    """Return every list of flat records (or of lists) in a document; ``label`` is the key that it stands under."""
    if isinstance(value, Mapping):
        value = _uprighted(value)
    if isinstance(value, Mapping):
        nested = {key: item for key, item in value.items() if _holds_records(item)}
        told = _flat({key: item for key, item in value.items() if key not in nested})
        own = dict(inherited)
        for key, text in told.items():
            if len(text) <= _MOST_INHERITED_CHARACTERS:
                own[_name_of(label, text) if key == "name" else key] = text
        if nested:
            for key, item in nested.items():
                yield from _record_lists(_ends_named(key, item), own | _named_by(key, nested), key)
        elif value:
            yield [{**inherited, **_flat(value)}]
    elif isinstance(value, list) and value:
        if all(isinstance(item, list) for item in value):
            if inherited and all(isinstance(cell, str) for cell in value[0]):
                names = [str(cell) for cell in value[0]]
                yield [{**inherited, **_flat(dict(zip(names, row, strict=False)))} for row in value[1:]]
            else:
                yield value
            return
        flat = [_flat(item) for item in value if isinstance(item, Mapping) and not _is_deep(item)]
        own = _without_counts(inherited, flat)
        if flat:
            yield [own | item for item in flat]
        for item in filter(_is_deep, value):
            yield from _record_lists(item, own, label)


def _name_of(label: str, text: str) -> str:
    """Return what the name of a record that holds records tells: a class, the place of sale, or but a name."""
    if classify(text) != AnimalClass() and not leftover_words(text):  # as Feeder Steers is
        return "class"
    return "market" if label.lower() != "sale" and parse_heading(label).field == "market" else "name"


def _named_by(key: str, keys: Mapping[str, Any]) -> dict[str, str]:
    """Return what the key of a list of records tells of them: class, day, weight, or place beside others.

    >>> _named_by("2026-09-10", {}), _named_by("500-600", {}), _named_by("lots", {})
    ({'date': '2026-09-10'}, {'weight range': '500-600'}, {})
    >>> _named_by("Ash Flat", {"Ash Flat": [], "Boone Mill": []})
    {'market': 'Ash Flat'}
    """
    if classify(key) != AnimalClass():
        return {"class": key}
    if is_full_date(key):
        return {"date": key}
    if (weights := parse_weight_class(key)) is not None and weights.low < weights.high:
        return {"weight range": key}
    return {"market": key} if are_places(list(keys), 2) else {}


_TOTALS = frozenset(VOCABULARY["json"]["totals"].split())


def _without_counts(inherited: Mapping[str, str], records: Sequence[Mapping[str, str]]) -> dict[str, str]:
    """Return what holds for records of a list without counts of the list: they are no head of its lots.

    >>> _without_counts({"totalCount": "40", "sex": "steer"}, [{"price": "250"}])
    {'sex': 'steer'}
    """

    counts = {key for key in (*inherited, *chain(*records[:1])) if parse_heading(key).field == "head"}
    lone = len(records) == 1 and not counts & records[0].keys()
    counts = {key for key in counts if not lone or _TOTALS & set(normal(key).split())}
    return {key: text for key, text in inherited.items() if key not in counts}


def _measure_of(key: str) -> str:
    """Return what a key's values measure, weight or price, or blank."""
    name = (field_of(key) or ("", 0))[0]
    return "weight" if name in WEIGHT_FIELDS else "price" if name in PRICE_FIELDS else ""


def _ends_named(key: str, value: Any) -> Any:
    """Return the records of a list with bare ends named after it: ``low`` in a list of weights is a low weight."""
    word = _measure_of(key)
    if not word or not isinstance(value, list):
        return value
    return [
        {f"{word} {inner}" if inner.lower() in _ENDS else inner: cell for inner, cell in item.items()}
        if isinstance(item, Mapping)
        else item
        for item in value
    ]


def _holds_records(value: Any) -> bool:
    """Tell whether a value is, or holds, a list of records."""
    if isinstance(value, list):
        return any(isinstance(item, Mapping | list) for item in value)
    return isinstance(value, Mapping) and (isinstance(_uprighted(value), list) or _is_deep(value))


def _is_deep(value: Any) -> bool:
    """Tell whether a value is a list, or a record that holds records."""
    return isinstance(value, list) or (
        isinstance(value, Mapping) and any(map(_holds_records, value.values()))
    )


def _measured(key: str, value: Any) -> dict[str, str]:
    """Return a measure told as an amount with its unit, each by its own name; nothing for any other value.

    >>> _measured("avgWeight", {"value": 552, "unit": "lb"}), _measured("price", {"amount": 385.25, "per": "cwt"})
    ({'avgWeight': '552', 'weight unit': 'lb'}, {'price': '385.25', 'price unit': 'cwt'})
    >>> _measured("hammer", {"amountCents": 38525, "basis": "CWT", "ccy": "USD"})
    {'hammer': '38525', 'price unit': 'cents per CWT', 'currency': 'USD'}
    """
    word = _measure_of(key)
    if not word or not isinstance(value, Mapping):
        return {}
    cents = "cents per " if any("cents" in normal(inner).split() for inner in value) else ""
    told: dict[str, str] = {}
    for inner, cell in value.items():
        words = set(normal(inner).split())
        if words <= {"value", "amount", "cents"}:
            told[key] = cell_text(cell)
        elif words <= {"unit", "per", "uom", "basis"}:
            told[f"{word} unit"] = cents + cell_text(cell).removeprefix("per " if cents else "")
        elif words <= {"currency", "ccy", "cur", "code"}:
            told["currency"] = cell_text(cell)
        else:
            return {}
    return told


def _flat(record: Mapping[str, Any], before: str = "") -> dict[str, str]:
    flat: dict[str, str] = {}
    for key, value in record.items():
        if measured := _measured(key, value):
            flat.update(measured)
        elif isinstance(value, Mapping):
            flat.update(_flat(value, before if key.lower() in _WRAPPERS else f"{before}{key} "))
        elif isinstance(value, list):
            flat[f"{before}{key}"] = "; ".join(
                cell_text(item) for item in value if isinstance(item, _SCALARS)
            )
        else:
            flat[f"{before}{key}"] = cell_text(value)
    return flat


def _table(rows: list[tuple[int, Mapping[str, str]]], name: str, options: ReadOptions) -> Table:
    keys = list(dict.fromkeys(key for _, record in rows for key in record))[:MOST_COLUMNS]
    columns = [TextColumn.of([record.get(key, "").strip() for _, record in rows]) for key in keys]
    headings = parse_headings(keys, options.mapping)
    titles = [at for at, column in enumerate(columns) if _is_title(headings[at], column)]
    texts = [columns[at].values[0] for at in titles]
    said = read_titles(texts)
    if len({sex_of(text) for text in texts} - {""}) > 1:  # a key to codes, and not the class of them all
        said.pop("category", "")
    lines = tuple(f"{keys[at].split()[-1]}: {text}" for at, text in zip(titles, texts, strict=True))
    left = [at for at in range(len(keys)) if at not in titles]
    return Table(
        name,
        tuple(headings[at] for at in left),
        tuple(columns[at] for at in left),
        np.array([number for number, _ in rows], dtype=np.int64),
        said,
        lines,
    )


def _is_title(heading: ColumnHeading, column: TextColumn) -> bool:
    """Tell whether a key that is not understood, or holds notes, has one text of several words for all records."""
    told = heading.unexplained or heading.field == "remarks"
    return told and len(column) > 1 and len(column.values) == 1 and " " in column.values[0]
