"""Text, JSON, faults, progress; what the terminal calls the settings, fields and actions that a message refers to."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import sys
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import click

from slidefit.errors import SlidefitError
from slidefit.facts import Action, Field, Setting, spoken_by
from slidefit.files import disk_fault
from slidefit.report.document import Document
from slidefit.report.render.terminal import document_text

DONE, OUR_FAULT, USER_FAULT, INTERRUPTED = 0, 1, 2, 130
WIDEST = 100
LINE_UP = "\x1b[1A\x1b[2K"

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
)
book_option = click.option(
    "--book",
    default="sales.duckdb",
    show_default=True,
    type=click.Path(),
    help="The sale book (a DuckDB file).",
)


# settings whose flag is not the argument's own name
FLAGS = {
    "mapping": "--map",
    "values": "--value",
    "market_names": "--market-name",
    "path": "--book",
    "fit": "--fit",
    "region": "--region",
    "allow_unseen": "--allow-unseen",
    "weight_lb": "--weight",
    "weights_lb": "--weight",
    "sexes": "--sex",
    "months": "--month",
}
COMMANDS = {
    "add": "slidefit add FILE",
    "export": "slidefit export OUT.csv --book FILE",
    "fit": "slidefit fit",
    "undo": "slidefit undo BATCH",
    "rename_market": "slidefit book rename-market OLD NEW",
    "add_quotes": "slidefit futures add FILE",
    "read_region": "slidefit region check FILE",
    "update": "slidefit region update FILE",
    "make_region": "slidefit region make NAME",
}


class TerminalDoor:
    """Flags and commands."""

    def setting(self, part: Setting) -> str:
        """Return ``--flag`` or ``--flag value``."""
        flag = FLAGS.get(part.name, f"--{part.name.replace('_', '-')}")
        plain = re.fullmatch(r"[\w.,:=/$-]*", part.value)  # the rest means something to a shell
        value = (
            part.value
            if plain
            else f'"{part.value}"'
            if not set('$`"!\\') & set(part.value)
            else shlex.quote(part.value)
        )
        return f"{flag} {value}" if value else flag

    def field(self, part: Field) -> str:
        """Return ``key`` or ``key = value``."""
        return f"{part.name} = {part.value}" if part.value else part.name

    def action(self, part: Action) -> str:
        """Return the command."""
        return COMMANDS.get(part.name, f"slidefit {part.name.replace('_', ' ')}")


def width() -> int:
    """Return the columns to write in: those of the terminal, at most 100."""
    return min(shutil.get_terminal_size((WIDEST, 24)).columns, WIDEST)


def say(
    answer: object,
    content: Callable[[], Document | str],
    *,
    as_json: bool,
    beside: Mapping[str, object] | None = None,
) -> None:
    """Print the answer as JSON, or else what the function makes: a document, or a text that stands as it is.

    ``beside`` are keys of the JSON that stand before the answer's own.
    """
    if as_json:
        from slidefit.report.json_answers import json_of

        click.echo(json.dumps({**json_of(beside or {}), **json_of(answer)}, indent=2, allow_nan=False))
        return
    made = content()
    click.echo(made if isinstance(made, str) else document_text(made, width=width()), nl=False)


def progress_words() -> Callable[[str], None]:
    """Return a teller of what is being done: on a terminal's standard error, silent elsewhere.

    A count of one step ("step: so many of so many") takes the place of the line before it.
    """
    if not sys.stderr.isatty():
        return lambda _: None
    step = ""

    def tell(word: str) -> None:
        nonlocal step
        before, (step, counts, _) = step, word.partition(":")
        again = LINE_UP if counts and step == before else ""
        click.echo(f"{again}{word} ...", err=True)

    return tell


def run_safely(command: Callable[[], None]) -> int:
    """Run a command and return its exit code: 0 done, 2 the user's input or words, 1 a fault of ours.

    A fault of ours prints its trace only where the environment variable SLIDEFIT_TRACE is set.
    """
    with spoken_by(TerminalDoor()):
        return _exit_code(command)


def _exit_code(command: Callable[[], None]) -> int:
    try:
        command()
    except SlidefitError as fault:
        click.echo(f"slidefit: {fault}", err=True)
        return USER_FAULT
    except click.ClickException as fault:
        fault.show()
        return USER_FAULT
    except (click.Abort, KeyboardInterrupt):
        click.echo("slidefit: stopped; nothing was left half-written", err=True)
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except OSError as fault:  # whatever a disk refuses, wherever: never a fault of the program
        click.echo(f"slidefit: {disk_fault(fault, Path(str(fault.filename or '.')))}", err=True)
        return USER_FAULT
    except Exception as fault:
        if os.environ.get("SLIDEFIT_TRACE"):
            traceback.print_exc()
        click.echo(
            f"slidefit: a fault of the program, not of your input ({type(fault).__name__}: {fault}). "
            "Run it again with SLIDEFIT_TRACE=1 and report what it prints.",
            err=True,
        )
        return OUR_FAULT
    return DONE


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
