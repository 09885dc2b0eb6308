"""A plan with its prices as an address: it opens to the same answer on any page of slidefit, without the records."""

from __future__ import annotations

import base64
import binascii
import re
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

from slidefit.errors import SlidefitError
from slidefit.regions.region import Region
from slidefit.regions.region_file import parse_region
from slidefit.regions.region_text import write_region

if TYPE_CHECKING:
    from matplotlib.figure import Figure

OPEN = "/O/"
"""Where a link leads: capitals, so that the whole address fits a QR code's plain letters (ISO/IEC 18004)."""
SENT = "~"
"""Begins prices that came with a link, in place of a region's file name."""
MOST_BYTES = 64 << 10
"""Most that a link may unpack to: a region and a plan of forty groups are 20 KB."""
COMMENT = re.compile(r"[ \t]#[^\n]{0,300}$")
SPACE = re.compile(r" {0,9}([=,\[\]]) {0,9}")
QR_INCHES, QUIET = 1.9, 4
"""Width of the printed code: 145 squares (three groups) of 0.33 mm; and its white edge, as ISO/IEC 18004 asks."""
WORDS = (Path(__file__).parent / "link_words.txt").read_bytes()
"""What most links say, so that they need not say it (a dictionary of RFC 1950): changed, it breaks every link sent."""
BROKEN = "the link is broken"


def packed(text: str) -> str:
    """Return a text as capitals and digits.

    >>> unpacked(packed("price"))
    'price'
    """
    packer = zlib.compressobj(9, zdict=WORDS)
    return base64.b32encode(packer.compress(text.encode()) + packer.flush()).decode().rstrip("=")


def unpacked(letters: str) -> str:
    """Return the text of a link."""
    try:
        raw = base64.b32decode(letters.upper() + "=" * (-len(letters) % 8))
        reader = zlib.decompressobj(zdict=WORDS)
        content = reader.decompress(raw, MOST_BYTES)
        whole = reader.eof and not reader.unused_data
        text = content.decode()
    except (binascii.Error, ValueError, zlib.error):
        whole, text = False, ""
    if not whole:
        raise SlidefitError(BROKEN, remedy="Copy the whole link, from its first letter to its last.")
    return text


def prices_sent(region: Region) -> str:
    """Return a region's prices as a link carries them: its file without comments and spaces."""
    lines = (COMMENT.sub("", line) for line in write_region(region).splitlines())
    bare = "\n".join(SPACE.sub(r"\1", line.strip()) for line in lines if line.strip() and line[0] != "#")
    return SENT + packed(bare)


def region_sent(prices: str) -> Region:
    """Return the region that came with a link."""
    return parse_region(unpacked(prices.removeprefix(SENT)), "the prices sent with the link")


def qr_figure(link: str) -> Figure | None:
    """Return a link as a QR code to print; None where it is too long for one."""
    import segno
    from matplotlib.figure import Figure

    try:
        code = segno.make(link, error="l", micro=False)
    except segno.DataOverflowError:
        return None
    figure = Figure(figsize=(QR_INCHES, QR_INCHES))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.imshow([list(row) for row in code.matrix_iter(border=QUIET)], cmap="gray_r", interpolation="nearest")
    axes.set_axis_off()
    return figure
