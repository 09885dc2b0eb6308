"""How the page says settings, fields and actions that a message refers to."""

from __future__ import annotations

import pytest

from slidefit.facts import Action, Field, Part, Setting, Text, spoken_by
from slidefit.web.door import PageDoor


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (Setting("date_order", "dmy"), '"Order of dates": dmy'),
        (Setting("date_order"), '"Order of dates"'),
        (Setting("weight_lb"), "the weight"),
        (Setting("beyond_data"), "beyond data"),  # no flag, no underline
        (Setting("values", "sex:1=steer"), 'what "1" means: steer'),
        (Setting("values", "sex:a:b=steer"), 'what "a:b" means: steer'),
        (Setting("mapping", "Wt=lb=weight"), 'what "Wt=lb" is: weight'),
        (Field("weaning"), '"Weaning day"'),
        (Action("undo"), "undo the batch under Records"),
        (Action("region_make"), "use the command: slidefit region make"),
    ],
)
def test_a_reference_is_said_in_the_pages_words(part: Part, said: str) -> None:
    with spoken_by(PageDoor()):
        assert str(Text("Give ", part, ".")) == f"Give {said}."
