"""Barns that look like one, and barns that never sold in the same month."""

from __future__ import annotations

import numpy as np

from slidefit.market.barns import bare_name, barn_notes

JAN, FEB, MAR = (
    int(np.datetime64(day, "D").astype(int)) for day in ("2025-01-10", "2025-02-10", "2025-03-10")
)


def notes(markets, sales):
    market, day = (np.array(part, dtype=np.int64) for part in zip(*sales, strict=True))
    return barn_notes(markets, market, day)


def test_one_barn_has_nothing_to_tell():
    assert notes(["Birch Landing"], [(0, JAN), (0, FEB)]) == ()


def test_barns_that_share_months_or_share_them_with_a_third_are_fine():
    assert notes(["A Town", "B Town", "C Town"], [(0, JAN), (1, JAN), (1, FEB), (2, FEB)]) == ()


def test_barns_that_never_meet_are_named():
    (told,) = notes(["Birch Landing", "Otter Creek", "Elk Bend"], [(0, JAN), (1, JAN), (2, MAR)])
    assert "Birch Landing, Otter Creek; Elk Bend" in told and "one level" in told


def test_two_names_of_one_place_are_named_with_what_to_do():
    markets = ["Birch Landing Livestock Auction", "BIRCH LANDING LIVESTOCK - Birch Landing, NM"]
    (told,) = notes(markets, [(0, JAN), (1, JAN)])
    assert all(repr(name) in told for name in markets) and "--market" in told


def test_different_places_of_like_trade_are_not_taken_for_one():
    assert bare_name("Birch Landing Livestock") != bare_name("Otter Creek Livestock")
    assert notes(["Livestock Auction", "Stockyards"], [(0, JAN), (1, JAN)]) == ()
