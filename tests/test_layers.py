"""The arrows of the package point one way; late and string imports are read too."""

from __future__ import annotations

import ast
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "slidefit"
ORDER = (
    *(
        "facts",
        "distributions",
        "errors",
        "files",
        "futures_contracts",
        "minimum",
        "public_result",
        "shared_work",
    ),
    *("toml_faults", "toml_tables", "records", "market", "regions", "plan", "decision", "storage"),
    *("doctor", "report", "scale", "web", "cli"),
)
FORBIDDEN = {
    ("market", "records"),
    ("regions", "records"),
    ("decision", "records"),
    ("plan", "records"),
    ("plan", "market"),
    ("plan", "regions"),
    ("cli", "web"),
}
STARTS_THE_PAGE = "cli/serve_command.py"
MOST_MODULES = 14
# arrows between the parts of one package: the left never imports the right
INSIDE = {
    ("records/words", "records/reading"),
    ("records/words", "records/meaning"),
    ("records/reading", "records/meaning"),
    ("market/fit", "market/season"),
    ("market/fit", "market/market_fit"),
    ("market/fit", "market/backtest"),
    ("decision/risk", "decision/comparison"),
    ("decision/risk", "decision/replay"),
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def layer_of(name: str) -> str | None:
    parts = name.split(".")
    return parts[1] if parts[0] == "slidefit" and len(parts) > 1 and parts[1] in ORDER else None


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imported(path: Path) -> list[str]:
    names = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names += [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
            "import_module",
            "__import__",
        ):
            names.append("by string")
    return names


def test_imports_point_one_way() -> None:
    for relative, name in ((p.relative_to(PACKAGE), name) for p in modules() for name in imported(p)):
        assert name != "by string", f"{relative} imports by string"
        own, other = relative.parts[0].removesuffix(".py"), layer_of(name)
        if own not in ORDER or other is None or other == own:
            continue
        assert ORDER.index(other) < ORDER.index(own), f"{relative} imports {name}, against the flow"
        starts = relative.as_posix() == STARTS_THE_PAGE
        assert (own, other) not in FORBIDDEN or starts, f"{relative} imports {name}"


@pytest.mark.parametrize(("low", "high"), sorted(INSIDE))
def test_parts_of_a_package_point_one_way(low: str, high: str) -> None:
    inside = [p for p in modules() if p.relative_to(PACKAGE).as_posix().startswith(f"{low}/")]
    assert inside, f"{low} is gone"
    upward = "slidefit." + high.replace("/", ".")
    found = [(p.name, name) for p in inside for name in imported(p) if f"{name}.".startswith(f"{upward}.")]
    assert not found


RUNS = {"eval", "exec", "system", "popen"}
ASKS = {
    "ctypes",
    "ftplib",
    "http",
    "httpx",
    "pickle",
    "requests",
    "smtplib",
    "socket",
    "subprocess",
    "urllib.request",
}
MAY_RUN_OR_ASK = {
    "decision/budget/table.py": {"exec"},  # of our own declared lines
    "scale/dask_engine.py": {"socket"},  # a cluster that the user names
    "shared_work.py": {
        "pickle",
        "subprocess",
    },  # a second slidefit process, and what the two say to each other
    "web/app.py": {"socket"},  # the page listens
    "web/security.py": {"socket"},  # this machine's address
}


def test_what_runs_code_or_asks_a_network_stands_where_it_must() -> None:
    found: dict[str, set[str]] = {}
    for path in modules():
        calls = [node.func for node in ast.walk(tree_of(path)) if isinstance(node, ast.Call)]
        used = {getattr(func, "attr", getattr(func, "id", "")) for func in calls} & RUNS
        used |= {name for name in ASKS for other in imported(path) if f"{other}.".startswith(f"{name}.")}
        if used:
            found[path.relative_to(PACKAGE).as_posix()] = used
    assert found == MAY_RUN_OR_ASK


def test_a_folder_holds_no_more_modules_than_a_newcomer_can() -> None:
    counts = Counter(p.parent for p in modules() if p.name != "__init__.py")
    assert max(counts.values()) <= MOST_MODULES, counts.most_common(1)


def test_package_top_is_named_in_the_order() -> None:
    tops = {p.relative_to(PACKAGE).parts[0].removesuffix(".py") for p in modules()} - {"__init__"}
    assert tops <= set(ORDER)


def test_no_cycle_between_modules() -> None:
    """Import graph of modules, late imports included, has no cycle."""
    known = {".".join(("slidefit", *p.relative_to(PACKAGE).with_suffix("").parts)): p for p in modules()}
    known = {name.removesuffix(".__init__"): path for name, path in known.items()}
    graph = {}
    for name, path in known.items():
        edges = set()
        for target in imported(path):
            while target and target not in known:
                target = target.rpartition(".")[0]
            if target and target != name and target != "slidefit":
                edges.add(target)
        graph[name] = edges
    seen: dict[str, int] = {}

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert seen.get(name) != 1, f"import cycle: {' -> '.join((*trail, name))}"
        if name in seen:
            return
        seen[name] = 1
        for other in sorted(graph[name]):
            visit(other, (*trail, name))
        seen[name] = 2

    for name in sorted(graph):
        visit(name, ())


def test_files_stay_short() -> None:
    long = {str(p.relative_to(PACKAGE)): n for p in modules() if (n := len(p.read_text().splitlines())) > 400}
    assert not long


def test_modules_have_a_test_module_of_their_name() -> None:
    tests = Path(__file__).parent
    own = [p.relative_to(PACKAGE) for p in modules() if p.name != "__init__.py"]
    assert not [p for p in own if not (tests / p.parent / f"test_{p.name}").exists()]


def test_every_public_function_is_documented_and_typed() -> None:
    bare = []
    for path in modules():
        tree = tree_of(path)
        holders = [tree, *(node for node in tree.body if isinstance(node, ast.ClassDef))]
        for node in (child for holder in holders for child in holder.body):
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                if ast.get_docstring(node) is None:
                    bare.append(f"{path.relative_to(PACKAGE)}: {node.name} has no docstring")
                if node.returns is None:
                    bare.append(f"{path.relative_to(PACKAGE)}: {node.name} has no return type")
    assert not bare


def test_digits_are_tested_as_int_reads_them() -> None:
    """A raised two is a digit, yet ``int`` refuses it: what goes into ``int`` is asked with ``isdecimal``."""
    assert "²".isdigit() and not "²".isdecimal()
    assert not [p.name for p in modules() if ".isdigit(" in p.read_text(encoding="utf-8")]
