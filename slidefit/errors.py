"""Every error that slidefit raises on purpose: where it is, what is wrong, and what to do next.

All of them mean that the input or the request is at fault (exit code 2 on the command line);
anything else that escapes is a fault of the program.
"""

from __future__ import annotations

from collections.abc import Sequence


class SlidefitError(Exception):
    """A fault in what the user gave, told in the user's words.

    Parameters
    ----------
    what : str
        What is wrong, naming the value found.
    where : str
        The file, row, line or field that it stands in; may be empty.
    remedy : str
        What to do next; may be empty.
    """

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(self.text())

    def text(self) -> str:
        """Return the whole message: ``where: what. remedy``."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head.rstrip('.')}. {self.remedy}" if self.remedy else head


class RecordsError(SlidefitError):
    """A file of sale records can't be read as a whole (single bad rows are set aside instead)."""


class QuestionError(RecordsError):
    """A file can be read in two ways; the remedy names the flag that settles it."""


class BookError(SlidefitError):
    """The sale book is missing, busy, not ours, or can't be written."""


class FitError(SlidefitError):
    """The records can't carry the fit that was asked for, or a saved fit can't be read."""


class EngineError(SlidefitError):
    """The machines that a fit was to run on are missing, out of reach, or failed."""


class OutlookError(SlidefitError):
    """A price was asked for a calf or a month that the outlook knows nothing about."""


class OutputError(SlidefitError):
    """A result can't be written where it was asked for."""


class DocumentError(SlidefitError):
    """A document written by hand is at fault; every problem found is told at once.

    Parameters
    ----------
    problems : sequence of SlidefitError
        One for each problem, in the order of the file.
    """

    def __init__(self, problems: Sequence[SlidefitError]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(p.text() for p in self.problems))


class PlanError(DocumentError):
    """A plan is at fault."""


class RegionError(DocumentError):
    """A region's default file is at fault."""
