"""The product names one version everywhere that it speaks."""

import re
import tomllib
from pathlib import Path

from slidefit import __version__

TOP = Path(__file__).parents[1]


def test_package_citation_changes_and_demonstration_name_one_version():
    project = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]
    citation = re.search(r"^version: (.+)$", (TOP / "docs" / "CITATION.cff").read_text(), re.MULTILINE)
    newest = re.search(r"^## (.+)$", (TOP / "docs" / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert citation is not None and newest is not None
    made_by = {
        re.match(r"slidefit (\S+):", tomllib.loads(path.read_text())["source"]["method"])[1]  # type: ignore[index]
        for path in [TOP / "data_demo" / "kettle_fork.toml", *(TOP / "data_demo" / "regions").glob("*.toml")]
    }
    assert {project["version"], citation[1], newest[1], *made_by} == {__version__}
