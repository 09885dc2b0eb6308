"""What a producer reads is plain: grade 8 or less, 20 words a sentence, no words of statistics.

Grade: Flesch-Kincaid, .39 words a sentence + 11.8 syllables a word - 15.59 (Kincaid and others, 1975, Naval Technical
Training Command Research Branch Report 8-75), with syllables by pyphen's hyphenation of American English. A number, a
month, a key of the plan's file, and a name that the reader gave or that stands in the records count as one short word.
Colons and semicolons part sentences, since lists are read item by item; pieces under five words are labels and have no
grade.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from html.parser import HTMLParser

import pyphen
import pytest

import slidefit
from slidefit.decision import notes
from slidefit.decision.comparison import compare
from slidefit.decision.price_state import BidReading
from slidefit.decision.quick import QUICK_FIELDS, grid_of, quick_answer
from slidefit.decision.risk.answer_changes import flip
from slidefit.market.checks import ResidualChecks, check_notes
from slidefit.report import sentences
from slidefit.report.document import Document, Note, Sentence, TypedTable
from slidefit.report.quick_content import quick_content
from slidefit.report.regions.region_sheet import region_sheet_html
from slidefit.report.report_content import comparison_content, option_content, report_of
from slidefit.report.take_home.banker import banker_content
from slidefit.report.take_home.handout import handout_html

MOST_GRADE, MOST_WORDS, LEAST_WORDS = 8.0, 20, 5
STATISTICS = (
    "autocorrelat\\w*|covarianc\\w*|percentiles?|quantiles?|draws?|kurtosis|cluster\\w*|heteroske\\w*"
)
BANNED = re.compile(rf"\b({STATISTICS}|seed(ed|s)?(?!, tillage))\b", re.I)
"""Seed that is sown keeps its name."""
MONTHS = "January|February|March|April|May|June|July|August|September|October|November|December"
HYPHENS = pyphen.Pyphen(lang="en_US")
READ_APART = re.compile(r"(?<=[.!?])\s+|[:;]\s+|\n+| · ")
UNREAD = ("script", "style", "option", "title")
BLOCKS = (
    "p",
    "li",
    "h1",
    "h2",
    "h3",
    "td",
    "th",
    "dt",
    "dd",
    "caption",
    "summary",
    "label",
    "div",
    "button",
    "span",
    "b",
)


def pieces(text: str, names: Iterable[str] = ()) -> Iterator[str]:
    """Yield what is read in one breath, names and months as one short word; lists cut short (…) are labels."""
    for name in sorted(filter(None, names), key=len, reverse=True):
        text = re.sub(rf"\b{re.escape(name)}\b", "Hay", text, flags=re.I)
    text = re.sub(rf"\b({MONTHS})\b", "May", re.sub(r"\b\w+_\w+\b", "Hay", text))
    for piece in READ_APART.split(text):
        if piece.strip() and not piece.endswith("…"):
            yield " ".join(piece.split())


def words_of(piece: str) -> list[str]:
    return [word for word in re.split(r"[\s/-]+", piece) if re.search(r"\w", word)]


def syllables(word: str) -> int:
    letters = re.sub(r"[^A-Za-z']", "", word)
    return 1 if re.search(r"\d", word) or not letters else len(HYPHENS.positions(letters)) + 1


def grade(piece: str) -> float:
    words = words_of(piece)
    return 0.39 * len(words) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


def faults(texts: Iterable[str], names: Iterable[str] = ()) -> list[str]:
    """Return what is not plain in texts: the piece, and why."""
    found = []
    for piece in dict.fromkeys(piece for text in texts for piece in pieces(text, names)):
        count = len(words_of(piece))
        banned = BANNED.search(piece)
        if banned:
            found.append(f"says {banned[0]!r}: {piece}")
        if count > MOST_WORDS:
            found.append(f"{count} words: {piece}")
        if count >= LEAST_WORDS and grade(piece) > MOST_GRADE:
            found.append(f"grade {grade(piece):.1f}: {piece}")
    return found


def prose(document: Document) -> list[str]:
    parts = document.flat()
    told = [part.text for part in parts if isinstance(part, (Sentence, Note))]
    return told + [part.caption for part in parts if isinstance(part, TypedTable)]


class Prose(HTMLParser):
    """The texts of a page, block by block; what is not read (scripts, styles, options of lists) left out."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._hidden += tag in UNREAD
        if tag in BLOCKS:
            self.texts.append("")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in UNREAD
        if tag in BLOCKS:
            self.texts.append("")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            if not self.texts:
                self.texts.append("")
            self.texts[-1] += data


