"""Numbers that an adviser set by hand: known by a kept copy of what was fitted, and kept over updates."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from slidefit.errors import RegionError, SlidefitError
from slidefit.files import write_whole
from slidefit.regions.region import Region
from slidefit.regions.region_file import build_region
from slidefit.regions.region_folder import FITTED, history_folder, keep_former
from slidefit.regions.region_text import write_region
from slidefit.toml_faults import toml_tables_of, toml_text
from slidefit.toml_tables import with_comments

DAYS = "hand.json"
TABLES = (
    "price",
    "season",
    "slide_season",
    "steer",
    "heifer",
    "bull",
    "grades",
    "forecast",
    "noise",
    "basis",
)
MADE_OF_OTHERS = "spread_pct"


@dataclass(frozen=True)
class HandEdit:
    """One number set by hand: where it stands in the file, its value, the fitted one, and the day it was set."""

    where: tuple[str | int, ...]
    value: float
    fitted: float
    on: date


def hand_edits(path: str | Path) -> tuple[HandEdit, ...]:
    """Return the numbers of a region's file that differ from what was fitted; none where no fitted copy is kept.

    The day is that of the file's last change, or of the update that first found the edit.

    Raises
    ------
    RegionError. The file or the fitted copy can't be read.
    """
    days, changed = _days(path), date.fromtimestamp(Path(path).stat().st_mtime)
    return tuple(
        HandEdit(where, value, fitted, days.get(_name(where), changed))
        for where, value, fitted in file_numbers(path)
        if fitted is not None and value != fitted
    )


def _raw(path: Path) -> dict[str, Any]:
    try:
        return toml_tables_of(toml_text(path), str(path))
    except SlidefitError as fault:
        raise RegionError([fault]) from None


def _days(path: str | Path) -> dict[str, date]:
    try:
        told = json.loads((history_folder(path) / DAYS).read_text(encoding="utf-8"))
        return {name: date.fromisoformat(day) for name, day in told.items()}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return {}  # the day of the file's last change stands in


def _name(where: tuple[str | int, ...]) -> str:
    return ".".join(map(str, where))


def _numbers(raw: Any, where: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], float]]:
    """Yield the numbers that can be set by hand, with their places."""
    if isinstance(raw, dict):
        for key, value in raw.items():
            if (where or key in TABLES) and key != MADE_OF_OTHERS:
                yield from _numbers(value, (*where, key))
    elif isinstance(raw, list):
        for place, value in enumerate(raw):
            yield from _numbers(value, (*where, place))
    elif isinstance(raw, int | float) and not isinstance(raw, bool):
        yield where, float(raw)


def with_hand_edits(region: Region, edits: Sequence[HandEdit]) -> tuple[Region, tuple[HandEdit, ...]]:
    """Return a region with numbers set by hand put in, and those of them that still have a place in it.

    An edit whose place is gone (a step of weight that the records no longer reach), or that together with the others
    would not hold, is left out.
    """
    together = _tried(region, edits)
    kept = list(edits) if together is not None else []
    whole = together or region
    for edit in () if together is not None else edits:
        tried = _tried(whole, [edit])
        if tried is not None:
            whole = tried
            kept.append(edit)
    from slidefit.regions.from_fit import with_spread

    return whole.model_copy(update={"forecast": with_spread(whole.price, whole.forecast)}), tuple(kept)


def _tried(region: Region, edits: Sequence[HandEdit]) -> Region | None:
    """Return a region with some numbers put in, or None where one has no place or the whole would not hold."""
    raw = region.model_dump(mode="python", exclude_none=True)
    if not all(_put(raw, edit) for edit in edits):
        return None
    try:
        return build_region(_listed(raw), region.name, {})
    except RegionError:
        return None


def _put(raw: Any, edit: HandEdit) -> bool:
    at = raw
    for step in edit.where[:-1]:
        try:
            inner = at[step]
        except (KeyError, IndexError, TypeError):
            return False
        if isinstance(inner, tuple):
            inner = at[step] = list(inner)
        at = inner
    last = edit.where[-1]
    if (isinstance(at, dict) and last not in at) or (isinstance(at, list) and not int(last) < len(at)):
        return False
    at[last] = edit.value
    return True


def file_numbers(path: str | Path) -> tuple[tuple[tuple[str | int, ...], float, float | None], ...]:
    """Return the numbers of a file that can be set by hand: place, value, and the fitted one where that is kept.

    Raises
    ------
    RegionError. The file or the fitted copy can't be read.
    """
    copy = history_folder(path) / FITTED
    known = dict(_numbers(_raw(copy))) if copy.exists() else {}
    return tuple((where, value, known.get(where)) for where, value in _numbers(_raw(Path(path))))


def set_by_hand(path: str | Path, values: Mapping[tuple[str | int, ...], float], today: date) -> int:
    """Write numbers into a region's file, comments kept, after keeping what stood there; return how many changed.

    Where no fitted copy is kept, what stood there before the first of them is taken for what was fitted.

    Raises
    ------
    RegionError. The file can't be read, a place is not in it, or it would not hold: every problem found.
    OutputError. A file can't be written; the region's own is then as it was.
    """
    file, folder = Path(path), history_folder(path)
    raw = _raw(file)
    known = dict(_numbers(raw))
    edits = [HandEdit(w, v, known.get(w, v), today) for w, v in values.items() if known.get(w) != v]
    if not edits:
        return 0
    lost = [edit for edit in edits if edit.where not in known or not _put(raw, edit)]
    if lost:
        raise RegionError([SlidefitError(f"holds no number {_name(lost[0].where)}", where=file.name)])
    region = build_region(_listed(raw), file.name, {})
    from slidefit.regions.from_fit import with_spread

    region = region.model_copy(update={"forecast": with_spread(region.price, region.forecast)})
    before = toml_text(file)
    if not (folder / FITTED).exists():
        folder.mkdir(exist_ok=True)
        write_whole(folder / FITTED, before)
    keep_former(file)
    _write(file, region, before, (*hand_edits(file), *edits))
    return len(edits)


def _write(file: Path, region: Region, before: str, edits: Sequence[HandEdit]) -> None:
    """Write a file with the comments of what stood there, and the days of its numbers set by hand."""
    days = {_name(edit.where): edit.on.isoformat() for edit in edits}
    write_whole(file, with_comments(write_region(region), before))
    write_whole(history_folder(file) / DAYS, json.dumps(days))


def _listed(raw: Any) -> Any:
    if isinstance(raw, dict):
        return {k: _listed(v) for k, v in raw.items() if k != MADE_OF_OTHERS}
    return [_listed(v) for v in raw] if isinstance(raw, list | tuple) else raw


def write_fitted(
    region: Region, path: str | Path, edits: Sequence[HandEdit] = ()
) -> tuple[Path | None, tuple[HandEdit, ...]]:
    """Write a fitted region, numbers set by hand and comments kept, after keeping what stood there.

    Returns
    -------
    kept : path of the former version, None where there was none
    edits : the hand edits that stand in the new file

    Raises
    ------
    OutputError. A file can't be written; the region's own is then as it was.
    """
    file = Path(path)
    before = file.read_text(encoding="utf-8-sig") if file.exists() else ""
    former = keep_former(file)
    final, held = with_hand_edits(region, edits)
    folder = history_folder(file)
    folder.mkdir(exist_ok=True)
    _write(file, final, before, held)
    write_whole(folder / FITTED, write_region(region))
    return former, held
