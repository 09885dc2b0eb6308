"""A number set by hand is known, told beside the fitted one, and kept over an update, comments and all."""

from __future__ import annotations

import os
from datetime import date, datetime
from pathlib import Path

import pytest

from slidefit.errors import RegionError
from slidefit.regions.hand_edits import (
    file_numbers,
    hand_edits,
    set_by_hand,
    with_hand_edits,
    write_fitted,
)
from slidefit.regions.region import Region, spread_at
from slidefit.regions.region_file import read_region
from slidefit.regions.region_folder import go_back, history_folder, save_region
from slidefit.regions.region_outlook import shifted

EDITED = datetime(2026, 11, 3, 12).timestamp()


@pytest.fixture
def file(tmp_path: Path, shipped: Region) -> Path:
    """The shipped region as fitted, then a slide set by hand with a word on it."""
    path = tmp_path / "west.toml"
    write_fitted(shipped, path)
    text = path.read_text()
    old = next(line for line in text.splitlines() if line.startswith("500-550 = "))
    path.write_text(
        text.replace(old, "# the sale of October was thin\n500-550 = [13.5, 0.5]  # our own view", 1)
    )
    os.utime(path, (EDITED, EDITED))
    return path


def test_an_edit_is_known_with_its_fitted_value_and_day(file: Path, shipped: Region) -> None:
    fitted, error = shipped.sexes()["steer"].slide["500-550"]
    found = hand_edits(file)
    assert [(e.where, e.value, e.fitted) for e in found] == [
        (("steer", "slide", "500-550", 0), 13.5, fitted),
        (("steer", "slide", "500-550", 1), 0.5, error),
    ]
    assert {e.on for e in found} == {date(2026, 11, 3)}


def test_an_update_keeps_it_with_its_day_and_comments(file: Path, shipped: Region) -> None:
    """Twice over: the second update finds it against the second fit, still of its first day."""
    steer = shipped.sexes()["steer"]
    for points in (1.0, 2.0):
        newer = shipped.model_copy(update={"steer": shifted(steer, [points] * len(steer.slide))})
        former, held = write_fitted(newer, file, hand_edits(file))
        assert former is not None and len(held) == 2
        read = read_region(file)
        assert read.sexes()["steer"].slide["500-550"] == (13.5, 0.5)
        assert read.sexes()["steer"].slide["550-600"] == newer.sexes()["steer"].slide["550-600"]
        edit = hand_edits(file)[0]
        assert edit.fitted == newer.sexes()["steer"].slide["500-550"][0] and edit.on == date(2026, 11, 3)
    text = file.read_text()
    assert "# the sale of October was thin\n500-550 = [ 13.5,  0.5]  # our own view" in text
    assert text.count("# our own view") == 1


def test_a_refit_forgets_it_and_a_file_without_a_copy_tells_nothing(
    file: Path, shipped: Region, tmp_path: Path
) -> None:
    write_fitted(shipped, file)
    assert hand_edits(file) == () and read_region(file) == shipped
    alone = tmp_path / "handed_on.toml"
    alone.write_text(file.read_text())
    assert hand_edits(alone) == ()


def test_a_version_put_back_brings_its_own_fitted_numbers(file: Path, shipped: Region) -> None:
    """The edit of the first version is known again; a version from before any copy was kept claims none."""
    first = hand_edits(file)
    steer = shipped.sexes()["steer"]
    newer = shipped.model_copy(update={"steer": shifted(steer, [1.0] * len(steer.slide))})
    write_fitted(newer, file)
    assert hand_edits(file) == ()
    go_back(file, 1)
    assert [(e.where, e.value, e.fitted) for e in hand_edits(file)] == [
        (e.where, e.value, e.fitted) for e in first
    ]
    (history_folder(file) / "0002.fitted").unlink()
    go_back(file, 2)
    assert hand_edits(file) == () and read_region(file) == newer


def test_an_edit_that_no_longer_fits_is_told_and_left_out(file: Path, shipped: Region) -> None:
    """The step is gone from the new file; two months set by hand hold together where neither does alone."""
    first, *rest = hand_edits(file)
    steer = shipped.sexes()["steer"]
    gone = {k: v for k, v in steer.slide.items() if float(k.split("-")[0]) >= 550.0}
    short = steer.model_copy(update={"slide": gone, "seen_lb": (550.0, steer.seen_lb[1])})
    region, held = with_hand_edits(shipped.model_copy(update={"steer": short}), [first, *rest])
    assert held == () and region.steer == short
    season = shipped.season
    moves = [("jan", season.jan[0] + 9.0), ("jul", season.jul[0] - 9.0)]
    edits = [first.__class__(("season", key, 0), value, 100.0, first.on) for key, value in moves]
    _, held = with_hand_edits(shipped, edits)
    assert len(held) == 2 and with_hand_edits(shipped, edits[:1])[1] == ()


def test_numbers_set_by_a_program_are_hand_edits_and_what_would_not_hold_is_refused(
    file: Path, shipped: Region
) -> None:
    """The page's way: today's day, comments and spread by months kept true, nothing written where one is wrong."""
    places = {where: (value, fitted) for where, value, fitted in file_numbers(file)}
    assert places["steer", "slide", "500-550", 0] == (13.5, shipped.sexes()["steer"].slide["500-550"][0])
    before, day = file.read_text(), date(2026, 11, 9)
    for wrong in ({("steer", "slide", "500-550", 9): 1.0}, {("noise", "lot_pct"): 99.0}, {("nothing",): 1.0}):
        with pytest.raises(RegionError):
            set_by_hand(file, wrong, day)  # type: ignore[arg-type]
    assert (
        file.read_text() == before
        and set_by_hand(file, {("noise", "lot_pct"): shipped.noise.lot_pct}, day) == 0
    )
    assert set_by_hand(file, {("noise", "lot_pct"): 5.5, ("forecast", "walk_pct_month"): 9.0}, day) == 2
    assert {e.where[-1]: (e.value, e.on) for e in hand_edits(file)} == {
        0: (13.5, date(2026, 11, 3)), 1: (0.5, date(2026, 11, 3)), "lot_pct": (5.5, day), "walk_pct_month": (9.0, day)
    }  # fmt: skip
    read = read_region(file)
    assert read.forecast.spread_pct["4"] == pytest.approx(spread_at(read.price, read.forecast, 4.0), abs=0.01)
    assert "# our own view" in file.read_text()


def test_the_first_number_set_in_a_file_handed_on_is_known_too(shipped: Region, tmp_path: Path) -> None:
    alone = tmp_path / "handed_on.toml"
    save_region(shipped, alone)
    assert {fitted for _, _, fitted in file_numbers(alone)} == {None}
    set_by_hand(alone, {("noise", "lot_pct"): 5.5}, date(2026, 11, 9))
    (edit,) = hand_edits(alone)
    assert (edit.value, edit.fitted) == (5.5, shipped.noise.lot_pct)
