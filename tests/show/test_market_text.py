"""What the terminal says of a fit."""

import pytest
from example_market import an_outlook, some_records

from slidefit.market.marketfit import fit_market
from slidefit.show import market_text


@pytest.fixture(scope="module")
def fit():
    records = some_records(an_outlook(), sales=30, lots=14)
    return fit_market(records.assign(date_precision="day", currency="USD", traits="", flags=""))


def flat(text):
    return " ".join(text.split())


def test_fit_text_tells_basis_slide_and_every_note(fit):
    told = flat(market_text.fit_text(fit, "slide.json"))
    assert "420 lots" in told and "30 sales at Birch Landing" in told
    assert "(chosen)" in told and "Saved: slide.json" in told
    for note in fit.notes:
        assert f"Note: {note}." in told
    steer = fit.slide("steer", 550.0).iloc[0]
    assert f"{steer['percent_per_cwt']:.1f}%" in told


def test_whether_the_records_are_enough_is_said_with_what_to_add(fit):
    assert fit.verdict.word == "thin" and "420 lots" in fit.verdict.reasons[0]
    told = flat(market_text.fit_text(fit, "slide.json"))
    assert "Are the records enough? Thin: 420 lots (add 580 more lots);" in told
    assert flat(market_text.slide_text(fit, fit.slide())).count("Are the records enough? Thin") == 1


def test_what_thin_records_made_the_fit_do_without_stands_under_the_slide(fit):
    told = flat(market_text.slide_text(fit, fit.slide()))
    assert "carry a quadratic slide with no season" in told and "carried forward with no season" in told


def test_slide_text_names_the_month(fit):
    told = market_text.slide_text(fit, fit.slide("heifer", 550.0, [None, 3]))
    rows = [line.split() for line in told.splitlines() if line.split()[:1] == ["heifer"]]
    assert [row[3] for row in rows] == ["year", "Mar"]
    assert [row[1:3] for row in rows] == [["500", "600"]] * 2


def test_season_text_has_twelve_months_and_says_when_there_is_no_season(fit):
    told = market_text.season_text(fit)
    assert sum(line.split()[:1] != [] and line.split()[0] in ("January", "June", "December")
               for line in told.splitlines()) == 3  # fmt: skip
    assert "no season" in flat(told)


@pytest.mark.parametrize("width", [60, 100])
def test_nothing_is_wider_than_the_terminal(fit, width):
    for told in (
        market_text.fit_text(fit, "slide.json", width=width),
        market_text.season_text(fit, width=width),
    ):
        assert max(map(len, told.splitlines())) <= width
