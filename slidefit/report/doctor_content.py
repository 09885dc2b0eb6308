"""A folder looked over, as a document."""

from __future__ import annotations

from pathlib import Path

from slidefit.doctor import LEVELS, Checkup, Level
from slidefit.report.document import Document, Heading, Part, document

HEADINGS: dict[Level, str] = {"unreadable": "Can't be read", "fix": "To fix", "look": "Worth a look"}


def doctor_content(checkup: Checkup) -> Document:
    """Return what was looked at and what was found, the gravest first, each with what to do."""
    kinds = [kind for _, kind in checkup.files]
    counts = ", ".join(
        f"{kinds.count(kind)} {kind}{'s' if kinds.count(kind) > 1 else ''}" for kind in dict.fromkeys(kinds)
    )
    parts: list[Part | str] = [
        f"Checked in {checkup.folder}: {counts or 'nothing; there is no slidefit file here'}."
    ]
    for level in LEVELS:
        found = [finding for finding in checkup.findings if finding.level == level]
        parts += [Heading(HEADINGS[level])] if found else []
        parts += [f"{Path(f.file).name}: {str(f.what).rstrip('.')}. {f.remedy}" for f in found]
    if checkup.files and not checkup.findings:
        parts.append("No problems found.")
    return document(*parts)
