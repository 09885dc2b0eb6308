"""What weight classes and months lose."""

import pytest

from slidefit.market.class_averages import class_loss, class_notes, class_tally
from slidefit.market.record_table import FrameTable
from tests.market.simulate import simulate


def counted(records):
    with FrameTable(records).opened() as connection:
        return class_tally(connection)


def classes(width):
    records = simulate(51, sales=60, lots=20).records
    low = (records["weight_lb"] // width) * width
    return records.assign(
        weight_low_lb=low, weight_high_lb=low + width, weight_lb=low + width / 2, flags="converted;weight_mid"
    )


def test_lots_lose_nothing():
    records = simulate(51, sales=60, lots=20).records
    assert class_loss(counted(records)) == (0.0, 0.0, 0.0)
    assert class_notes(counted(records)) == ()
    assert class_loss(counted(records.drop(columns="weight_high_lb"))) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("width", "points"), [(50, "0.4"), (100, "0.6 or more")])
def test_the_loss_grows_with_the_class(width, points):
    """Weights even over 350 to 800 lb: variance 450^2 / 12, of which classes hide width^2 / 12."""
    share, found, lost = class_loss(counted(classes(width)))
    assert (share, found) == (1.0, width)
    assert lost == pytest.approx(width**2 / 450**2, rel=0.15)
    (note,) = class_notes(counted(classes(width)))
    assert f"100% of the records are averages of {width}-lb classes" in note
    assert f"off by {points} points" in note


def test_months_are_told():
    records = simulate(51, sales=60, lots=20).records.assign(date_precision="month")
    (note,) = class_notes(counted(records))
    assert "100% of the records are known by their month only" in note
