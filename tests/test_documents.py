"""Every command, sample and notebook of the documents runs, on shorter files of the same names, in one folder."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

import slidefit
from slidefit.cli.main import slidefit as command
from slidefit.cli.speaking import run_safely

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
NOTEBOOKS = sorted((ROOT / "docs" / "notebooks").glob("*.ipynb"))
EARLY = re.compile(r"\b20(18|19|20|21)\b")
"""Years left out of the shortened file: the rest is enough for a backtest, and takes a tenth of the time."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the top folder holds for a reader, with a book and a fit as the analyst's tutorial leaves them."""
    made = tmp_path_factory.mktemp("reader")
    shutil.copytree(
        ROOT / "data_demo", made / "data_demo", ignore=shutil.ignore_patterns("*.csv", "*.py", "__pycache__")
    )
    rows = (ROOT / "data_demo" / "cold_kettle_auction.csv").read_text().splitlines(keepends=True)
    late = [row for row in rows[1:] if not EARLY.search(row)]
    (made / "data_demo" / "cold_kettle_auction.csv").write_text("".join([rows[0], *late]))
    book = slidefit.book(made / "sales.duckdb")
    book.add(slidefit.read(made / "data_demo" / "cold_kettle_auction.csv"))
    slidefit.save(slidefit.fit(book), made / "slide.json")
    return made


@pytest.fixture
def inside(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(folder)
    return folder


def blocks(page: Path, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)


def commands(page: Path) -> list[list[str]]:
    return [shlex.split(line) for block in blocks(page, "sh") for line in block.splitlines() if line.strip()]


TUTORIALS = [page for name in ("start-analyst", "start-producer", "start-adviser", "how-to")
             for page in PAGES if page.stem == name]  # fmt: skip


@pytest.mark.documents
@pytest.mark.parametrize("page", TUTORIALS, ids=lambda page: page.stem)
def test_every_command_runs(page: Path, inside: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = commands(page)
    assert len(found) >= 6 and {words[0] for words in found} == {"slidefit"}
    for words in found:
        code = run_safely(lambda words=words: command.main(words[1:], standalone_mode=False))  # type: ignore[misc]
        told = capsys.readouterr()
        assert code == 0 and told.out, f"{shlex.join(words)}: {told.err}"


@pytest.mark.documents
@pytest.mark.parametrize(
    "page", [page for page in PAGES if blocks(page, "python")], ids=lambda page: page.stem
)
def test_every_sample_runs(page: Path, inside: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One after the other, as a reader would run them from the top folder."""
    names: dict[str, object] = {}
    for place, sample in enumerate(blocks(page, "python")):
        exec(compile(sample, f"{page.name}, sample {place + 1}", "exec"), names)
    assert capsys.readouterr().out
    if page.stem == "python":
        assert (inside / "slide.png").stat().st_size > 5_000 and "<html" in str(names["page"])


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_holds_code_and_no_output(path: Path) -> None:
    """.ci/notebooks.py runs each in a kernel."""
    cells = [
        each for each in json.loads(path.read_text(encoding="utf-8"))["cells"] if each["cell_type"] == "code"
    ]
    assert cells
    for place, cell in enumerate(cells):
        assert cell["outputs"] == [] and cell["execution_count"] is None
        compile("".join(cell["source"]), f"{path.name}, cell {place}", "exec")


def shown_commands(page: Path) -> Iterator[list[str]]:
    """Yield every line of words that begins with slidefit: in indented blocks and between back quotes."""
    text = page.read_text(encoding="utf-8")
    for line in re.findall(r"^    slidefit (.+?)(?:\s{2,}#.*)?$|`slidefit ([^`]+)`", text, re.MULTILINE):
        yield (line[0] or line[1]).split()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_command_named_exists_with_its_options(page: Path) -> None:
    for words in shown_commands(page):
        found: click.Command = command
        while isinstance(found, click.Group) and words and words[0] in found.commands:
            found = found.commands[words.pop(0)]
        assert found is not command or words[0].startswith("-"), f"{page.name}: no command {' '.join(words)}"
        known = {name for option in found.params for name in option.opts} | {"--help", "--version"}
        named = set(re.findall(r"--[a-z][a-z-]*", " ".join(words)))
        assert named <= known, f"{page.name}: {found.name} has no {named - known}"


def test_the_site_names_every_page() -> None:
    told = (ROOT / ".site" / "mkdocs.yml").read_text(encoding="utf-8")
    assert {page.name for page in PAGES[1:]} == set(re.findall(r"[\w-]+\.md", told))
