"""README does what it says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from slidefit.cli.main import slidefit

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    first = README.split("\n\n")[1]
    assert "sell" in first and "keep" in first and "\n#" not in first


def test_every_command_shown_exists_with_its_options() -> None:
    shown = re.findall(r"^    slidefit (\w+)(.*?)(?:\s{2,}#|$)", README, re.MULTILINE)
    assert len(shown) >= 8
    for name, rest in shown:
        assert name in slidefit.commands, name
        options = {word for option in slidefit.commands[name].params for word in option.opts}
        assert set(re.findall(r"--[a-z-]+", rest)) <= options, (name, rest)


def test_python_lines_run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    exec(compile(code, "README.md", "exec"), {})
    assert "Best(" in capsys.readouterr().out


def test_links_lead_somewhere() -> None:
    for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))):
        for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            assert target.startswith("https://") or (page.parent / target).exists(), f"{page.name}: {target}"


def test_there_is_a_setup_line_for_the_job_and_for_the_tests() -> None:
    for mark, ending in (("demo", "slidefit demo"), ("test", "pytest")):
        (line,) = re.findall(rf"<!-- {mark} command -->\n```\n(.*?)\n```", README)
        assert line.endswith(ending) and "venv" in line
