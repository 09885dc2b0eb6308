"""Words for a newsletter and regions side by side: where prices stand, what moved, what can't be told apart."""

from __future__ import annotations

from datetime import date

from slidefit.regions.region import Region
from slidefit.report.document import Sentence
from slidefit.report.regions.region_hand_outs import brief_content, compare_content
from slidefit.report.render.terminal import document_text

TODAY = date(2026, 10, 20)


def paragraphs(region: Region, former: Region | None) -> list[str]:
    return [
        str(part.text) for part in brief_content(region, former, TODAY).parts if isinstance(part, Sentence)
    ]


def test_a_first_version_has_nothing_to_be_set_against(shipped: Region) -> None:
    level, ahead, moved = paragraphs(shipped, None)
    assert (
        shipped.name in level and "$" in level and "from 500 to 600 lb" in ahead and "first version" in moved
    )


def test_a_slide_that_moved_is_named_and_one_that_did_not_is_not(shipped: Region, steeper: Region) -> None:
    assert "moved" in paragraphs(steeper, shipped)[2] and paragraphs(steeper, shipped) != paragraphs(
        steeper, None
    )
    assert "first version" not in paragraphs(shipped, shipped)[2]


def test_a_region_beside_itself_can_not_be_told_apart(shipped: Region, steeper: Region) -> None:
    same, other = (document_text(compare_content([shipped, each])) for each in (shipped, steeper))
    assert "can't tell" in same and same != other and shipped.name in same
