"""Words of progress on a terminal: one line a step, a count in its own place."""

import pytest

from slidefit.cli.speaking import LINE_UP, progress_words


def test_a_count_takes_the_place_of_the_one_before(capsys, monkeypatch):
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    tell = progress_words()
    for word in ("sorting lots", "pass 1: 5 of 9", "pass 1: 9 of 9", "pass 2: 5 of 9", "done", "done"):
        tell(word)
    assert capsys.readouterr().err.splitlines() == [
        "sorting lots ...", "pass 1: 5 of 9 ...", f"{LINE_UP}pass 1: 9 of 9 ...", "pass 2: 5 of 9 ...", "done ...",
        "done ...",
    ]  # fmt: skip


@pytest.mark.parametrize("word", ["sorting lots", "pass 1: 5 of 9"])
def test_elsewhere_nothing_is_told(capsys, word):
    progress_words()(word)
    assert capsys.readouterr().err == ""
