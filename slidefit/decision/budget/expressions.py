"""Formulas over named numbers, written in Python and read by numpy, a spreadsheet, a web page, or as text.

An expression is data: `Key("days") * Key("cost_head_day")` holds what is to be done, not its result. It can't be
used as a condition, so no branch is decided while it is written: `where` keeps both sides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NoReturn, TypeAlias

Operand: TypeAlias = "Expression | float"


def _joined(sign: str, *, swapped: bool = False) -> Callable[[Expression, Operand], Expression]:
    """Return the method that joins an expression and another by a sign."""

    def join(self: Expression, other: Operand) -> Expression:
        sides = (as_expression(other), self) if swapped else (self, as_expression(other))
        return Operation(sign, sides)

    return join


class Expression:
    """A formula over named numbers; made by arithmetic on `Key` and numbers. As a condition it raises TypeError.

    >>> cost = Key("days") * Key("cost_head_day")
    >>> as_spreadsheet(cost), sorted(keys_of(cost))
    ('days*cost_head_day', ['cost_head_day', 'days'])
    """

    __hash__ = object.__hash__

    def __bool__(self) -> NoReturn:
        raise TypeError("an expression has no truth of its own: use where(condition, one, other)")

    __add__, __radd__ = _joined("+"), _joined("+", swapped=True)
    __sub__, __rsub__ = _joined("-"), _joined("-", swapped=True)
    __mul__, __rmul__ = _joined("*"), _joined("*", swapped=True)
    __truediv__, __rtruediv__ = _joined("/"), _joined("/", swapped=True)
    __gt__, __lt__, __ge__, __le__ = _joined(">"), _joined("<"), _joined(">="), _joined("<=")

    def __neg__(self) -> Expression:
        return Operation("-", (Constant(0.0), self))

    def __pow__(self, other: Operand) -> Expression:
        return Call("power", (self, as_expression(other)))


@dataclass(frozen=True)
class Constant(Expression):
    """A plain number."""

    value: float


@dataclass(frozen=True)
class Key(Expression):
    """A number by its name."""

    name: str


@dataclass(frozen=True)
class Operation(Expression):
    """Two expressions joined by ``+ - * /`` or compared by ``> < >= <=``."""

    sign: str
    sides: tuple[Expression, Expression]


@dataclass(frozen=True)
class Call(Expression):
    """A function of expressions: ``min``, ``max``, ``where``, ``power``, ``price_at``."""

    name: str
    arguments: tuple[Expression, ...]


def as_expression(value: Operand) -> Expression:
    """Return a number as a constant; an expression as it is."""
    return value if isinstance(value, Expression) else Constant(float(value))


def least(one: Operand, other: Operand) -> Expression:
    """Return the smaller of two."""
    return Call("min", (as_expression(one), as_expression(other)))


def most(one: Operand, other: Operand) -> Expression:
    """Return the larger of two."""
    return Call("max", (as_expression(one), as_expression(other)))


def where(condition: Expression, yes: Operand, no: Operand) -> Expression:
    """Return one of two, by a comparison."""
    return Call("where", (condition, as_expression(yes), as_expression(no)))


def price_at(weight_lb: Operand, day: Operand) -> Expression:
    """Return the market's price [$/cwt] at a weight on a day: the reader says where prices come from."""
    return Call("price_at", (as_expression(weight_lb), as_expression(day)))


def total(each: tuple[Expression, ...]) -> Expression:
    """Return the sum of expressions; zero for none."""
    out: Expression = each[0] if each else Constant(0.0)
    for one in each[1:]:
        out = out + one
    return out


def keys_of(expression: Expression) -> set[str]:
    """Return the names that an expression uses."""
    if isinstance(expression, Key):
        return {expression.name}
    return set().union(*(keys_of(each) for each in parts_of(expression)))


def parts_of(expression: Expression) -> tuple[Expression, ...]:
    """Return what an expression is made of."""
    if isinstance(expression, Operation):
        return expression.sides
    return expression.arguments if isinstance(expression, Call) else ()


@dataclass(frozen=True)
class Dialect:
    """How a language writes an expression: a key, a function of written arguments, a constant, signs of its own."""

    name: Callable[[str], str]
    calls: Mapping[str, Callable[..., str]]
    number: Callable[[float], str] = lambda value: (
        f"{value:g}" if value == float(f"{value:g}") else repr(value)
    )
    signs: Mapping[str, str] = field(default_factory=dict)


BINDING = {">": 0, "<": 0, ">=": 0, "<=": 0, "+": 1, "-": 1, "*": 2, "/": 2}


def written(expression: Expression, dialect: Dialect) -> str:
    """Return an expression in a language, with no more parentheses than it takes."""
    return _written(expression, dialect)[0]


