"""What is told to a person, as data: plain words and references that each door says in its own words.

A message below the doors never names a flag or a form's label. It refers to a *setting* (something that
can be given to the call at hand), a *field* of a file written by hand, or an *action* (another call). The
terminal says them as flags and commands, the page as labels and buttons, Python as arguments and
functions; without a door, Python's words are used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Setting:
    """Something that the call at hand takes, by the name of its Python argument, and the value to give."""

    name: str
    value: str = ""


@dataclass(frozen=True)
class Field:
    """A field of a file written by hand, by its key, and the value to write."""

    name: str
    value: str = ""


@dataclass(frozen=True)
class Action:
    """Another call that helps, by the name of its Python function."""

    name: str


Part = str | Setting | Field | Action


class Door(Protocol):
    """How one kind of reader is spoken to."""

    def setting(self, part: Setting) -> str:
        """Return a setting in the door's words."""

    def field(self, part: Field) -> str:
        """Return a field in the door's words."""

    def action(self, part: Action) -> str:
        """Return an action in the door's words."""


class PythonDoor:
    """Arguments, keys and functions, as a Python program writes them."""

    def setting(self, part: Setting) -> str:
        """Return ``name`` or ``name='value'``."""
        return f"{part.name}={part.value!r}" if part.value else part.name

    def field(self, part: Field) -> str:
        """Return ``name`` or ``name = value``."""
        return f"{part.name} = {part.value}" if part.value else part.name

    def action(self, part: Action) -> str:
        """Return ``name()``."""
        return f"{part.name}()"


_door: ContextVar[Door] = ContextVar("door", default=PythonDoor())  # noqa: B039


@contextmanager
def spoken_by(door: Door) -> Iterator[None]:
    """Say every text in the words of a door while the block runs."""
    token = _door.set(door)
    try:
        yield
    finally:
        _door.reset(token)


class Text:
    """Plain words and references, said by the door that is open when it becomes a ``str``.

    Examples
    --------
    >>> text = Text("Say it with ", Setting("date_order", "mdy"), ".")
    >>> str(text)
    "Say it with date_order='mdy'."
    >>> text.parts[1].name
    'date_order'
    """

    __slots__ = ("parts",)

    def __init__(self, *parts: Part | Text) -> None:
        flat: list[Part] = []
        for part in parts:
            flat.extend(part.parts if isinstance(part, Text) else (part,))
        self.parts: tuple[Part, ...] = tuple(flat)

    def __str__(self) -> str:
        door = _door.get()
        said = []
        for part in self.parts:
            if isinstance(part, str):
                said.append(part)
            elif isinstance(part, Setting):
                said.append(door.setting(part))
            elif isinstance(part, Field):
                said.append(door.field(part))
            else:
                said.append(door.action(part))
        return "".join(said)

    def __repr__(self) -> str:
        return f"Text({', '.join(map(repr, self.parts))})"

    def __bool__(self) -> bool:
        return any(self.parts)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Text) and self.parts == other.parts

    def __hash__(self) -> int:
        return hash(self.parts)

    def __add__(self, other: str | Text) -> Text:
        return Text(self, other)


Words = str | Text
"""A message: plain, or with references."""


def listed(parts: Sequence[Part], last: str = "and") -> Text:
    """Return references in a row: ``a, b and c``.

    >>> str(listed([Field("a"), Field("b"), Field("c")]))
    'a, b and c'
    """
    out: list[Part] = []
    for place, part in enumerate(parts):
        if place:
            out.append(f" {last} " if place == len(parts) - 1 else ", ")
        out.append(part)
    return Text(*out)
