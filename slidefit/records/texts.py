"""Bytes to text: the encodings that sale files come in, and a plain no to what is no text."""

from __future__ import annotations

import codecs

from slidefit.errors import RecordsError

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
MOST_CONTROL_SHARE = 0.005
_CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\r\f\x1a\x0b")


def plain(text: str) -> str:
    """Return a text without invisible signs, its blanks and full-width letters and digits made ordinary.

    >>> plain("\u200e251.25\u200f"), plain("\uff15\uff11\uff12"), plain("1\u00a0046")
    ('251.25', '512', '1 046')
    """
    return text if text.isascii() else text.translate(_PLAIN)


def encoding_of(head: bytes, name: str) -> str:
    """Return the encoding of a text by its first bytes: UTF-8, UTF-16, UTF-32 or Windows-1252.

    Raises
    ------
    RecordsError
        The bytes are no text.
    """
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return encoding
    sample = head[:4096]
    if (
        len(sample) >= 4
        and sample[1::2].count(0) > 0.4 * len(sample[1::2])
        and sample[::2].count(0) < 0.1 * len(sample)
    ):
        return "utf-16-le"
    if (
        len(sample) >= 4
        and sample[::2].count(0) > 0.4 * len(sample[::2])
        and sample[1::2].count(0) < 0.1 * len(sample)
    ):
        return "utf-16-be"
    controls = len(head) - len(head.translate(None, _CONTROLS))
    if controls > MOST_CONTROL_SHARE * len(head):
        raise RecordsError(
            "is neither text nor a spreadsheet that can be read",
            where=name,
            remedy="Save it as CSV or Excel and add that.",
        )
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head, final=False)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decoded(data: bytes, name: str) -> str:
    """Return the text of a file, line ends made alike.

    Raises
    ------
    RecordsError
        The bytes are no text.
    """
    encoding = encoding_of(data[: 1 << 20], name)
    if encoding == "utf-8":
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
    else:
        text = data.decode(encoding, errors="replace")
    return plain(text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", ""))
