"""What is said of the sources of files."""

from __future__ import annotations

from math import nan

from slidefit.records.reading.source_card import SourceCard
from slidefit.records.result import FileAccount, WordMeaning
from slidefit.records.sale_levels import WeightPrices
from slidefit.report.render.terminal import document_text
from slidefit.report.sources_content import MOST_WORDS, price_lines, price_rows, sources_content, words_tables


def prices(
    low_lb: int, middle: float, book: tuple[float, float] | None, currency: str = "USD"
) -> WeightPrices:
    ends = (9, *book) if book else (0, nan, nan)
    return WeightPrices(low_lb, currency, 4, middle, middle - 10, middle + 10, *ends)


def account(words: int) -> FileAccount:
    told = tuple(WordMeaning("sex", "Class", f"w{number}", 2, "") for number in range(words))
    return FileAccount("a.csv", 9, 9, 0, 0, (), (), words=told)


def test_words_beyond_the_limit_are_counted() -> None:
    assert words_tables(account(0)) == []
    (full,), (over,) = words_tables(account(MOST_WORDS)), words_tables(account(MOST_WORDS + 1))
    assert len(full.rows) == len(over.rows) == MOST_WORDS
    assert "not shown" not in str(full.caption) and "1 more are not shown" in str(over.caption)


def test_new_prices_stand_on_one_axis_with_the_books() -> None:
    on, off, alone = price_rows(
        [prices(400, 300.0, (290.0, 310.0)), prices(500, 3.0, (250.0, 280.0)), prices(600, 200.0, None)]
    )
    assert (on.off, off.off, alone.off) == (False, True, False) and alone.band is None
    assert on.band is not None and on.band[0] < on.middle < on.band[1]
    for row in (on, off, alone):
        assert 0 < row.low < row.middle < row.high < 100
    assert "the book has none" in price_lines([prices(600, 200.0, None)])[0]


def test_two_monies_have_axes_of_their_own() -> None:
    dollars, pesos = price_rows([prices(400, 300.0, None), prices(400, 6000.0, None, "MXN")])
    assert (
        dollars.middle == pesos.middle == 50.0 and pesos.label.endswith("MXN") and "USD" not in dollars.label
    )


def test_sources_tell_how_much_was_taught() -> None:
    card = SourceCard(
        name="Fen",
        headings=tuple("abcdefg"),
        mapping={"x": "sex"},
        values={"sex": {"1": "steer", "2": "heifer"}},
    )
    text = document_text(sources_content([card]), width=100)
    assert "a, b, c, d, e, f ..." in text and "Fen" in text
    assert "no source yet" in document_text(sources_content([]), width=100)
