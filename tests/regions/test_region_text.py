"""A region as the text of its file: nothing is lost, and a part of it is no region."""

from __future__ import annotations

import tomllib

import pytest

from slidefit.errors import RegionError
from slidefit.regions.region import Region
from slidefit.regions.region_file import parse_region
from slidefit.regions.region_text import write_region


def test_the_text_reads_back_to_the_same_region(shipped: Region) -> None:
    hostile = ('he said "sell"', "C:\\sales", "caf\u00e9 # no comment", "two\nlines")
    region = shipped.model_copy(
        update={"remarks": hostile[:1], "source": shipped.source.model_copy(update={"notes": hostile})}
    )
    assert parse_region(write_region(region)) == region


def test_a_file_that_is_cut_off_anywhere_in_its_last_table_is_refused(shipped: Region) -> None:
    lines = write_region(shipped).rstrip("\n").split("\n")
    begin = next(place for place, line in enumerate(lines) if line.startswith("[source]"))
    assert lines[-1] == "]"
    for end in range(begin, len(lines)):
        with pytest.raises(RegionError):
            parse_region("\n".join(lines[:end]))


def test_each_table_has_a_word_on_what_it_is(shipped: Region) -> None:
    text = write_region(shipped)
    bare = [line for line in text.split("\n") if line.startswith("[") and "#" not in line]
    assert not bare
    assert set(tomllib.loads(text)["season"]) >= {"jan", "dec"}
