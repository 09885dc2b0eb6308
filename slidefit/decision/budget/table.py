"""A budget as a table of inputs and lines, each declared once; and its readers.

A line's formula rests on keys above it alone, so a table has no circles. Numpy, text, spreadsheet and JavaScript all
read the same table: a line added to it is in each of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from slidefit.decision.budget.expressions import (
    PYTHON_SCOPE,
    Expression,
    as_javascript,
    as_python,
    as_spreadsheet,
    as_text,
    keys_of,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

Value: TypeAlias = "float | NDArray[Any]"
PriceAt = Callable[[Any, Any], Any]
Run = Callable[[Mapping[str, Any], PriceAt | None], tuple[Any, ...]]
Kind = Literal["input", "line", "income", "cost", "total"]
CELL_LIKE = re.compile(r"[a-z]{1,3}\d+|r\d*c?\d*|c\d*", re.IGNORECASE)
"""Keys that a spreadsheet would take for a cell's address."""


@dataclass(frozen=True)
class Entry:
    """One input or one line of a budget.

    Attributes
    ----------
    group : str
        Where it stands: calves, price, feed, care, money, sale, answer.
    kind : 'input', 'line', 'income', 'cost' or 'total'
        Money in or out is income or cost (a positive amount either way); a plain line is a step on the way.
    formula : Expression or None
        Over keys above it; None for an input, which has a default and limits.
    falls : str
        When a cost is paid: ``start``, ``daily``, ``stretch 1`` (2, ...) over its days, or ``sale``.
    words : str
        The arithmetic with keys in braces, such as ``{days:.0f} days x ${cost_head_day:.2f}``; printed plainly from
        the formula where empty.
    """

    key: str
    label: str
    unit: str
    group: str
    kind: Kind
    formula: Expression | None = None
    default: float = 0.0
    low: float = 0.0
    high: float = float("inf")
    falls: str = ""
    words: str = ""


