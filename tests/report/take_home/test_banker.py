"""The lender's sheet: one page, the herd's dollars, and a loan that adds up."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from example_comparison import a_comparison, a_group
from pypdf import PdfReader

from slidefit.decision.results import CashNeed
from slidefit.report import answers
from slidefit.report.render.pdf import document_pdf
from slidefit.report.render.terminal import document_text
from slidefit.report.take_home import banker as banker_content

SOLD = {"choice": "sell now", "gain_per_head": 0.0, "odds_beats_selling": None}


def kept(*groups):
    return [(group, answers.best_option(group)) for group in groups]


def with_cash(group, *needs):
    cash, total = [], 0.0
    for month, amount in needs:
        total += amount
        cash.append(CashNeed(month, amount, total))
    return replace(group, keep=tuple(replace(option, cash=tuple(cash)) for option in group.keep))


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_it_takes_one_page(size):
    groups = [a_group(name) for name in ("Heavy steers", "Light steers", "Heifers")]
    made = banker_content.banker_content(a_comparison(*groups), title="Cedar Fork")
    pdf = PdfReader(io.BytesIO(document_pdf(made, size=size)))
    text = " ".join(pdf.pages[0].extract_text().split())
    assert len(pdf.pages) == 1
    for words in (
        "For the lender: Cedar Fork",
        "Heifers",
        "the most out at one time",
        "not a promise",
    ):
        assert words in text


def test_a_loan_grows_with_the_cash_and_falls_with_the_sales():
    group = with_cash(a_group(), ("2026-11", 1000.0), ("2026-12", 500.0), ("2027-04", 200.0))
    (_, option) = kept(group)[0]
    table = banker_content.cash_table(kept(group))
    assert [row[3] for row in table.texts()] == ["$1,000", "$1,500", "$1,700"]
    assert table.texts()[-1][0] == "April 2027 *"
    assert banker_content.peak_of(kept(group))[0] == 1700.0
    back = option.net_per_head * option.head_kept + 1700.0
    assert banker_content.months_out(kept(group))["2027-04"] == (200.0, back)


def test_a_bad_year_is_the_mean_of_the_worst_tenth():
    group = with_cash(a_group(), ("2026-11", 1000.0))
    (_, option) = kept(group)[0]
    assert option.bad_year != option.worst5_mean
    (row,) = banker_content.needs_table(kept(group)).rows
    assert row.cells[-1].value == option.bad_year * option.head_kept


def test_a_group_sold_earlier_pays_down_what_is_out():
    first = with_cash(a_group(), ("2026-11", 1000.0))
    best = replace(first.best, sale_date=first.keep[0].sale_date, choice=first.keep[0].program)
    first = replace(first, best=best)
    later = with_cash(a_group("Heifers"), ("2026-11", 100.0), ("2027-02", 400.0))
    both = kept(first, later)
    assert banker_content.peak_of(both)[0] == 1100.0
    assert [row[3] for row in banker_content.cash_table(both).texts()] == ["$1,100", "$400", "$400"]


def test_groups_that_are_sold_ask_for_no_cash():
    told = document_text(banker_content.banker_content(a_comparison(a_group(**SOLD))))
    assert "sells every group now and needs no cash" in " ".join(told.split())
    assert banker_content.CASH not in told and "sell now" in told
