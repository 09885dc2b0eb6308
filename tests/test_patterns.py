"""Every regular expression of the package takes time in proportion to the text, whatever the text repeats."""

from __future__ import annotations

import ast
import importlib
import itertools
import pkgutil
import re
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import slidefit

LENGTH, SHORT, SHORTEST = 20_000, 500, 250
MOST_SECONDS = 0.05
MOST_GROWTH = 9.0  # from a fifth of the length: 5 where time grows with the length, 25 with its square
HARD_CASES = 4  # pumps of each pattern, the slowest with a short text, tried with a longer one
PREFIXES = ("", "a 1 ")
SIGNS = " \t\n1aA.,-/$#%():;'\"&_=<[{|@+*\u2013"
PAIRS = tuple(a + b for a, b in itertools.product("1a ", " .,-/$()'&:1") if a != b)
WORDS = (
    "no ",
    "to ",
    "per ",
    "lb ",
    "1 lb ",
    "1 to ",
    "$1 ",
    "steer ",
    "5-6 cwt ",
    "1 - ",
    "ab1 ",
    "nov 1 ",
    "week ",
)
WORDS += (
    " \t",
    "  -",
    "1,1 ",
    "a.b",
    "1.5-",
    "over ",
    "and ",
    "of ",
    "report ",
    "head ",
    "<td>",
    "x@y.",
    "'s ",
    "..1",
)
PUMPS = (*SIGNS, *PAIRS, *WORDS)
CASES = list(itertools.product(PREFIXES, PUMPS))


def patterns() -> dict[tuple[str, int], tuple[str, re.Pattern[str]]]:
    """All compiled patterns by import, and those written out where they are used."""
    found: dict[tuple[str, int], tuple[str, re.Pattern[str]]] = {}

    def collect(name: str, value: object, depth: int) -> None:
        if isinstance(value, re.Pattern):
            if isinstance(value.pattern, str):
                found.setdefault((value.pattern, value.flags), (name, value))
        elif isinstance(value, dict) and depth:
            collect(name, [*value, *value.values()], depth)
        elif isinstance(value, list | tuple | set | frozenset) and depth:
            for item in value:
                collect(name, item, depth - 1)
        elif isinstance(value, type) and depth == 4 and value.__module__.startswith("slidefit"):
            collect(f"{name}.{value.__name__}", list(vars(value).values()), depth - 1)

    for module in pkgutil.walk_packages(slidefit.__path__, "slidefit."):
        if module.name.endswith("__main__"):
            continue
        loaded = importlib.import_module(module.name)
        for name, value in vars(loaded).items():
            collect(f"{module.name}.{name}", value, 4)
        for line, text, flags in written_out(Path(str(loaded.__file__))):
            collect(f"{module.name}, line {line}", re.compile(text, flags), 4)
    return found


def written_out(path: Path) -> Iterator[tuple[int, str, int]]:
    """Patterns given as text to a function of ``re``."""
    source = path.read_text(encoding="utf-8")
    for node in ast.walk(ast.parse(source)) if "re." in source else ():
        match node:
            case ast.Call(ast.Attribute(ast.Name("re")), [ast.Constant(str(text)), *_]):
                folded = any(flag in ast.unparse(node) for flag in ("re.I,", "re.I)", "re.IGNORECASE"))
                yield node.lineno, text, re.IGNORECASE if folded else 0


@cache
def text_of(prefix: str, pump: str, length: int) -> str:
    return prefix + (pump * length)[:length] + "\x01"


def seconds(pattern: re.Pattern[str], prefix: str, pump: str, length: int, tries: int = 1) -> float:
    text = text_of(prefix, pump, length)
    best = float("inf")
    for _ in range(tries):
        start = time.thread_time()
        pattern.search(text)
        best = min(best, time.thread_time() - start)
    return best


def ranked(pattern: re.Pattern[str]) -> list[tuple[str, str]]:
    """The prefixes and pumps, the slowest with the shortest text first."""
    ends = [time.thread_time()]
    for case in CASES:
        pattern.search(text_of(*case, SHORTEST))
        ends.append(time.thread_time())
    took = [end - start for start, end in itertools.pairwise(ends)]
    return [CASES[at] for at in sorted(range(len(CASES)), key=lambda at: -took[at])]


def slow(pattern: re.Pattern[str]) -> tuple[str, str, float] | None:
    """The prefix and pump with which a pattern takes too long: in the full length those that short texts hint at."""
    hardest = ranked(pattern)[:HARD_CASES]
    for (
        case
    ) in hardest:  # time growing with the third power shows here, and would never end with a longer text
        if (short := seconds(pattern, *case, SHORT)) > MOST_SECONDS:
            return *case, short
    fifths = {case: seconds(pattern, *case, LENGTH // 5, 2) for case in hardest}
    case = max(fifths, key=lambda each: fifths[each])
    if fifths[case] > MOST_SECONDS:
        return *case, fifths[case]
    full = seconds(pattern, *case, LENGTH)
    near = full < 5.0 * MOST_SECONDS
    if full <= MOST_SECONDS or (near and seconds(pattern, *case, LENGTH, 3) <= MOST_SECONDS):
        return None
    fifth = seconds(pattern, *case, LENGTH // 5, 5)  # a busy machine slows both
    return (*case, full) if full > MOST_GROWTH * fifth else None


def test_every_pattern_is_linear() -> None:
    found = patterns()
    assert len(found) > 200
    faults = {name: bad for name, pattern in found.values() if (bad := slow(pattern))}
    assert not faults, "\n".join(f"{name}: {bad}" for name, bad in faults.items())


@pytest.mark.parametrize("text", [r"\s*x", r"(a+)b", r"\d+\s*\d*$"])
def test_a_pattern_that_is_not_is_seen(text: str) -> None:
    assert slow(re.compile(text))
