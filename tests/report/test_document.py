"""The document model: values of a kind are written one way, bands come apart, constant columns go."""

from datetime import date

import pytest

from slidefit.report.document import Bar, Cell, Column, Row, TypedTable, document, notes, table, written

BUDGETS = table(
    "Budgets",
    [Column("Line"), Column("", band="Steers"), Column("$", "bare_cents", band="Steers"),
     Column("", band="Heifers"), Column("$", "bare_cents", band="Heifers")],
    [["Income"], ["Calf sold", "584 lb", 1987.0, "500 lb", 1500.5], ["Pasture", "100 days", -3.2, "", None],
     ["Care"], ["Hay", "", None, "9 days", -8.0]],
    kinds={0: "part", 3: "part"},
)  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "value", "said"),
    [
        ("text", "Nov 2026", "Nov 2026"),
        ("count", 15064, "15,064"),
        ("expected_weight", 818.2, "820 lb"),
        ("weight", 818.2, "818 lb"),
        ("price", 352.07, "$352.00"),
        ("expected_price", 352.07, "$352"),
        ("gain", 0.3, "$0"),
        ("gain", 84.6, "+$85"),
        ("dollars", (-176.0, 465.2), "-$176 to $465"),
        ("cents", -39.9, "-$39.90"),
        ("bare_cents", 1987.0, "1,987.00"),
        ("percent", 11.64, "11.6%"),
        ("whole_percent", 49.6, "50%"),
        ("chance", 0.996, "over 99%"),
        ("day", date(2026, 10, 14), "Oct 14, 2026"),
        ("month", date(2026, 10, 14), "Oct 2026"),
        ("figure", 1200.5, "1,200.5"),
        ("count", None, ""),
        ("count", float("nan"), "not known"),
    ],
)
def test_a_kind_says_how_a_value_is_written(kind, value, said):
    assert written(Cell(value), Column("x", kind)) == said


def test_a_cell_with_a_unit_of_its_own_is_written_as_it_says():
    assert written(Cell(1.9, "1.90 lb a day"), Column("Planned", "figure")) == "1.90 lb a day"


def test_numbers_stand_right_and_words_left():
    assert Column("Gain", "gain").is_number
    assert not any(Column("x", kind).is_number for kind in ("text", "day", "month"))


def test_bands_come_apart_without_the_rows_that_say_nothing_there():
    steers, heifers = BUDGETS.by_band()
    assert steers.title == "Steers: Budgets"
    assert steers.texts() == [
        ["Income"],
        ["Calf sold", "584 lb", "1,987.00"],
        ["Pasture", "100 days", "-3.20"],
    ]
    assert [row[0] for row in heifers.texts()] == ["Income", "Calf sold", "Care", "Hay"]
    assert not steers.bands() and not any(column.band for column in heifers.columns)


def test_a_column_that_says_the_same_in_every_row_can_go():
    made = table("", ["Sold", "Month", ("Gain", "gain")], [["Nov", "year", 1.0], ["Dec", "year", 2.0]])
    assert [column.heading for column in made.without_constant("Month").columns] == ["Sold", "Gain"]
    assert made.without_constant("Gain") == made
    assert made.without_constant("Nothing") == made


def test_texts_become_sentences_and_empty_ones_are_left_out():
    made = document("Keep.", "", *notes(["Mind the feed.", "Mind the feed."]), title="Cedar Fork")
    assert [part.text for part in made.parts] == ["Keep.", "Mind the feed."]
    assert (made + document("More.")).title == "Cedar Fork"


def test_a_bar_keeps_its_words_apart_and_inside():
    bar = Bar("Steers", -100.0, 300.0, 80.0, -190.0, (-200.0, 200.0), "told")
    assert bar.places() == {"low": 25.0, "high": 100.0, "average": 70.0, "bad_year": 2.5, "zero": 50.0}
    bad, even, low, high = bar.marks()
    assert (bad.text, bad.anchor, even.text, even.anchor) == ("bad year -$190", "start", "even", "middle")
    assert (low.text, high.text, high.anchor, high.above) == ("-$100", "+$300", "end", False)
    narrow = Bar("Steers", 0.0, 10.0, 5.0, -1.0, (-200.0, 400.0), "told")
    assert [mark.text for mark in narrow.marks()] == ["bad year -$1", "$0"]
    assert Bar("", 500.0, 900.0, 700.0, -900.0, (-200.0, 400.0), "").places()["high"] == 100.0


def test_a_row_as_it_is_made():
    assert BUDGETS.rows[0] == Row((Cell("Income"),), "part")
    assert isinstance(BUDGETS, TypedTable)
