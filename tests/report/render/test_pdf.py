"""The report as a PDF: pages, text that can be read back, fonts inside, nothing of the user's taken for markup."""

import io
import re
from dataclasses import replace
from functools import cache
from html import unescape
from itertools import product
from typing import NamedTuple

import pandas as pd
import pytest
from example_comparison import a_comparison, a_group
from example_flips import a_flip
from example_market import an_outlook
from pypdf import PdfReader

from slidefit.report.document import Bar, Block, Heading, Picture, TypedTable, document, table
from slidefit.report.render.html import document_html
from slidefit.report.render.pdf import SIZES, document_pdf
from slidefit.report.report_content import report_of

GROUPS = ("Heavy steers", "Light steers", "Heifers")
LOWEST_PT = 8.5
SEASON = pd.DataFrame({"month": range(1, 13), "index": [*[100.0] * 11, 101.0], "low": 98.0, "high": 102.0})


def a_report(count, **more):
    groups = [a_group(name, pasture=20.0 - 40.0 * place) for place, name in enumerate(GROUPS[:count])]
    comparison = replace(a_comparison(*groups), notes=("Prices beyond May are not in this plan",))
    flips = [replace(a_flip(), group=name) for name in GROUPS[:count]]
    return report_of(comparison, an_outlook(), season=SEASON, flips=flips, title="Cedar Fork", **more)


class Printed(NamedTuple):
    count: int
    size: str
    pdf: PdfReader
    texts: list[str]
    letters: list[float]


@pytest.fixture(scope="module", params=list(product((1, 2, 3), ("letter", "a4"))), ids=str)
def printed(request):
    count, size = request.param
    pdf, letters = PdfReader(io.BytesIO(document_pdf(a_report(count), size=size))), []

    def seen(text, _, matrix, _font, size):
        if text.strip():
            letters.append(abs(matrix[3]) * size if matrix[3] else abs(matrix[1]) * size)

    return Printed(count, size, pdf, [page.extract_text(visitor_text=seen) for page in pdf.pages], letters)


def test_up_to_three_groups_take_two_pages(printed):
    assert len(printed.pdf.pages) == 2
    sides = [float(side) for side in printed.pdf.pages[0].mediabox[2:]]
    assert sides == pytest.approx(SIZES[printed.size], abs=0.01)


def test_the_text_can_be_read_back(printed):
    first, second = (" ".join(text.split()) for text in printed.texts)
    for name in GROUPS[: printed.count]:
        assert f"{name}: " in first
    assert (
        first.index("about 8 times in 10 (76%)") < first.index("By month of sale") < first.index("Nov 2026")
    )
    whole = f"{first} {second}"
    for part in (
        "The budgets, line by line, dollars a head", "120 days x $1.10", "Daily gain, lb a day",
        "An estimate, not a promise",
        "land (no rent is charged)", "4,812 lots (51,234 head) in 412 sales", "10,000 runs",
        "Not compared: dry lot, corn silage, May 2027", "Prices beyond May are not in this plan.",
        "Bid of $390 in hand.",
    ):  # fmt: skip
        assert part in whole
    assert "Cedar Fork Page 1 of 2" in first and "Cedar Fork Page 2 of 2" in second


def squeezed(text):
    return "".join(text.replace("\u2212", "-").split())


@cache
def page_words(count):
    return squeezed(unescape(re.sub(r"<[^>]+>", " ", document_html(a_report(count)))))


def test_page_and_pdf_say_the_same(printed):
    """Every sentence, heading and cell of the document but what is for the screen alone, in both."""
    report = a_report(printed.count)
    paper = squeezed("".join(printed.texts))
    page = page_words(printed.count)
    told = [report.title, report.subtitle]
    for part in (
        p for block in report.parts if getattr(block, "kind", "") != "screen" for p in parts_of(block)
    ):
        if isinstance(part, TypedTable):
            told += [part.title, part.caption, *(c.title for c in part.columns), *part.bands()]
            told += [text for row in part.texts() for text in row]
        elif isinstance(part, Bar):
            told += [mark.text for mark in part.marks()]
        elif not isinstance(part, Picture):
            told.append(part.text)
    assert len(told) > 150
    for text in map(squeezed, told):
        assert text in page and text in paper, text


