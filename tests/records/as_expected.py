"""Reading a small file that has its expectation beside it: what it asks, why it is refused, or what adds up."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from slidefit.cli.speaking import TerminalDoor
from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import spoken_by
from slidefit.records.read import read
from slidefit.records.result import ReadResult

TODAY = date(2026, 10, 1)


def read_as_expected(path: Path, wanted: dict[str, Any], reasons: dict[str, int] | None) -> ReadResult | None:
    """Return what was read, checked against the counts by reason; None where it must ask or be refused, and did."""
    if "asks" in wanted:
        with pytest.raises(QuestionError) as asked:
            read(path, today=TODAY)
        with spoken_by(TerminalDoor()):
            assert wanted["asks"] in asked.value.text()
        return None
    if "refused" in wanted:
        with pytest.raises(RecordsError, match=wanted["refused"]):
            read(path, today=TODAY)
        return None
    result = read(path, today=TODAY)
    assert result.reasons == reasons
    assert result.rows_seen == result.accepted + len(result.set_aside)
    return result
