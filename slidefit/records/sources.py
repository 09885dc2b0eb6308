"""From what the user names (files, folders, archives, standard input) to single pieces of content, safely."""

from __future__ import annotations

import gzip
import io
import sys
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from slidefit.errors import RecordsError

MOST_UNPACKED_BYTES = 1 << 30
MOST_PACKED_RATIO = 300
RATIO_FROM_BYTES = 20 << 20
MOST_MEMBERS = 5_000
DEEPEST = 2
_SKIPPED_SUFFIXES = frozenset(
    {
        ".duckdb",
        ".wal",
        ".png",
        ".jpg",
        ".jpeg",
        ".gif",
        ".svg",
        ".html",
        ".htm",
        ".py",
        ".toml",
        ".md",
        ".lock",
        ".tmp",
        ".doc",
        ".docx",
        ".ppt",
        ".pptx",
        ".mp4",
        ".mp3",
    }
)


@dataclass(frozen=True)
class Source:
    """One piece of content: its label, and its bytes or (for a plain file on disk) its path."""

    name: str
    data: bytes = b""
    path: Path | None = None

    def content(self) -> bytes:
        """Return all bytes.

        Raises
        ------
        RecordsError
            The file can't be read.
        """
        if self.path is None:
            return self.data
        try:
            return self.path.read_bytes()
        except OSError as fault:
            raise RecordsError(f"can't be read ({fault.strerror})", where=self.name) from fault

    def head(self, size: int = 1 << 16) -> bytes:
        """Return the first bytes.

        Raises
        ------
        RecordsError
            The file can't be read.
        """
        if self.path is None:
            return self.data[:size]
        try:
            with self.path.open("rb") as file:
                return file.read(size)
        except OSError as fault:
            raise RecordsError(f"can't be read ({fault.strerror})", where=self.name) from fault


def sources(paths: Sequence[str | Path]) -> Iterator[Source]:
    """Return every piece of content behind the paths, folders in the order of names, archives opened.

    Raises
    ------
    RecordsError
        Nothing is there, a folder holds no file, or an archive is damaged or too large once unpacked.
    """
    for item in paths:
        if str(item) == "-":
            yield from _opened(Source("standard input", sys.stdin.buffer.read()))
            continue
        path = Path(item)
        if path.is_dir():
            yield from _folder(path)
        elif not path.exists():
            raise RecordsError(
                "there is no such file", where=str(item), remedy="Check the name and the folder."
            )
        elif not path.is_file():
            raise RecordsError("is no ordinary file", where=str(item), remedy="Give a file or a folder.")
        else:
            yield from _opened(Source(path.name, path=path))


def _folder(folder: Path) -> Iterator[Source]:
    """Return the files of a folder and its folders; hidden files and those of other programs are passed over."""
    files = [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and not any(part.startswith((".", "~$")) for part in path.relative_to(folder).parts)
        and path.suffix.lower() not in _SKIPPED_SUFFIXES
    ]
    if not files:
        raise RecordsError(
            "the folder holds no file that could be read",
            where=str(folder),
            remedy="Put sale records there, or name a file.",
        )
    for path in files:
        yield from _opened(Source(str(path.relative_to(folder)), path=path))


def _opened(source: Source, depth: int = 0) -> Iterator[Source]:
    """Return the source itself, or what is packed in it."""
    head = source.head(8)
    if head[:2] == b"\x1f\x8b":
        data = _gunzipped(source)
        yield from _opened(Source(source.name.removesuffix(".gz"), data), depth + 1)
    elif head[:4] == b"PK\x03\x04" and not is_workbook(source):
        if depth >= DEEPEST:
            raise RecordsError(
                "an archive inside an archive inside an archive is not opened",
                where=source.name,
                remedy="Unpack it first.",
            )
        for member in _members(source):
            yield from _opened(member, depth + 1)
    else:
        yield source


def _gunzipped(source: Source) -> bytes:
    """Unpack a .gz within the limits."""
    packed = source.content()
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(packed)) as file:
            data = file.read(MOST_UNPACKED_BYTES + 1)
    except (OSError, EOFError, zlib.error) as fault:
        raise RecordsError(
            "the .gz file is damaged", where=source.name, remedy="Fetch or pack it again."
        ) from fault
    _check_size(source.name, len(packed), len(data))
    return data


def _check_size(name: str, packed: int, unpacked: int) -> None:
    """Refuse what swells beyond reason."""
    if unpacked > MOST_UNPACKED_BYTES or (
        unpacked > RATIO_FROM_BYTES and unpacked > MOST_PACKED_RATIO * max(packed, 1)
    ):
        raise RecordsError(
            "unpacks to far more than sale records would",
            where=name,
            remedy="Unpack it yourself if you trust it, and add the files.",
        )


def open_zip(source: Source) -> zipfile.ZipFile:
    """Open a zip container after a check of its declared sizes.

    Raises
    ------
    RecordsError
        It is damaged or too large once unpacked.
    """
    try:
        archive = zipfile.ZipFile(source.path if source.path is not None else io.BytesIO(source.data))
        members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as fault:
        raise RecordsError(
            "the archive is damaged", where=source.name, remedy="Fetch or pack it again."
        ) from fault
    if len(members) > MOST_MEMBERS:
        raise RecordsError(
            f"the archive holds {len(members):,} members",
            where=source.name,
            remedy="Unpack it yourself if you trust it.",
        )
    _check_size(
        source.name,
        sum(member.compress_size for member in members),
        sum(member.file_size for member in members),
    )
    return archive


def _members(source: Source) -> Iterator[Source]:
    """Return the files of a zip; their paths are only labels, nothing is written to disk."""
    with open_zip(source) as archive:
        found = False
        for member in sorted(archive.infolist(), key=lambda item: item.filename):
            base = member.filename.rsplit("/", 1)[-1]
            if member.is_dir() or base.startswith(".") or "__MACOSX" in member.filename:
                continue
            if member.flag_bits & 1:
                raise RecordsError(
                    "the archive is locked with a password", where=source.name, remedy="Unpack it first."
                )
            try:
                with archive.open(member) as file:
                    data = file.read(MOST_UNPACKED_BYTES + 1)
            except (
                zipfile.BadZipFile,
                OSError,
                EOFError,
                zlib.error,
                NotImplementedError,
                ValueError,
            ) as fault:
                raise RecordsError(
                    f"{base} in the archive is damaged", where=source.name, remedy="Fetch or pack it again."
                ) from fault
            _check_size(source.name, member.compress_size, len(data))
            found = True
            yield Source(f"{source.name}/{base}", data)
    if not found:
        raise RecordsError("the archive is empty", where=source.name)


def is_workbook(source: Source) -> bool:
    """Tell whether a zip container is a spreadsheet (.xlsx or .ods)."""
    try:
        with zipfile.ZipFile(source.path if source.path is not None else io.BytesIO(source.data)) as archive:
            names = set(archive.namelist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return False
    return "xl/workbook.xml" in names or "content.xml" in names
