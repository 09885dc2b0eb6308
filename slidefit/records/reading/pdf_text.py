"""The text of a PDF report, its columns kept apart by blanks as they stand on the page."""

from __future__ import annotations

import io
import logging
import re

from slidefit.errors import RecordsError

MOST_PAGES = 200
_FEWEST_LETTERS = 20  # fewer on all pages together: the pages are pictures (a choice of ours)
_TRIPS = (
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    OverflowError,
    RecursionError,
)  # of pypdf, by damage
_PAGE_LINE = re.compile(r"^\s*(?:page\s+)?\d+(?:\s*(?:of|/)\s*\d+)?\s*$", re.IGNORECASE)


def pdf_text(data: bytes, name: str) -> str:
    """Return the text of all pages, line by line.

    Raises
    ------
    RecordsError
        The file is damaged, locked, of too many pages, or its pages are pictures.
    """
    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # what is wrong is told here, once and in words
    try:
        reader = PdfReader(io.BytesIO(data))
        if reader.is_encrypted and not reader.decrypt(""):
            raise RecordsError(
                "the PDF is locked with a password", where=name, remedy="Save it without a password."
            )
        if len(reader.pages) > MOST_PAGES:
            raise RecordsError(
                f"the PDF has {len(reader.pages)} pages",
                where=name,
                remedy=f"Split it into files of at most {MOST_PAGES} pages.",
            )
        pages = [
            page.extract_text(extraction_mode="layout", layout_mode_space_vertically=False)
            for page in reader.pages
        ]
    except RecordsError:
        raise
    except (PyPdfError, *_TRIPS) as fault:
        raise RecordsError(
            f"the PDF is damaged ({str(fault)[:100] or type(fault).__name__})",
            where=name,
            remedy="Fetch it again, or print it to a new PDF.",
        ) from fault
    text = "\n".join(pages)
    if len(re.findall(r"[^\W\d_]", text)) < _FEWEST_LETTERS:
        raise RecordsError(
            "is a PDF whose pages are pictures (a scan): there is no text in it to read",
            where=name,
            remedy="Get the report as text, CSV or a PDF with text from its publisher, or type its table.",
        )
    return "\n".join(line.rstrip() for line in text.split("\n") if not _PAGE_LINE.match(line))