def parts_of(block):
    return block.parts if isinstance(block, Block) else (block,)


@pytest.mark.parametrize("following", ["table", "paragraph"])
def test_a_heading_is_never_left_alone_at_the_foot_of_a_page(following):
    told = table("", ["Line"], [["first row"], ["second row"]]) if following == "table" else "first row"
    pages = []
    for lines in range(66, 80):
        made = document(*["A line."] * lines, Heading("The budgets"), told)
        pdf = PdfReader(io.BytesIO(document_pdf(made)))
        texts = [page.extract_text() for page in pdf.pages]
        (page,) = [n for n, text in enumerate(texts) if "The budgets" in text]
        assert "first row" in texts[page], lines
        pages.append(page)
    assert set(pages) == {0, 1}


def test_letters_of_charts_are_text_too(printed):
    told = "".join(printed.texts)
    assert ("dollars per head" in told) == (printed.count == 1)  # paper has room for a lone group's months


def test_no_letter_is_smaller_than_can_be_read(printed):
    # a picture may be set a fiftieth smaller than it was drawn
    assert printed.letters and min(printed.letters) >= LOWEST_PT - 0.2


def test_fonts_are_held_inside(printed):
    fonts = [font.get_object() for page in printed.pdf.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        if "/DescendantFonts" in font:
            font = font["/DescendantFonts"][0].get_object()
        assert "/FontFile2" in font["/FontDescriptor"].get_object(), font["/BaseFont"]


def test_it_names_itself(printed):
    pdf = printed.pdf
    assert pdf.metadata.title == "Cedar Fork, Oct 12, 2026"
    assert pdf.metadata.author == "slidefit"
    assert pdf.trailer["/Root"]["/Lang"] == "en"


def test_it_is_the_same_every_time():
    report = report_of(a_comparison(a_group()), an_outlook())
    assert document_pdf(report) == document_pdf(report)


def test_names_are_text_and_nothing_else():
    evil = "Señora Núñez & Søn's <b>$1</b> <a href='x'>čalves</a> &amp; 5 < 6"
    comparison = a_comparison(a_group(evil), a_group("Heifers"))
    comparison = replace(comparison, notes=(evil,), cautions=(evil,), left_out=(evil,), source=evil)
    pdf = PdfReader(io.BytesIO(document_pdf(report_of(comparison, an_outlook(notes=(evil,)), title=evil))))
    text = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    assert text.count(evil) >= 6
    assert pdf.metadata.title == f"{evil}, Oct 12, 2026"
    assert not any(page.get("/Annots") for page in pdf.pages)


def test_names_without_an_end_still_print():
    long = "Unbroken" * 60
    pdf = PdfReader(
        io.BytesIO(document_pdf(report_of(a_comparison(a_group(long)), an_outlook(), title=long)))
    )
    assert len(pdf.pages) >= 2 and "…" in pdf.pages[0].extract_text()


def test_many_groups_take_more_pages():
    groups = [a_group(f"Pen {n}") for n in range(7)]
    pdf = PdfReader(io.BytesIO(document_pdf(report_of(a_comparison(*groups), an_outlook()))))
    text = "".join(page.extract_text() for page in pdf.pages)
    assert len(pdf.pages) > 2
    assert all(f"Pen {n}: Oct 14, 2026" in text for n in range(7))


def test_a_group_with_nothing_to_compare():
    group = replace(a_group(), keep=())
    pdf = PdfReader(io.BytesIO(document_pdf(report_of(a_comparison(group), an_outlook()))))
    assert "nothing to compare" in pdf.pages[0].extract_text()
