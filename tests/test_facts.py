"""A message is said by whoever is spoken to: flags in the terminal, arguments in Python."""

from __future__ import annotations

import pytest

from slidefit.cli.speaking import TerminalDoor
from slidefit.errors import BookError
from slidefit.facts import Action, Field, Setting, Text, listed, spoken_by

TEXT = Text(
    "Give ",
    Setting("mapping", "Their Heading=price"),
    ", ",
    Field("unseen_months", "true"),
    " or ",
    Action("export"),
)


def test_each_door_says_references_in_its_own_words() -> None:
    assert str(TEXT) == "Give mapping='Their Heading=price', unseen_months = true or export()"
    with spoken_by(TerminalDoor()):
        assert str(TEXT) == (
            'Give --map "Their Heading=price", unseen_months = true or slidefit export OUT.csv --book FILE'
        )
    assert str(TEXT).startswith("Give mapping=")


def test_a_fault_is_said_when_it_is_read_not_when_it_is_raised() -> None:
    fault = BookError("is no book", where="a.duckdb", remedy=Text("Name another with ", Setting("path"), "."))
    assert str(fault) == "a.duckdb: is no book. Name another with path."
    with spoken_by(TerminalDoor()):
        assert str(fault) == "a.duckdb: is no book. Name another with --book."
    assert fault.code == "book"


@pytest.mark.parametrize(("count", "said"), [(0, ""), (1, "a"), (2, "a or b"), (3, "a, b or c")])
def test_references_in_a_row(count: int, said: str) -> None:
    assert str(listed([Field(name) for name in "abc"[:count]], "or")) == said
