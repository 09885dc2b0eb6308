"""Units that the numbers show where the file says none, or another."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.records.columns import TextColumn
from slidefit.records.meaning.column_fields import assign
from slidefit.records.meaning.unit_choice import median, mended_unit, named_money, weight_unit_by_value
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.words.headings import parse_headings

TABLE = Table("a.csv", (), (), np.zeros(0, dtype=np.int64))


@pytest.mark.parametrize(
    ("said", "price", "read"),
    [
        ("$/lb", 2.50, "$/lb"),
        ("$/lb", 250.0, "cents/lb"),
        ("$/cwt", 2.50, "$/lb"),
        ("$/cwt", 250.0, "$/cwt"),
        ("cents/lb", 2.50, "$/lb"),
        ("$/kg", 250.0, "$/kg"),  # only what is off a hundredfold in pounds is mended
    ],
)
def test_a_unit_that_the_prices_contradict_a_hundredfold_is_mended_and_told(
    said: str, price: float, read: str
) -> None:
    prices = np.array([price, price * 1.1, np.nan])
    unit, note = mended_unit(said, prices, ReadOptions())
    assert (unit, bool(note)) == (read, read != said)
    assert mended_unit(said, prices, ReadOptions(price_unit=said)) == (said, "")  # the user has said so


def test_weights_of_calves_show_their_unit() -> None:
    def unit(weights: list[float], price_unit: str) -> str:
        return weight_unit_by_value(TABLE, np.array(weights), price_unit, foreign=False)[0]

    assert unit([4.5, 5.5, 6.25], "$/cwt") == "cwt"
    assert unit([450.0, 550.0, 625.0], "$/cwt") == "lb"
    assert unit([204.0, 249.0, 283.0], "$/kg") == "kg"
    assert unit([np.nan], "$/cwt") == "lb" and np.isnan(median(np.array([np.nan])))


@pytest.mark.parametrize(("cells", "money"), [(["AUD", "", "AUD"], "AUD"), (["", "n/a", ""], "")])
def test_a_blank_cell_of_a_column_of_money_is_no_other_money(cells: list[str], money: str) -> None:
    columns = TextColumn.of(["5.30", "5.20", "5.10"]), TextColumn.of(cells)
    table = Table("a", parse_headings(["Price", "Currency"]), columns, np.arange(3))
    assert named_money(table, assign(table), columns[0], ReadOptions()) == money
