"""Totals without a name, in one pass over the rows, against the plain rule row by row."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.records.meaning.interpret import (
    FEWEST_SUMMED,
    PRICE_SHARE,
    WEIGHT_SHARE,
    recaps,
    totals_of_others,
    unnamed_totals,
)


def by_the_rule(head, weight, price, group):
    """Every row against the sum of all rows since the last total or change of group, summed anew each time."""
    found = np.zeros(len(head), dtype=bool)
    whole = np.zeros_like(group)
    for starts, begins_anew in ((group, True), (whole, True), (whole, False)):
        start = 0
        for row in range(1, len(head)):
            if starts[row] != starts[row - 1]:
                start = row
                continue
            above = np.flatnonzero(~found[start:row]) + start
            pounds = head[above] * weight[above]
            if (
                len(above) >= FEWEST_SUMMED
                and head[above].sum() == head[row]
                and abs(pounds.sum() / head[row] / weight[row] - 1) <= WEIGHT_SHARE
                and abs((pounds * price[above]).sum() / pounds.sum() / price[row] - 1) <= PRICE_SHARE
            ):
                found[row] = True
            if found[row] and begins_anew:
                start = row + 1
    return found


@pytest.mark.parametrize("seed", range(12))
def test_classes_with_and_without_totals(seed):
    draw = np.random.default_rng(seed)
    rows = []
    for group in range(6):
        lots = [
            (int(draw.integers(1, 20)), float(draw.integers(400, 800)), float(draw.integers(150, 300)))
            for _ in range(draw.integers(1, 5))
        ]
        rows += [(*lot, group) for lot in lots]
        if draw.random() < 0.6:
            head = sum(lot[0] for lot in lots)
            pounds = sum(lot[0] * lot[1] for lot in lots)
            money = sum(lot[0] * lot[1] * lot[2] for lot in lots)
            rows.append((head, round(pounds / head, 1), round(money / pounds, 2), group))
    head, weight, price = (np.array([row[at] for row in rows], dtype=float) for at in range(3))
    group = np.array([row[3] for row in rows])
    assert (
        unnamed_totals(head, weight, price, group).tolist()
        == by_the_rule(head, weight, price, group).tolist()
    )


@pytest.mark.parametrize(
    ("weight", "price", "is_total"),
    [
        (600 * (1 + 0.9 * WEIGHT_SHARE), 200.0, True),
        (600 * (1 + 1.1 * WEIGHT_SHARE), 200.0, False),
        (600.0, 200 * (1 + 0.9 * PRICE_SHARE), True),
        (600.0, 200 * (1 + 1.1 * PRICE_SHARE), False),
    ],
)
def test_how_near_a_total_must_be(weight, price, is_total):
    head = np.array([10.0, 20.0, 30.0])
    found = unnamed_totals(
        head, np.array([600, 600, weight]), np.array([200, 200, price]), np.zeros(3, dtype=int)
    )
    assert found.tolist() == [False, False, is_total]


def test_a_later_table_that_sums_up_the_first():
    head, weight = np.array([10.0, 20.0, 7.0, 30.0, 7.0]), np.array([600.0, 600.0, 500.0, 600.0, 500.0])
    price, group = np.array([200.0, 200.0, 230.0, 200.0, 230.0]), np.array([0, 0, 1, 0, 1])
    table = np.array([0, 0, 0, 1, 1])
    assert totals_of_others(head, weight, price, group, table).tolist() == [False, False, False, True, True]
    head[3] = 31.0  # no sum of two rows: then an equal single row is a lot like any other
    assert not totals_of_others(head, weight, price, group, table).any()


def test_a_table_of_sums_may_stand_first_and_a_report_may_give_its_lots_again_in_fewer_rows():
    head, weight = np.array([30.0, 7.0, 10.0, 20.0, 7.0]), np.array([600.0, 500.0, 600.0, 600.0, 500.0])
    price, group = np.array([200.0, 230.0, 200.0, 200.0, 230.0]), np.array([0, 1, 0, 0, 1])
    table = np.array([0, 0, 1, 1, 1])
    assert totals_of_others(head, weight, price, group, table).tolist() == [True, True, False, False, False]
    lots = [
        np.array([*row[2:], *row[:2], *row[:2]]) for row in (head, weight, price, group)
    ]  # told again twice
    assert recaps(*lots).tolist() == [False] * 3 + [True] * 4
    assert not recaps(
        *(np.array([*row[2:], *row[2:]]) for row in (head, weight, price, group))
    ).any()  # no fewer
    lots[0][3] += 1
    assert not recaps(*lots).any()
