"""Old against new in words."""

from __future__ import annotations

from slidefit.regions.moved.change import changes
from slidefit.regions.moved.renewal import Renewal
from slidefit.regions.region import Region
from slidefit.report.regions.change_content import changes_content
from slidefit.report.render.terminal import document_text
from tests.report.regions.conftest import shared


def test_change_text_has_every_verdict_and_why(shipped: Region, steeper: Region) -> None:
    found = Renewal(shipped, steeper, changes(shipped, steeper, shared(shipped, 0.98)))
    unsure = Renewal(shipped, steeper, changes(shipped, steeper, shared(shipped, 0.1)))
    text = document_text(changes_content(found)) + document_text(changes_content(unsure))
    for word in ("moved by about -$", "steady", "can't tell", "the market", "Steady (within $20 a head)"):
        assert word in text, word
    same = Renewal(shipped, shipped, changes(shipped, shipped, shared(shipped, 1.0)))
    assert "None of" in document_text(changes_content(same))
    assert max(map(len, document_text(changes_content(found), width=80).splitlines()[2:])) <= 80