def _written(expression: Expression, dialect: Dialect) -> tuple[str, int]:
    if isinstance(expression, Constant):
        text = dialect.number(expression.value)
        return (f"({text})", 9) if expression.value < 0 else (text, 9)
    if isinstance(expression, Key):
        return dialect.name(expression.name), 9
    if isinstance(expression, Call):
        return dialect.calls[expression.name](*(written(each, dialect) for each in expression.arguments)), 9
    assert isinstance(expression, Operation)
    own = BINDING[expression.sign]
    (left, of_left), (right, of_right) = (_written(each, dialect) for each in expression.sides)
    if of_left < own:
        left = f"({left})"
    if of_right < own or (of_right == own and expression.sign in "-/"):
        right = f"({right})"
    return f"{left}{dialect.signs.get(expression.sign, expression.sign)}{right}", own


def as_spreadsheet(
    expression: Expression, name: Callable[[str], str] = str, price: Callable[[str, str], str] | None = None
) -> str:
    """Return a spreadsheet formula without its equals sign; only functions that every spreadsheet knows.

    ``name`` writes a key; ``price`` a market's price from a weight and a day, both written as formulas.

    >>> as_spreadsheet(where(Key("a") > 0, Key("a") - (Key("b") - 1), 2))
    'IF(a>0,a-(b-1),2)'
    """
    calls: dict[str, Callable[..., str]] = {
        "min": lambda *each: f"MIN({','.join(each)})",
        "max": lambda *each: f"MAX({','.join(each)})",
        "where": lambda *each: f"IF({','.join(each)})",
        "power": lambda base, to: f"POWER({base},{to})",
        "price_at": price or _no_price,
    }
    return written(expression, Dialect(name, calls))


def as_javascript(expression: Expression, name: Callable[[str], str] = str) -> str:
    """Return a JavaScript expression; ``price_at`` becomes a call of ``priceAt(weight, day)``.

    >>> as_javascript(least(Key("a"), Key("b") ** 2) / Key("c"))
    'Math.min(a,Math.pow(b,2))/c'
    """
    calls: dict[str, Callable[..., str]] = {
        "min": lambda *each: f"Math.min({','.join(each)})",
        "max": lambda *each: f"Math.max({','.join(each)})",
        "where": lambda test, yes, no: f"({test}?{yes}:{no})",
        "power": lambda base, to: f"Math.pow({base},{to})",
        "price_at": lambda weight, day: f"priceAt({weight},{day})",
    }
    return written(expression, Dialect(name, calls))


def as_python(expression: Expression, name: Callable[[str], str] = str) -> str:
    """Return Python source over numbers and numpy arrays, to be run in `PYTHON_SCOPE` with ``price_at`` beside it."""
    calls: dict[str, Callable[..., str]] = {
        "min": lambda one, other: f"smaller({one},{other})",
        "max": lambda one, other: f"larger({one},{other})",
        "where": lambda *each: f"chosen({','.join(each)})",
        "power": lambda base, to: f"(({base})**({to}))",
        "price_at": lambda weight, day: f"price_at({weight},{day})",
    }
    return written(expression, Dialect(name, calls, repr))


def _either(plain: Callable[..., Any], of_arrays: str) -> Callable[..., Any]:
    """Return a function that numpy's of a name takes over where any argument is an array; numpy loads only then."""

    def run(*each: Any) -> Any:
        for one in each:
            if not isinstance(one, (int, float)):
                import numpy as np

                return getattr(np, of_arrays)(*each)
        return plain(*each)

    return run


PYTHON_SCOPE: Mapping[str, Any] = {
    "smaller": _either(min, "minimum"),
    "larger": _either(max, "maximum"),
    "chosen": _either(lambda test, yes, no: yes if test else no, "where"),
}


def as_text(expression: Expression, show: Callable[[str], str]) -> str:
    """Return the arithmetic as a person writes it, each key shown as its value.

    >>> as_text(Key("days") * Key("cost"), {"days": "90", "cost": "$1.55"}.__getitem__)
    '90 x $1.55'
    """
    calls: dict[str, Callable[..., str]] = {
        "min": lambda *each: f"the smaller of {' and '.join(each)}",
        "max": lambda *each: f"the larger of {' and '.join(each)}",
        "where": lambda test, yes, no: f"{yes} where {test}, else {no}",
        "power": lambda base, to: f"({base})^({to})",
        "price_at": lambda weight, day: f"price at {weight}",
    }
    spaced = {"*": " x ", "/": " / ", "+": " + ", "-": " less ", ">": " is over ", "<": " is under "}
    return written(expression, Dialect(show, calls, signs=spaced))


def _no_price(weight: str, day: str) -> str:
    raise TypeError(f"the formula asks for a price at {weight} on {day}: say where prices come from")
