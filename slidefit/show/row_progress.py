"""A bar of rows done, their rate and the time left: on a terminal only, on standard error."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def row_progress(what: str, expected: int | None) -> Iterator[Callable[[int], None]]:
    """Give a teller of the rows done so far; silent where standard error is no terminal.

    Parameters
    ----------
    expected : int or None
        Likely number of rows; the time left is shown where it is known.
    """
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, ProgressColumn, Task, TextColumn, TimeRemainingColumn
    from rich.text import Text

    class Rate(ProgressColumn):
        def render(self, task: Task) -> Text:
            speed = f", {task.speed:,.0f} a second" if task.speed else ""
            return Text(f"{task.completed:,.0f} rows{speed}")

    columns = (TextColumn("{task.description}"), BarColumn(), Rate(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=expected)
        yield lambda rows: bar.update(task, completed=rows)
