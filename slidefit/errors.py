"""Every error that slidefit raises on purpose: where it is, what is wrong, and what to do next.

All of them mean that the input or the request is at fault (exit code 2 on the command line);
anything else that escapes is a fault of the program.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from slidefit.facts import Words

Path = tuple[str | int, ...]
"""Keys and positions (from 0) that lead to a value of a document."""


def path_text(path: Path) -> str:
    """Return a path as a person would write it, positions from 1.

    >>> path_text(("programs", 1, "ration", 0, "lb_day"))
    'programs[2].ration[1].lb_day'
    """
    out = ""
    for key in path:
        out += f"[{key + 1}]" if isinstance(key, int) else f".{key}" if out else key
    return out


class SlidefitError(Exception):
    """A fault in what the user gave: a fact that a door puts into words.

    Parameters
    ----------
    what : str or Text
        What is wrong, naming the value found.
    where : str or Text
        The file, row, line or setting that it stands in; may be empty.
    remedy : str or Text
        What to do next; may be empty.
    code : str
        What kind of fault it is, for a program that decides by it; that of the class if empty.
    path : tuple of str and int
        Keys and positions of the value in a document; may be empty.
    line : int or None
        Line of the document.
    values : mapping
        The values that the message names.

    Examples
    --------
    >>> fault = SlidefitError("is -5", where="plan.toml", line=12, path=("groups", 0, "weight_lb"))
    >>> fault.where, fault.path[-1]
    ('plan.toml, line 12, groups[1].weight_lb', 'weight_lb')
    """

    code = "input"

    def __init__(
        self,
        what: Words,
        *,
        where: Words = "",
        remedy: Words = "",
        code: str = "",
        path: Path = (),
        line: int | None = None,
        values: Mapping[str, object] | None = None,
    ) -> None:
        self.fact = what
        self.place = where
        self.advice = remedy
        self.code = code or type(self).code
        self.path = path
        self.line = line
        self.values = dict(values or {})
        super().__init__(what)

    @property
    def what(self) -> str:
        """What is wrong, in the words of the open door."""
        return str(self.fact)

    @property
    def where(self) -> str:
        """Where it stands: file, line, key."""
        line = f"line {self.line}" if self.line else ""
        return ", ".join(filter(None, [str(self.place), line, path_text(self.path)]))

    @property
    def remedy(self) -> str:
        """What to do next, in the words of the open door."""
        return str(self.advice)

    def text(self) -> str:
        """Return the whole message: ``where: what. remedy``."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head.rstrip('.')}. {self.remedy}" if self.remedy else head

    def __str__(self) -> str:
        return self.text()


class RecordsError(SlidefitError):
    """A file of sale records can't be read as a whole (single bad rows are set aside instead)."""

    code = "records"


class QuestionError(RecordsError):
    """A file can be read in two ways; the remedy refers to the setting that settles it."""

    code = "question"


class BookError(SlidefitError):
    """The sale book is missing, busy, not ours, or can't be written."""

    code = "book"


class FitError(SlidefitError):
    """The records can't carry the fit that was asked for, or a saved fit can't be read."""

    code = "fit"


class EngineError(SlidefitError):
    """The machines that a fit was to run on are missing, out of reach, or failed."""

    code = "engine"


class OutlookError(SlidefitError):
    """A price was asked for a calf or a month that the outlook knows nothing about."""

    code = "outlook"


class OutputError(SlidefitError):
    """A result can't be written where it was asked for."""

    code = "output"


class DocumentError(SlidefitError):
    """A document written by hand is at fault; every problem found is told at once.

    Parameters
    ----------
    problems : sequence of SlidefitError
        One for each problem, in the order of the file.
    """

    code = "document"

    def __init__(self, problems: Sequence[SlidefitError]) -> None:
        self.problems = tuple(problems)
        super().__init__("")

    def text(self) -> str:
        """Return the messages of all problems, a line each."""
        return "\n".join(problem.text() for problem in self.problems)


class PlanError(DocumentError):
    """A plan is at fault."""

    code = "plan"


class RegionError(DocumentError):
    """A region's default file is at fault."""

    code = "region"
