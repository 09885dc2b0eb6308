"""What every result can do, whatever stands behind it."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest

from slidefit import public_result
from slidefit.public_result import PublicResult


class Answer(PublicResult):
    def __init__(self, gain: float) -> None:
        self.gain = gain


def test_the_text_is_json_that_any_reader_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 8259 has no NaN and no infinity: better no text than one that others can't read."""
    says = SimpleNamespace(
        dictionary=lambda result: {"gain": result.gain}, short_text=lambda result: "<Answer>"
    )
    monkeypatch.setattr(public_result, "report_of_results", lambda: says)
    assert json.loads(Answer(16.5).to_json()) == {"gain": 16.5} and repr(Answer(16.5)) == "<Answer>"
    for gain in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="JSON"):
            Answer(gain).to_json()
