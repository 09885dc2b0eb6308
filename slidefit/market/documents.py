"""Results of the market as JSON documents: slides, season, and what a fit rests on."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import pandas as pd

from slidefit.market.accuracy import accuracy_notes, accuracy_table
from slidefit.market.backtest import Backtest, month_day
from slidefit.market.marketfit import MarketFit

DECIMALS = 4


def slide_document(slides: pd.DataFrame) -> dict[str, Any]:
    """Return ``{"slides": [...]}``: a row for each sex, step and month; ``month`` null is the mean of the year.

    Parameters
    ----------
    slides : DataFrame
        From ``MarketFit.slide``.
    """
    return {"slides": _rows(slides)}


def season_document(fit: MarketFit) -> dict[str, Any]:
    """Return ``{"months": [...]}`` (year mean = 100) and what the season rests on."""
    return {
        "months": _rows(fit.season()),
        "harmonics": fit.season_fit.harmonics,
        "notes": list(fit.season_fit.notes),
    }


def fit_document(fit: MarketFit) -> dict[str, Any]:
    """Return what was fitted, to what, and what to know of it."""
    return {
        "lots": fit.basis.lots,
        "head": fit.basis.head,
        "sales": fit.basis.sales,
        "markets": list(fit.markets),
        "first_sale": fit.basis.first_sale.isoformat(),
        "last_sale": fit.basis.last_sale.isoformat(),
        "currency": fit.currency,
        "model": fit.label,
        "clustered_by": fit.model.rule.kind,
        "clusters": fit.model.rule.groups,
        "left_out": fit.left_out,
        "verdict": {
            "word": fit.verdict.word,
            "reasons": list(fit.verdict.reasons),
            "add": list(fit.verdict.add),
        },
        "crop_years": [asdict(year) for year in fit.years],
        "notes": list(fit.notes),
        **slide_document(fit.slide()),
    }


def backtest_document(test: Backtest) -> dict[str, Any]:
    """Return ``{"horizons": [...]}``, the record of past forecasts by months ahead, and what it says in words."""
    return {
        "forecasts_from": month_day(test.origins[0].month).strftime("%Y-%m"),
        "forecasts_to": month_day(test.origins[-1].month).strftime("%Y-%m"),
        "origins": len(test.origins),
        "horizons": _rows(accuracy_table(test)),
        "notes": list(accuracy_notes(test)),
    }


def _rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    rows = table.astype(object).where(table.notna(), None).to_dict(orient="records")
    return [
        {str(k): round(v, DECIMALS) if isinstance(v, float) else v for k, v in row.items()} for row in rows
    ]
