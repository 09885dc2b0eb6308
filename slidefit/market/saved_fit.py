"""A fit on disk: ``slide.json``, one readable JSON document with a version, documented in docs/slide-json.md."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import types
import typing
from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from slidefit.errors import FitError
from slidefit.facts import Action, Text
from slidefit.files import write_whole
from slidefit.market.market_fit import MarketFit
from slidefit.market.months import MONTHS

FORMAT = "slidefit slide"
VERSION = 7
HASH = "sha256"
"""Key of the hash: a changed number would give another answer without a word."""


def save_fit(fit: MarketFit, path: str | Path) -> Path:
    """Write a fit, whole or not at all, with a hash of its content.

    Raises
    ------
    OutputError. The folder is missing, read-only or full; what was there before stays.
    """
    return write_whole(path, fit_text(fit))


def fit_text(fit: MarketFit) -> str:
    """Return the text of a fit's file."""
    content = to_document(fit)
    document = {"format": FORMAT, "version": VERSION, HASH: content_hash(content), **content}
    return json.dumps(document, indent=1, allow_nan=False) + "\n"


def content_hash(content: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a document's content, whatever its layout and the order of its keys.

    >>> content_hash({"a": 1, "b": [0.5]}) == content_hash({"b": [0.5], "a": 1})
    True
    """
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def load_fit(path: str | Path) -> MarketFit:
    """Read a fit that `save_fit` wrote; nothing but what was written is accepted.

    Raises
    ------
    FitError. No such file, not a fit, changed since it was written, damaged, or of another version.
    """
    source = Path(path)
    try:
        document = json.loads(source.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise _refused(source, "there is no such file", "Make it first") from None
    except json.JSONDecodeError as fault:
        raise _refused(source, f"this is not a saved fit ({fault.msg})", "Fit again", fault.lineno) from None
    except OSError as fault:
        raise _refused(
            source, f"can't be read ({(fault.strerror or str(fault)).lower()})", "Make another"
        ) from fault
    except (ValueError, RecursionError) as fault:
        raise _refused(source, "this is not a saved fit", "Make one first") from fault
    if not isinstance(document, dict) or document.pop("format", None) != FORMAT:
        raise _refused(source, "this is not a saved fit", "Make one first")
    version = document.pop("version", None)
    if isinstance(version, bool) or version != VERSION:
        # former versions lack what ranges rest on today (past forecasts), so none is carried over: a book makes it anew
        told = f"the fit has version {version!r}, this slidefit reads version {VERSION}"
        raise _refused(source, told, "Fit the book again")
    written = document.pop(HASH, None)
    try:
        if content_hash(document) != written:
            raise _refused(
                source, "the saved fit is damaged: its content is not what was written there", "Fit again"
            )
        fit: MarketFit = from_document(MarketFit, document)
        _check_whole(fit)
    except (AttributeError, KeyError, TypeError, ValueError, ArithmeticError, RecursionError) as fault:
        raise _refused(source, f"the saved fit is damaged ({fault})", "Fit again") from fault
    return fit


def _refused(source: Path, what: str, remedy: str, line: int | None = None) -> FitError:
    return FitError(what, where=str(source), remedy=Text(f"{remedy}: ", Action("fit"), "."), line=line)


def _check_whole(fit: MarketFit) -> None:
    """Raise ValueError where the parts of a fit don't belong together, as after an edit by hand."""
    model, season = fit.model, fit.season_fit
    k = len(model.recipe.names())
    shapes = {
        "coef": (model.coef, (k,)),
        "cov": (model.cov, (k, k)),
        "season log": (season.log, (MONTHS,)),
        "season cov": (season.cov, (MONTHS, MONTHS)),
        "index month_log": (fit.index.month_log, fit.index.month.shape),
        "index market_offset": (fit.index.market_offset, (len(fit.basis.markets),)),
    }
    for name, (value, shape) in shapes.items():
        if value.shape != shape:
            raise ValueError(f"{name} has shape {value.shape}, not {shape}")
        if name != "index month_log" and not np.isfinite(value).all():
            raise ValueError(f"{name} holds a value that is not a number")
    if set(model.support) != set(model.recipe.sexes):
        raise ValueError(f"support of {', '.join(model.support)}; sexes {', '.join(model.recipe.sexes)}")
    if not all(0 <= place < len(model.recipe.grades) for place in fit.grade_place.values()):
        raise ValueError("a grade points outside the recipe")


def saved_fields(kind: Any) -> list[dataclasses.Field[Any]]:
    """Return the fields of a dataclass, or of one of its kind, that a document keeps."""
    return [f for f in dataclasses.fields(kind) if f.metadata.get("saved", True)]


def to_document(value: Any) -> Any:
    """Return plain JSON values: dataclasses as objects, arrays as lists, dates in ISO form, NaN as null."""
    if dataclasses.is_dataclass(value):
        return {f.name: to_document(getattr(value, f.name)) for f in saved_fields(value)}
    if isinstance(value, np.ndarray):
        return to_document(value.tolist())
    if isinstance(value, Mapping):
        return {str(k): to_document(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [to_document(v) for v in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    return value.item() if isinstance(value, np.generic) else value


@cache
def _types_of(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def from_document(kind: Any, value: Any) -> Any:
    """Return a value of a type from its plain JSON form: the inverse of `to_document`.

    Raises
    ------
    KeyError. A field is missing.
    TypeError, ValueError. A value is not of its field's type.
    """
    if dataclasses.is_dataclass(kind):
        hints = _types_of(kind)  # type: ignore[arg-type]
        fields = {f.name: from_document(hints[f.name], value[f.name]) for f in saved_fields(kind)}
        return kind(**fields)  # type: ignore[operator]
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin is np.ndarray:
        number = typing.get_args(inner[1])[0]
        return np.array(value, dtype=number)
    if origin in (types.UnionType, typing.Union):
        return None if value is None else from_document(inner[0], value)
    if origin is tuple:
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(from_document(inner[0], v) for v in value)
        return tuple(from_document(k, v) for k, v in zip(inner, value, strict=True))
    if origin is not None and issubclass(origin, Mapping):
        return {k: from_document(inner[1], v) for k, v in value.items()}
    if kind is date:
        return date.fromisoformat(value)
    if kind is float:
        return float("nan") if value is None else float(value)
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} is not of type {kind.__name__}")
    return value
