"""Comments that somebody wrote into a file outlive a new text of it."""

from __future__ import annotations

from slidefit.toml_tables import with_comments


def test_comments_move_with_their_lines() -> None:
    old = '[a]\n# on b\nb = 1  # why\n"c # d" = "x # y"\n# at the end\n'
    new = '[a]\nb = 2\n"c # d" = "x # y"\ne = 3\n'
    assert with_comments(new, old) == '[a]\n# on b\nb = 2  # why\n"c # d" = "x # y"\ne = 3\n# at the end\n'
