"""A fit on disk: ``slide.json``, one readable JSON document with a version, documented in docs/slide-json.md."""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from slidefit.errors import FitError
from slidefit.files import write_whole
from slidefit.market.market_fit import MarketFit
from slidefit.market.months import MONTHS

FORMAT = "slidefit slide"
VERSION = 4


def save_fit(fit: MarketFit, path: str | Path) -> Path:
    """Write a fit, whole or not at all.

    Raises
    ------
    OutputError
        The folder is missing, read-only or full; what was there before stays.
    """
    document = {"format": FORMAT, "version": VERSION, **to_document(fit)}
    return write_whole(path, json.dumps(document, indent=1, allow_nan=False) + "\n")


def load_fit(path: str | Path) -> MarketFit:
    """Read a fit that `save_fit` wrote.

    Raises
    ------
    FitError
        No such file, not a fit, damaged, or written by a newer slidefit.
    """
    source = Path(path)
    try:
        document = json.loads(source.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise FitError(
            "there is no such file", where=str(source), remedy="Make it with: slidefit fit"
        ) from None
    except (OSError, ValueError) as fault:
        raise FitError(
            "this is not a saved fit", where=str(source), remedy="Make one with: slidefit fit"
        ) from fault
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise FitError("this is not a saved fit", where=str(source), remedy="Make one with: slidefit fit")
    version = document.get("version")
    if version != VERSION:
        raise FitError(
            f"the fit has version {version!r}, this slidefit reads version {VERSION}",
            where=str(source),
            remedy="Fit again from the book: slidefit fit",
        )
    try:
        fit: MarketFit = from_document(MarketFit, document)
        _check_whole(fit)
    except (AttributeError, KeyError, TypeError, ValueError) as fault:
        raise FitError(
            f"the saved fit is damaged ({fault})", where=str(source), remedy="Fit again: slidefit fit"
        ) from fault
    return fit


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
        "index market_offset": (fit.index.market_offset, (len(fit.markets),)),
    }
    for name, (value, shape) in shapes.items():
        if value.shape != shape:
            raise ValueError(f"{name} has shape {value.shape}, not {shape}")
        if name != "index month_log" and not np.isfinite(value).all():
            raise ValueError(f"{name} holds a value that is no number")
    if set(model.support) != set(model.recipe.sexes):
        raise ValueError(f"support of {', '.join(model.support)}; sexes {', '.join(model.recipe.sexes)}")
    if not all(0 <= place < len(model.recipe.grades) for place in fit.grade_place.values()):
        raise ValueError("a grade points outside the recipe")


def to_document(value: Any) -> Any:
    """Return plain JSON values: dataclasses as objects, arrays as lists, dates in ISO form, NaN as null."""
    if dataclasses.is_dataclass(value):
        return {f.name: to_document(getattr(value, f.name)) for f in dataclasses.fields(value)}
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


def from_document(kind: Any, value: Any) -> Any:
    """Return a value of a type from its plain JSON form: the inverse of `to_document`.

    Raises
    ------
    KeyError
        A field is missing.
    TypeError, ValueError
        A value is not of its field's type.
    """
    if dataclasses.is_dataclass(kind):
        hints = typing.get_type_hints(kind)
        fields = {f.name: from_document(hints[f.name], value[f.name]) for f in dataclasses.fields(kind)}
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
