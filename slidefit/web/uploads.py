"""Files that a browser sent, held for a while under names of our own, and taken away again."""

from __future__ import annotations

import dataclasses
import re
import secrets
import shutil
import tempfile
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from slidefit.errors import RecordsError
from slidefit.records.reading import read
from slidefit.records.result import ReadResult

HELD_SECONDS = 1800.0
MOST_HELD = 40
MOST_FILES = 50
LONGEST_NAME = 80
UNSHOWN = re.compile(r"[\x00-\x1f\x7f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True)
class Upload:
    """Files held for one browser: paths of ours, and the names that the browser gave them, for show only."""

    owner: str
    folder: Path
    names: Mapping[str, str]
    until: float

    def paths(self) -> list[Path]:
        """Return the files, in the order in which they came."""
        return [self.folder / name for name in self.names]


def shown_name(given: str | None) -> str:
    """Return the last part of a name from a browser, for show only.

    >>> shown_name("../../etc/passwd"), shown_name("C:\\\\sales.csv"), shown_name("")
    ('passwd', 'sales.csv', 'a file without a name')
    """
    last = re.split(r"[/\\]", given or "")[-1]
    return UNSHOWN.sub("", last).strip()[-LONGEST_NAME:] or "a file without a name"


class Uploads:
    """Holds uploads by a number that can't be guessed; each is removed when it was used, or after half an hour."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: dict[str, Upload] = {}
        self._root = tempfile.TemporaryDirectory(prefix="slidefit-page-")

    def hold(self, owner: str, files: Sequence[tuple[str | None, BinaryIO]]) -> str:
        """Keep files for a browser; return the number to ask for them by.

        Raises
        ------
        RecordsError
            No file, or too many at once.
        """
        if not files:
            raise RecordsError("no file was chosen", remedy="Choose one or more files of sale records.")
        if len(files) > MOST_FILES:
            raise RecordsError(
                f"{len(files)} files at once; the page takes {MOST_FILES}", remedy="Add them in parts."
            )
        folder = Path(tempfile.mkdtemp(dir=self._root.name))
        names = {}
        for given, stream in files:
            name = f"upload-{secrets.token_hex(8)}"
            with (folder / name).open("wb") as file:
                shutil.copyfileobj(stream, file)
            names[name] = shown_name(given)
        number = secrets.token_hex(16)
        with self._lock:
            self._held[number] = Upload(owner, folder, names, time.monotonic() + HELD_SECONDS)
        self.sweep()
        return number

    def find(self, number: str, owner: str) -> Upload:
        """Return what is held under a number for this browser.

        Raises
        ------
        RecordsError
            Nothing is held under it, or it is another browser's.
        """
        self.sweep()
        with self._lock:
            found = self._held.get(number)
        if found is None or found.owner != owner:
            raise RecordsError("the files are no longer held here", remedy="Choose them again.")
        return found

    def drop(self, number: str) -> None:
        """Take the files of a number away."""
        with self._lock:
            found = self._held.pop(number, None)
        if found is not None:
            shutil.rmtree(found.folder, ignore_errors=True)

    def sweep(self) -> None:
        """Take away what is held too long, and the oldest when too much is held."""
        now = time.monotonic()
        with self._lock:
            old = [number for number, each in self._held.items() if each.until < now]
            spare = len(self._held) - len(old) - MOST_HELD
            old += [number for number in self._held if number not in old][: max(spare, 0)]
        for number in old:
            self.drop(number)

    def close(self) -> None:
        """Take everything away."""
        with self._lock:
            self._held.clear()
        self._root.cleanup()


def read_upload(upload: Upload, *, mapping: Mapping[str, str], said: Mapping[str, str | None]) -> ReadResult:
    """Read held files as sale records; the result names them as the browser did.

    Parameters
    ----------
    mapping : mapping of heading to field
    said : mapping
        ``market``, ``currency``, ``price_unit``, ``weight_unit``, ``date_order``, ``sheet`` as far as the user told.

    Raises
    ------
    RecordsError
        A file can't be read as a whole, or can be read in two ways.
    """
    try:
        result = read(upload.paths(), mapping=mapping or None, **dict(said))  # type: ignore[arg-type]
    except RecordsError as fault:
        told = (renamed(text, upload.names) for text in (fault.what, fault.where, fault.remedy))
        what, where, remedy = told
        raise type(fault)(what, where=where, remedy=remedy) from None
    return with_names(result, upload.names)


def renamed(text: str, names: Mapping[str, str]) -> str:
    """Return a text with our names of files, and the folders before them, replaced by the browser's."""
    for ours, shown in names.items():
        text = re.sub(rf"(?:/[^\s:]*/)?{ours}", lambda _, shown=shown: shown, text)  # type: ignore[misc]
    return text


def with_names(result: ReadResult, names: Mapping[str, str]) -> ReadResult:
    """Return what was read with the browser's names of the files in place of ours."""
    return dataclasses.replace(
        result,
        parts=tuple(dataclasses.replace(part, file=renamed(part.file, names)) for part in result.parts),
        files=tuple(
            dataclasses.replace(
                account,
                name=renamed(account.name, names),
                notes=tuple(renamed(note, names) for note in account.notes),
            )
            for account in result.files
        ),
        aside=tuple(file.named(renamed(file.file, names)) for file in result.aside),
        notes=tuple(renamed(note, names) for note in result.notes),
    )