@dataclass(frozen=True)
class Budget:
    """A table of inputs and lines.

    Raises
    ------
    ValueError
        A key stands twice, is an address of a spreadsheet, or a formula rests on a key that is not above it.

    Examples
    --------
    >>> import numpy as np
    >>> from slidefit.decision.budget.expressions import Key
    >>> days = Entry("days", "days kept", "days", "calves", "input")
    >>> cost_day = Entry("cost_head_day", "cost a day", "$/head-day", "feed", "input")
    >>> feed = Entry("feed_head", "feed", "$/head", "feed", "cost", Key("days") * Key("cost_head_day"))
    >>> budget = Budget((days, cost_day, feed))
    >>> budget.values({"days": 90, "cost_head_day": np.array([1.0, 1.5])})["feed_head"].tolist()
    [90.0, 135.0]
    >>> budget.spreadsheet()["feed_head"], budget.arithmetic("feed_head", {"days": 90, "cost_head_day": 1.5})
    ('days*cost_head_day', '90 x $1.50')
    """

    entries: tuple[Entry, ...]

    def __post_init__(self) -> None:
        above: set[str] = set()
        for each in self.entries:
            if each.key in above or CELL_LIKE.fullmatch(each.key):
                raise ValueError(f"{each.key} stands twice, or is a cell's address")
            unknown = (set() if each.formula is None else keys_of(each.formula)) - above
            if unknown or (each.formula is None) != (each.kind == "input"):
                raise ValueError(f"{each.key} rests on {', '.join(sorted(unknown)) or 'nothing'}")
            above.add(each.key)

    @cached_property
    def by_key(self) -> Mapping[str, Entry]:
        """The entries by their keys."""
        return {each.key: each for each in self.entries}

    @cached_property
    def inputs(self) -> tuple[Entry, ...]:
        """The inputs, in order."""
        return tuple(each for each in self.entries if each.formula is None)

    @cached_property
    def lines(self) -> tuple[Entry, ...]:
        """The lines, in order."""
        return tuple(each for each in self.entries if each.formula is not None)

    def values(self, given: Mapping[str, Value], price_at: PriceAt | None = None) -> dict[str, Value]:
        """Return every entry's value, inputs included; arrays are taken element by element.

        Inputs not ``given`` are at their defaults; ``price_at`` is the market's price [$/cwt] from weight and day.
        """
        wanted = tuple(self.by_key)
        return dict(zip(wanted, self.function(wanted)(self.with_defaults(given), price_at), strict=True))

    def with_defaults(self, given: Mapping[str, Value]) -> dict[str, Value]:
        """Return the inputs given, and the defaults of the rest."""
        return self._defaults | dict(given)

    @cached_property
    def _defaults(self) -> dict[str, Value]:
        return {each.key: each.default for each in self.inputs}

    def needed(self, wanted: Iterable[str], fixed: Iterable[str] = ()) -> set[str]:
        """Return the keys that some keys rest on, themselves included; what is fixed rests on nothing."""
        found, held = set(wanted), set(fixed)
        for each in reversed(self.entries):
            if each.key in found and each.formula is not None and each.key not in held:
                found |= keys_of(each.formula)
        return found

    def function(self, wanted: Sequence[str], fixed: Sequence[str] = ()) -> Run:
        """Return a function from inputs and prices to the values ``wanted``: only the lines that these rest on are run.

        Lines that are ``fixed`` are given like inputs instead of worked out.
        """
        which = (tuple(wanted), tuple(fixed))
        if which not in self._compiled:
            self._compiled[which] = _compiled(self, *which)
        return self._compiled[which]

    @cached_property
    def _compiled(self) -> dict[tuple[tuple[str, ...], tuple[str, ...]], Run]:
        return {}

    def arithmetic(self, key: str, values: Mapping[str, Value]) -> str:
        """Return a line's arithmetic in words, with the values that it rests on."""
        entry = self.by_key[key]
        if entry.formula is None:
            return ""
        if entry.words:
            words = entry.words.format_map(values).replace("+ $-", "less $")
            return words.replace(" x 1.000 alive", "").replace(" x 1.000 sold", "")
        return as_text(entry.formula, lambda each: _shown(float(values[each]), self.by_key[each].unit))

    def spreadsheet(
        self, name: Callable[[str], str] = str, price: Callable[[str, str], str] | None = None
    ) -> dict[str, str]:
        """Return each line's formula for a spreadsheet, without the equals sign; see `expressions.as_spreadsheet`."""
        return {
            each.key: as_spreadsheet(each.formula, name, price)
            for each in self.entries
            if each.formula is not None
        }

    def javascript(self, function: str = "budget") -> str:
        """Return the source of a JavaScript function from an object of inputs to an object of all values.

        It takes ``(given, priceAt)``: inputs that are left out are at their defaults; ``priceAt(weight, day)`` is
        called where the budget asks for a market's price.
        """
        body = []
        for each in self.entries:
            value = (
                f"given.{each.key} ?? {each.default:g}"
                if each.formula is None
                else as_javascript(each.formula)
            )
            body.append(f"  const {each.key} = {value};")
        keys = ", ".join(each.key for each in self.entries)
        return "\n".join([f"function {function}(given, priceAt) {{", *body, f"  return {{{keys}}};", "}"])


def _compiled(budget: Budget, wanted: tuple[str, ...], fixed: tuple[str, ...]) -> Run:
    needed = budget.needed(wanted, fixed)
    body = []
    for each in budget.entries:
        if each.key in needed:
            given = each.formula is None or each.key in fixed
            value = f"given[{each.key!r}]" if given or each.formula is None else as_python(each.formula)
            body.append(f"    {each.key} = {value}")
    source = "\n".join(["def run(given, price_at):", *body, f"    return ({', '.join(wanted)},)"])
    scope: dict[str, Any] = dict(PYTHON_SCOPE)
    exec(compile(source, "<budget>", "exec"), scope)
    run: Run = scope["run"]
    return run


def _shown(value: float, unit: str) -> str:
    if unit.startswith("$"):
        return f"${value:,.2f}" if value >= 0 else f"-${-value:,.2f}"
    return f"{value:,.0f}" if value == round(value) else f"{value:,.2f}"