def page_prose(html: str) -> list[str]:
    found = Prose()
    found.feed(html)
    return [text for text in found.texts if text.strip()]


@pytest.fixture(scope="module")
def asked():
    outlook, plan = slidefit.outlook("data_demo/kettle_fork.toml"), slidefit.load("data_demo/plan.toml")
    return outlook, plan, compare(outlook, plan)


@pytest.fixture(scope="module")
def names(asked):
    outlook, plan, comparison = asked
    of_plan = [each.name for each in (*plan.groups, *plan.programs)]
    return [
        *of_plan,
        *outlook.basis.markets,
        comparison.source,
        "Kettle Fork country",
        "slidefit",
        plan.title,
    ]


def test_the_measure_is_the_published_one():
    """Kincaid and others' formula by hand: 6 words of 6 syllables, and 5 words of 15."""
    assert grade("The cat sat on the mat.") == pytest.approx(0.39 * 6 + 11.8 - 15.59)
    assert grade("estimates estimates estimates estimates estimates") == pytest.approx(
        0.39 * 5 + 35.4 - 15.59
    )
    assert faults(["Heteroskedasticity is bad."]) and faults(["word " * 21]) and faults(["Estimates " * 5])
    assert not faults(["word " * 20]) and not faults(["Estimates of autumn prices."])
    assert not faults(
        ["Alder Ford Livestock Auction Company sold them."], ["Alder Ford Livestock Auction Company"]
    )


@pytest.mark.parametrize("made", ["compare", "detail", "report", "lender"])
def test_answers(asked, names, made):
    outlook, plan, comparison = asked
    document = {
        "compare": lambda: comparison_content(comparison),
        "detail": lambda: option_content(comparison.groups[0], comparison.groups[0].keep[0]),
        "report": lambda: report_of(comparison, outlook, flips=flip(outlook, plan)),
        "lender": lambda: banker_content(comparison, title=plan.title),
    }[made]()
    assert len(prose(document)) > 3 and not faults(prose(document), names)


def test_the_quick_answer():
    asked = {"weight_lb": 520, "price_cwt": 312, "to_weight_lb": 700, "later_price_cwt": 262, "days": 90}
    grid = grid_of(asked, "days", (60.0, 90.0), "later_price_cwt", (250.0, 270.0))
    for each in (asked, asked | {"price_cwt": 250.0}):
        told = prose(quick_content(quick_answer(each, grid)))
        assert len(told) > 3 and not faults(told)
    assert not faults(field.label for field in QUICK_FIELDS)


@pytest.mark.usefixtures("undrawn")
def test_the_take_home_page_and_the_sheet(asked, names):
    outlook, plan, _ = asked
    region = slidefit.load("data_demo/kettle_fork.toml")
    today = region.source.last_sale
    page = handout_html(outlook, name=region.name, today=today, plan=plan)
    assert not faults(page_prose(page), names)
    assert not faults(page_prose(region_sheet_html(region, today)), names)


def test_what_only_some_records_or_plans_bring():
    """Notes of fits and plans that the demonstration does not make."""
    every = ResidualChecks(500, 0.2, 0.0, 0.0, 0.0, 0.0, 4.2, 0.3)
    told = [*check_notes(every), *check_notes(replace(every, mean=-0.2, first_autocorrelation=-0.3))]
    told += check_notes(ResidualChecks(500, 0.0, 1.0, 1.0, 1.0, 1.0, 3.0, 0.0))
    assert len(told) == 9
    told += [notes.MARKET, notes.MEDICINE, *notes.BY_FORAGE.values(), notes.FORAGE, notes.HEAT]
    for to_buyer, to_calves in ((0.6, 0.3), (0.3, 0.4), (0.1, 0.2)):
        reading = BidReading(348.0, 360.0, 1.0 - to_buyer - to_calves, to_calves, to_buyer, "")
        told.append(notes.bid_note(reading))
    assert not faults(map(sentences.sentence, told))
