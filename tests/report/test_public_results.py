"""Every public result: a short text, an escaped view for notebooks, and the document that the terminal prints."""

import json
from dataclasses import replace
from html.parser import HTMLParser

import pytest

import slidefit
from slidefit.cli.main import slidefit as command
from slidefit.decision.results import SELL_NOW
from slidefit.errors import BookError, FitError, SlidefitError
from slidefit.report import public_results
from tests.market.simulate import simulate

REGION, PLAN = "data_demo/kettle_fork.toml", "data_demo/plan.toml"
ASKED = {"weight_lb": 520, "price_cwt": 312, "to_weight_lb": 700, "later_price_cwt": 262, "days": 90}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("results")


@pytest.fixture(scope="module")
def results(folder):
    """One of each, all of the same records."""
    simulate(41, sales=90, lots=12, days_between=11).records.to_csv(folder / "sales.csv", index=False)
    read = slidefit.read(folder / "sales.csv")
    book = slidefit.book(folder / "sales.duckdb")
    added = book.add(read)
    region = slidefit.load(REGION)
    found = [
        read, book, added, book.summary(), slidefit.fit(book), slidefit.outlook(region), region, slidefit.load(PLAN),
        slidefit.compare(region, PLAN), slidefit.backtest(book), slidefit.quick(ASKED), read.cards[0],
    ]  # fmt: skip
    return {type(each).__name__: each for each in found}


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.seen = []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)


def test_each_has_a_short_text_and_a_view_for_notebooks(results):
    assert set(results) == set(public_results.SAID)
    for name, result in results.items():
        text, tags = repr(result), Tags()
        assert text.startswith(f"<{name}>\n") and len(text.splitlines()) < 10, text
        assert max(map(len, text.splitlines())) <= public_results.WIDTH
        tags.feed(result._repr_html_())
        assert {"p", "table"} & set(tags.seen) and "script" not in tags.seen, name


def test_the_short_text_says_the_answer_and_long_ones_are_cut_with_a_mark(results):
    assert "15,064 lots" in repr(results["Outlook"]) and "90 sales" in repr(results["MarketFit"])
    assert "rows seen" in repr(results["ReadResult"]) and "added" in repr(results["AddResult"])
    many = replace(results["Comparison"], groups=results["Comparison"].groups * 4)
    assert repr(many).endswith("\n...") and len(repr(many).splitlines()) == 9


def test_names_from_files_are_escaped(results):
    group = replace(results["Comparison"].groups[0], group="<script>alert(1)</script>")
    shown = replace(results["Comparison"], groups=(group,))._repr_html_()
    assert "<script>" not in shown and "&lt;script&gt;" in shown


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("MarketFit", ["fit", "--out", "slide.json"]),
        ("Comparison", ["compare", PLAN, "--region", REGION]),
        ("Backtest", ["backtest"]),
        ("Region", ["region", "show", REGION]),
        ("BookSummary", ["book"]),
        ("ReadResult", ["add", "sales.csv", "--dry-run"]),
        ("QuickAnswer", [word for field, flag in zip(ASKED, ("weight", "price", "to-weight", "later", "days"),
                         strict=True) for word in (f"--{flag}", ASKED[field])]),
    ],
)  # fmt: skip
def test_dictionaries_and_text_are_what_the_terminal_prints(results, folder, name, words, capsys):
    words = ["quick", *words] if name == "QuickAnswer" else words
    local = {"slide.json", "sales.csv"}
    words = [str(folder / word) if word in local else str(word) for word in words]
    if words[0] in ("fit", "backtest", "book", "add"):
        words += ["--book", str(folder / "sales.duckdb")]
    capsys.readouterr()
    command.main([*words, "--json"], standalone_mode=False)
    printed = json.loads(capsys.readouterr().out)
    if name == "MarketFit":  # the terminal also says where it saved the fit
        assert printed.pop("fit") == words[2]
    if name == "Region":  # and, from the copy beside a file, what was set by hand in it
        assert printed.pop("by_hand") == []
    assert json.loads(results[name].to_json()) == printed == json.loads(json.dumps(results[name].to_dict()))


def test_what_the_terminal_prints_nothing_of_has_no_document(results):
    with pytest.raises(TypeError, match="there is no document of a Plan"):
        results["Plan"].to_dict()


def test_a_comparison_as_frames_with_units(results):
    comparison = results["Comparison"]
    frame = comparison.to_frame()
    assert len(frame) == sum(len(group.keep) for group in comparison.groups)
    for group in comparison.groups:
        mine = frame[frame["group"] == group.group].reset_index(drop=True)
        assert mine["gain_per_head"].tolist() == [option.gain_per_head for option in group.keep]
        chosen = mine.loc[mine["best"], ["program", "sale_date"]].to_numpy().tolist()
        best = group.best
        assert chosen == ([] if best.choice == SELL_NOW else [[best.choice, best.sale_date]])
    assert frame.attrs["units"] | {"gain_herd": "$", "odds": "share from 0 to 1"} == frame.attrs["units"]
    named = set(frame) - {"group", "sex", "best", "program", "sale_date", "sale_month", "head_kept"}
    assert named == set(frame.attrs["units"])
    ways = comparison.alternatives
    assert ways.groupby("group", sort=False)["expected"].first().tolist() == [0.0] * 4
    assert ways[ways["group"] == "whole herd"]["what"].iloc[0] == "sell all"
    assert slidefit.alternatives(REGION, PLAN).equals(ways)


def test_a_backtest_as_a_frame(results):
    frame = results["Backtest"].to_frame()
    assert (
        frame["months_ahead"].tolist() == list(range(1, 10)) and frame.attrs["units"]["rmse_pct"] == "percent"
    )


def test_pictures_are_axes(results):
    comparison, tested = results["Comparison"], results["Backtest"]
    last = comparison.groups[-1].group
    titles = [axes.figure.get_suptitle() for axes in (comparison.plot(last), comparison.plot())]
    assert last in titles[0] and comparison.groups[0].group in titles[1] and tested.plot(2).has_data()
    with pytest.raises(SlidefitError, match="Goats"):
        comparison.plot("Goats")
    with pytest.raises(FitError, match="99 months was not replayed"):
        tested.plot(99)


def test_a_book_that_is_not_there_yet_says_so(tmp_path):
    nothing = slidefit.book(tmp_path / "none.duckdb")
    assert (
        "first addition makes it" in " ".join(repr(nothing).split())
        and "not there yet" in nothing._repr_html_()
    )


def test_a_book_held_open_gives_relations(results):
    book = results["SaleBook"]
    frame = book.records(since="2019-01-01", until="2019-12-31")
    assert len(frame) and frame["sale_date"].dt.year.eq(2019).all()
    with book as held:
        both = [
            held.relation(since=day).aggregate("count(*)").fetchall()[0][0] for day in ("2019-01-01", None)
        ]
        assert held.relation(market="").df()["price_cwt"].tolist() == book.records()["price_cwt"].tolist()
    assert both == [len(book.records(since="2019-01-01")), len(book.records())]
    with pytest.raises(BookError, match="a relation lives while the book is open"):
        book.relation()
