"""Records in XML as the lists and records of a JSON document, so that one reader serves both."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from slidefit.errors import RecordsError
from slidefit.records.reading.tables import MOST_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Set

MOST_DEPTH = 64  # elements inside one another, as in JSON


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
    return _value(root, lists, name, MOST_DEPTH)


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
