"""What the terminal says of a fit, its slide and its season."""

from __future__ import annotations

import pandas as pd
from rich.console import RenderableType

from slidefit.market.marketfit import MarketFit
from slidefit.show import formatting as f
from slidefit.show import wording
from slidefit.show.tables import new_table, season_table, slide_table, text_of

SHOWN_CANDIDATES = 6


def fit_text(fit: MarketFit, path: str, *, width: int = 100) -> str:
    """Return what was fitted to what, the choice of model, the slide, and what to know of it."""
    parts: list[RenderableType] = [*_basis(fit), ""]
    if fit.candidates:
        shown = sorted(fit.candidates, key=lambda c: (not c.chosen, c.excess))[:SHOWN_CANDIDATES]
        rows = [
            (
                c.label + (" (chosen)" if c.chosen else ""),
                str(c.columns),
                f.percent(100.0 * c.error, decimals=2),
                f"{c.excess:.1f}% \u00b1 {c.excess_se:.1f}",
            )
            for c in shown
        ]
        columns = [
            ("Slide", "left"),
            ("Terms", "right"),
            ("Error of a lot", "right"),
            ("Worse than the best by", "right"),
        ]
        parts.append(new_table(wording.CANDIDATES_TITLE, columns, rows, caption=wording.CANDIDATES_CAPTION))
    parts += [slide_table(fit.slide()), *_notes(fit.notes), f"Saved: {path}"]
    return text_of(*parts, width=width)


def slide_text(fit: MarketFit, slides: pd.DataFrame, *, width: int = 100) -> str:
    """Return the slide's table with what it rests on, and what thin records made the fit do without."""
    return text_of(slide_table(slides), *_basis(fit), *_notes(fit.notes), width=width)


def season_text(fit: MarketFit, *, width: int = 100) -> str:
    """Return the season's table with what it rests on."""
    return text_of(
        season_table(fit.season()), wording.basis_line(fit.basis), *_notes(fit.season_fit.notes), width=width
    )


def _basis(fit: MarketFit) -> list[RenderableType]:
    return [
        wording.basis_line(fit.basis),
        wording.verdict_line(fit.basis.verdict),
        wording.errors_line(fit.model.rule),
    ]


def _notes(notes: tuple[str, ...]) -> list[RenderableType]:
    return [f"Note: {note}." for note in notes]
