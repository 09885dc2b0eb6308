"""README does what it says."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    first = README.split("\n\n")[1]
    assert "sell" in first and "keep" in first and "\n#" not in first


def test_links_lead_somewhere() -> None:
    for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))):
        for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            assert target.startswith("https://") or (page.parent / target).exists(), f"{page.name}: {target}"


def test_there_is_a_setup_line_for_the_job_and_for_the_tests() -> None:
    for mark, ending in (("demo", "slidefit demo"), ("test", "pytest")):
        (line,) = re.findall(rf"<!-- {mark} command -->\n```\n(.*?)\n```", README)
        assert line.endswith(ending) and "venv" in line
