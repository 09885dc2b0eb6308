"""The report: what it says, that it stands alone, and that nothing of the user's runs in it."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pandas as pd
import pytest
from example_comparison import a_comparison, a_group
from example_flips import a_flip
from example_market import an_outlook, some_records

from slidefit.market.outlook import OutlookBasis
from slidefit.report.render.html import document_html as drawn
from slidefit.report.report_content import report_of


def report_html(comparison, outlook, **more):
    return drawn(report_of(comparison, outlook, **more))


VOID = {"meta", "img", "link", "br", "hr", "input"}


class Page(HTMLParser):
    """Collects tags, attributes and text, and checks that tags close in order."""

    def __init__(self, html):
        super().__init__()
        self.open, self.tags, self.words = [], [], []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def season():
    return pd.DataFrame({"month": range(1, 13), "index": [*[100.0] * 11, 101.0], "low": 98.0, "high": 102.0})


@pytest.fixture(scope="module")
def html(season):
    outlook = an_outlook()
    return report_html(a_comparison(), outlook, records=some_records(outlook, sales=8), season=season)


@pytest.fixture(scope="module")
def page(html):
    return Page(html)


def test_it_answers_first_and_then_says_how_sure(page):
    text = page.text
    assert (
        text.index("Steers: keep.") < text.index("about 8 times in 10 (76%)") < text.index("By month of sale")
    )
    assert "All 120 head" in text


@pytest.mark.parametrize(
    "part",
    [
        "2% commission, $1.00 check-off, freight $6.00", "2,060.00", "value of gain $ a pound gained 1.62",
        "Price at the later sale/cwt", "$331.25",
        "Cash paid out so far, all head kept", "$3,750", "Gain an acre",
        "4,812 lots (51,234 head) in 412 sales",
        "10,000 runs", "land (no rent is charged)",
        "grass tetany", "not a promise", "Selling: checkoff", "1.00 $/head",
        "Not compared: dry lot, corn silage, May 2027", "Prices beyond May are not in this plan", "-$176 to $465",
        "Acres needed 118",
    ],
)  # fmt: skip
def test_it_says(page, part):
    assert part in page.text


def test_it_stands_alone(html, page):
    assert not page.all("script") and not page.all("link") and not page.all("iframe")
    for attrs in page.all("img"):
        assert attrs["src"].startswith("data:image/svg+xml;base64,")
    (policy,) = [a["content"] for a in page.all("meta") if a.get("http-equiv") == "Content-Security-Policy"]
    assert policy.startswith("default-src 'none'") and "script" not in policy
    outside = re.sub(r"data:[^\"']+", "", html)
    assert "http:" not in outside and "https:" not in outside and "url(" not in outside
    assert "@import" not in outside


def test_it_is_the_same_every_time(html, season):
    outlook = an_outlook()
    again = report_html(a_comparison(), outlook, records=some_records(outlook, sales=8), season=season)
    assert again == html


def test_pictures_have_words_for_those_who_cannot_see_them(page):
    alts = [attrs["alt"] for attrs in page.all("img")]
    assert len(alts) == 3
    assert alts[0].startswith(
        "Chart of the gain from keeping Steers over selling now. autumn-sown cereal pasture: +$20 a head in "
        "November 2026, +$130 in April 2027; dry lot, corn silage: -$10 a head in November 2026, +$50 in April 2027."
    )
    assert "keeping Heifers over selling now" in alts[0]
    assert "steers from $" in alts[1] and "highest in December (101.0)" in alts[2]


def test_headings_and_tables_are_marked_up(page):
    assert len(page.all("h1")) == 1
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert all(attrs.get("scope") in ("col", "row", "colgroup", "rowgroup") for attrs in page.all("th"))
    assert page.all("html")[0]["lang"] == "en"
    assert any(attrs.get("name") == "viewport" for attrs in page.all("meta"))
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert {attrs["aria-labelledby"] for attrs in page.all("section")} <= set(ids)


def test_it_prints(html):
    assert "@media print" in html and "@page" in html


def test_no_row_of_cells_is_short(html):
    for table in re.findall(r"<table.*?</table>", html, flags=re.S):
        counts = {
            len(re.findall(r"<t[hd][ >]", row))
            + sum(int(wide) - 1 for wide in re.findall(r'colspan="(\d+)"', row))
            for row in re.findall(r"<tr.*?</tr>", table, flags=re.S)
        }
        assert len(counts) == 1


def test_names_from_a_file_are_text_and_nothing_else():
    evil = '<script>alert("x")</script> & "Sons"'
    basis = OutlookBasis(
        "fit", 10, 100, 3, (evil,), an_outlook().basis.first_sale, an_outlook().basis.last_sale
    )
    comparison = a_comparison(a_group(evil))
    comparison = replace(comparison, notes=(evil,), cautions=(evil,), left_out=(evil,), source=evil)
    html = report_html(comparison, an_outlook(basis=basis, notes=(evil,)), title=evil)
    page = Page(html)
    assert not page.all("script")
    assert page.text.count('<script>alert("x")</script> & "Sons"') >= 6
    assert any(evil in attrs["alt"] for attrs in page.all("img"))


def test_selling_now_still_shows_the_nearest_budget():
    group = a_group(pasture=-400.0, lot=-250.0, choice="sell now", gain_per_head=0.0, odds_beats_selling=None)
    text = Page(report_html(a_comparison(group), an_outlook())).text
    assert "Steers: sell now." in text and "Steers: dry lot, corn silage" in text
    assert "All 60 head" not in text


def test_a_group_with_nothing_to_compare():
    group = replace(a_group(choice="sell now"), keep=())
    text = Page(report_html(a_comparison(group), an_outlook())).text
    assert "nothing to compare" in text and "Steers: Oct 14, 2026" in text


def test_what_flips_an_answer_stands_beside_it_and_as_a_picture():
    page = Page(report_html(a_comparison(a_group("Steers")), an_outlook(), flips=[a_flip()]))
    text = page.text
    assert text.index("This alone changes the answer: price at sale at $316/cwt") < text.index(
        "By month of sale"
    )
    assert "What would change the answer" in text
    (alt,) = [attrs["alt"] for attrs in page.all("img") if "each input moved" in attrs["alt"]]
    assert "price at sale from $295/cwt to $350/cwt: gain from -$180 to +$260" in alt
