"""Files, folders, archives, standard input; encodings; likely number of rows."""

from __future__ import annotations

import codecs
import gzip
import io
import re
import sys
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from slidefit.errors import RecordsError

MOST_UNPACKED_BYTES = 1 << 30
MOST_PACKED_RATIO = 300
RATIO_FROM_BYTES = 20 << 20
_MOST_MEMBERS = 5_000
_DEEPEST = 2
_MAIL_HEAD = 1 << 13
# the head of a mail: RFC 2045, section 4
_MAIL = re.compile(rb"(?:[\w-]{2,40}:[^\n]*\n(?:[ \t][^\n]*\n)*)*?MIME-Version:", re.IGNORECASE)
_SKIPPED_SUFFIXES = frozenset(  # files of other programs that lie beside sale records
    f".{suffix}"
    for suffix in "duckdb wal png jpg jpeg gif svg html htm py toml md lock tmp doc docx ppt pptx mp4 mp3".split()  # noqa: SIM905
)


@dataclass(frozen=True)
class Source:
    """One piece of content: its label, and its bytes or (for a plain file on disk) its path."""

    name: str
    data: bytes = b""
    path: Path | None = None

    def content(self, size: int | None = None) -> bytes:
        """Return all bytes, or the first ones.

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
    head = source.content(8)
    if head[:2] == b"\x1f\x8b":
        data = _gunzipped(source)
        yield from _opened(Source(source.name.removesuffix(".gz"), data), depth + 1)
    elif head[:4] == b"PK\x03\x04" and not is_workbook(source):
        if depth >= _DEEPEST:
            raise RecordsError(
                "an archive inside an archive inside an archive is not opened",
                where=source.name,
                remedy="Unpack it first.",
            )
        for member in _members(source):
            yield from _opened(member, depth + 1)
    elif _MAIL.match(source.content(_MAIL_HEAD)):
        yield from _of_mail(source)
    else:
        yield source


_FEWEST_NUMBERS = 4  # a plain part with fewer only points to the other one


def _of_mail(source: Source) -> Iterator[Source]:
    """Return the text of a mail below its subject and the day it was sent, and the files that came with it."""
    from email import message_from_bytes
    from email.policy import default

    mail = message_from_bytes(source.content(), policy=default)
    bodies = filter(None, (mail.get_body([kind]) for kind in ("plain", "html")))
    body = max(
        bodies,
        key=lambda part: len(re.findall(r"\d+", str(part.get_content()))) >= _FEWEST_NUMBERS,
        default=None,
    )
    files = [part for part in mail.iter_attachments() if part.get_filename()]
    text = str(body.get_content()) if body is not None else ""
    if body is not None and body.get_content_subtype() == "plain":
        text = f"Subject: {mail['subject'] or ''}\nSent: {mail['date'] or ''}\n\n{text}"
    if text.strip():
        yield Source(source.name if not files else f"{source.name}/mail", text.encode())
    for part in files:
        packed = part.get_payload(decode=True)
        yield Source(f"{source.name}/{part.get_filename()}", packed if isinstance(packed, bytes) else b"")


_DAMAGED = (zipfile.BadZipFile, OSError, EOFError, zlib.error, NotImplementedError, ValueError)


@contextmanager
def _damage_of(what: str, name: str) -> Iterator[None]:
    """Tell whatever a damaged archive makes its reader trip over as damage."""
    try:
        yield
    except _DAMAGED as fault:
        raise RecordsError(f"{what} is damaged", where=name, remedy="Fetch or pack it again.") from fault


def _gunzipped(source: Source) -> bytes:
    packed = source.content()
    with _damage_of("the .gz file", source.name), gzip.GzipFile(fileobj=io.BytesIO(packed)) as file:
        data = file.read(MOST_UNPACKED_BYTES + 1)
    _check_size(source.name, len(packed), len(data))
    return data


def _check_size(name: str, packed: int, unpacked: int) -> None:
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
    with _damage_of("the archive", source.name):
        archive = zipfile.ZipFile(source.path if source.path is not None else io.BytesIO(source.data))
        members = archive.infolist()
    if len(members) > _MOST_MEMBERS:
        raise RecordsError(
            f"the archive holds {len(members):,} members",
            where=source.name,
            remedy="Unpack it yourself if you trust it.",
        )
    packed = sum(member.compress_size for member in members)
    _check_size(source.name, packed, sum(member.file_size for member in members))
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
            with _damage_of(f"{base} in the archive", source.name), archive.open(member) as file:
                data = file.read(MOST_UNPACKED_BYTES + 1)
            _check_size(source.name, member.compress_size, len(data))
            found = True
            yield Source(f"{source.name}/{base}", data)
    if not found:
        raise RecordsError("the archive is empty", where=source.name)


def is_workbook(source: Source) -> bool:
    """Tell whether a zip container is a spreadsheet (.xlsx or .ods)."""
    try:
        with open_zip(source) as archive:
            names = set(archive.namelist())
    except RecordsError:
        return False
    return "xl/workbook.xml" in names or "content.xml" in names


_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_PLAIN = str.maketrans(
    {
        **dict.fromkeys(
            "\u200b\u200c\u200d\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\ufeff\u00ad", None
        ),
        **dict.fromkeys("\u00a0\u2007\u2009\u202f\u3000", " "),
        **{chr(0xFF01 + place): chr(0x21 + place) for place in range(94)},
    }
)
_MOST_CONTROL_SHARE = 0.005
_ZEROS = re.compile(r"\x00{8,}")  # a block that was never written, as after a crash
# UTF-8 read as another code
_LOST_DASH = re.compile("\u00e2\u20ac[\u2013\u2014\u201c\u201d]|(?<=\\d)\ufffd(?=\\d)")
_CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\r\f\x1a\x0b")


def plain(text: str) -> str:
    """Return a text without invisible signs, its blanks and full-width letters and digits made ordinary.

    >>> plain("\u200e251.25\u200f"), plain("\uff15\uff11\uff12"), plain("1\u00a0046")
    ('251.25', '512', '1 046')
    """
    return text if text.isascii() else text.translate(_PLAIN)


def encoding_of(head: bytes, name: str) -> str:
    """Return the encoding of a text by its first bytes: UTF-8, UTF-16, UTF-32, Mac Roman or Windows-1252.

    Raises
    ------
    RecordsError
        The bytes are no text.
    """
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return encoding
    sample = head[:4096]
    for high, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):  # plain letters leave every other byte empty
        empty, full = sample[high::2], sample[1 - high :: 2]
        if len(sample) >= 4 and empty.count(0) > 0.4 * len(empty) and full.count(0) < 0.1 * len(sample):
            return encoding
    head = re.sub(_ZEROS.pattern.encode(), b"", head)
    controls = len(head) - len(head.translate(None, _CONTROLS))
    if controls > _MOST_CONTROL_SHARE * len(head):
        raise RecordsError(
            "is neither text nor a spreadsheet that can be read",
            where=name,
            remedy="Save it as CSV or Excel and add that.",
        )
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head, final=False)
    except UnicodeDecodeError:  # lines that end in CR alone are of a Macintosh, which then wrote Mac Roman
        return "mac_roman" if b"\r" in head and b"\n" not in head else "cp1252"
    return "utf-8"


def _decoded_line(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("cp1252", errors="replace")


def decoded(data: bytes, name: str) -> str:
    """Return the text of a file, line ends made alike.

    Raises
    ------
    RecordsError
        The bytes are no text.
    """
    encoding = encoding_of(data[: 1 << 20], name)
    if encoding in ("utf-8", "cp1252"):
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:  # lines of two programs in one file: each by itself
            text = "\n".join(map(_decoded_line, data.split(b"\n")))
    else:
        text = data.decode(encoding, errors="replace")
    text = _LOST_DASH.sub("-", text.replace("\r\n", "\n").replace("\r", "\n"))
    return plain(_ZEROS.sub("\ufffd", text).replace("\x00", ""))


_LOOK_BYTES = 262_144
_PLAIN_TEXT = frozenset({".csv", ".tsv", ".txt", ".psv", ".dat"})


def expected_rows(paths: Iterable[str | Path]) -> int | None:
    """Return the likely number of rows: size over the length of a line; None where a file isn't plain text.

    Examples
    --------
    >>> expected_rows(["missing.csv"]) is None
    True
    """
    rows = 0.0
    for path in map(Path, paths):
        if path.suffix.lower() not in _PLAIN_TEXT or not path.is_file():
            return None
        with path.open("rb") as file:
            look = file.read(_LOOK_BYTES)
        lines = look.count(b"\n")
        rows += path.stat().st_size / (len(look) / lines) if lines else 1.0
    return max(round(rows), 1)
