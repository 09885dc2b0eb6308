"""What thin records lean on: the usual slide, or the defaults of a region (any outlook) that they belong to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from slidefit.market.basis import WeightCurve, scaled_weight
from slidefit.market.design import Recipe
from slidefit.market.gates import recipe_for
from slidefit.market.lots import LotSource
from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook

FloatArray = NDArray[np.float64]

LOTS_COUNT_FOR = 9.0
USUAL_SLIDE = {"steer": -0.10, "heifer": -0.08, "bull": -0.10}
USUAL_SLIDE_SD = 0.03
USUAL_HEIFER_HEIGHT = -0.10
HEIGHT_SD = 0.05
USUAL_HEAD_SLOPE = 0.015
HEAD_SLOPE_SD = 0.015
MARKETS_SLIDE_SD = 0.015
MARKETS_BEND_SD = 0.005


def thin_recipe(lots: LotSource, defaults: Outlook | None) -> Recipe:
    """Return the columns of records too thin to choose: straight, or a region's bent curve to be moved by the lots."""
    recipe = recipe_for(lots, kind="straight")
    if defaults is None:
        return recipe
    bent = tuple(
        WeightCurve("quadratic") if sex in defaults.curves else curve
        for sex, curve in zip(recipe.sexes, recipe.curves, strict=True)
    )
    return replace(recipe, curves=bent)


def leaning_words(defaults: Outlook | None) -> str:
    """Return what a thin slide leans on, in words."""
    if defaults is None:
        return "the slide is straight and pulled toward the usual one (fit --region FILE leans on a region's instead)"
    return f"the slide is that of {defaults.basis.source}, moved by these lots for what they know"


def pull_of(recipe: Recipe, defaults: Outlook | None) -> tuple[FloatArray, FloatArray]:
    """Return the prior (target, sd) of thin records' coefficients, each of shape (k,).

    Without defaults: the usual slide of 10 percent per cwt for steers and bulls and 8 for heifers, give or take 3
    (common practice, no source: 8 to 12 percent between 450 and 650 lb; heifers below steers by about a tenth).

    With a region's defaults: its curve of the mean year, as x and x^2 over the weights it has seen, give or take

        sd of the slide = sqrt(its own error^2 + 1.5 points^2)

    for how far markets of a region differ; its bend give or take .5 points. Both spreads are our judgement, no source.

    The lots count for a ninth of their number, since lots of few sales share what moved the slide those days.
    """
    first = recipe.sexes[0]
    prior = {"ln head": (defaults.head_slope if defaults else USUAL_HEAD_SLOPE, HEAD_SLOPE_SD)}
    for sex in recipe.sexes:
        if defaults is None or sex not in defaults.curves:
            prior[f"{sex}:weight0"] = USUAL_SLIDE[sex], USUAL_SLIDE_SD
        else:
            height, slope, bend, error = _parabola(defaults, sex)
            prior[f"{sex}:weight0"] = slope, float(np.hypot(error, MARKETS_SLIDE_SD))
            prior[f"{sex}:weight1"] = bend, MARKETS_BEND_SD
            if first in defaults.curves:
                prior[sex] = height - _parabola(defaults, first)[0], HEIGHT_SD
    if "heifer" in recipe.sexes:
        prior.setdefault("heifer", (USUAL_HEIFER_HEIGHT, HEIGHT_SD))
    known = np.array([prior.get(name, (0.0, np.inf)) for name in recipe.names()])
    return known[:, 0], known[:, 1] / np.sqrt(LOTS_COUNT_FOR)


def _parabola(defaults: Outlook, sex: str) -> tuple[float, float, float, float]:
    """Return a sex's mean year as height, slope and bend at 550 lb, and the slope's error, all in log points."""
    curve = defaults.curves[sex]
    inside = (curve.weights_lb >= curve.low_lb) & (curve.weights_lb <= curve.high_lb)
    year = curve.log_relative[:, inside].mean(axis=0)
    height, slope, bend = np.polynomial.polynomial.polyfit(scaled_weight(curve.weights_lb[inside]), year, 2)
    error = np.interp(STANDARD_WEIGHT_LB, curve.weights_lb, curve.slope_sd_cwt)
    return float(height), float(slope), float(bend), float(error)
