"""Checks of what the season's model leaves over: autocorrelation, changing spread, normality; told in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

CHECK_LAGS = 12
SPREAD_LAGS = 3
MIN_MONTHS = 30
ALARM = 0.01


@dataclass(frozen=True)
class ResidualChecks:
    """Probabilities of errors like these, were the model right; small ones are an alarm.

    Attributes
    ----------
    months : int
        One-step errors that were tested.
    autocorrelation : float
        Ljung-Box over 12 lags.
    spread : float
        McLeod and Li's test that the spread of one month depends on the last three.
    normality : float
        Jarque-Bera.
    kurtosis : float
        3 for a normal distribution; more is heavier tails.
    first_autocorrelation : float
        Of neighboring months.
    """

    months: int
    autocorrelation: float
    spread: float
    normality: float
    kurtosis: float
    first_autocorrelation: float


def check_residuals(innovations: FloatArray) -> ResidualChecks | None:
    """Return the checks of standardised one-step errors, or None where there are fewer than 30.

    Parameters
    ----------
    innovations : array, shape (m,)
        In order of months; NaN in months without a sale, which are stepped over.

    References
    ----------
    Ljung and Box (1978), Biometrika 65(2); McLeod and Li (1983), J. Time Series Analysis 4(4); Jarque and Bera
    (1980), Economics Letters 6(3); computed by statsmodels.stats.
    """
    from statsmodels.stats.diagnostic import acorr_ljungbox
    from statsmodels.stats.stattools import jarque_bera

    seen = innovations[np.isfinite(innovations)]
    if len(seen) < MIN_MONTHS or np.ptp(seen) == 0.0:
        return None
    ljung_box = acorr_ljungbox(seen, lags=[min(CHECK_LAGS, len(seen) // 3)])
    squares = acorr_ljungbox((seen - seen.mean()) ** 2, lags=[SPREAD_LAGS])
    _, normality, _, kurtosis = jarque_bera(seen)
    centred = seen - seen.mean()
    return ResidualChecks(
        months=len(seen),
        autocorrelation=float(ljung_box["lb_pvalue"].iloc[0]),
        spread=float(squares["lb_pvalue"].iloc[0]),
        normality=float(normality),
        kurtosis=float(kurtosis),
        first_autocorrelation=float((centred[1:] @ centred[:-1]) / (centred @ centred)),
    )


def check_notes(checks: ResidualChecks | None) -> tuple[str, ...]:
    """Return what the checks say and what it means for the reader, in words.

    Notes
    -----
    Passing is no proof: with few months these tests see only gross faults.
    """
    if checks is None:
        return ()
    notes = []
    if checks.autocorrelation < ALARM:
        way = "the same" if checks.first_autocorrelation > 0 else "the opposite"
        notes.append(
            f"monthly price moves are followed by moves in {way} direction more than chance allows "
            f"(first autocorrelation {checks.first_autocorrelation:+.2f}): forecasts leave something on the table and "
            "their ranges lean on the trend's spread"
        )
    if checks.spread < ALARM:
        notes.append(
            "price moves come in calm and wild spells: ranges are too wide in the first, too narrow in the second"
        )
    if checks.normality < ALARM:
        notes.append(
            f"large price moves are commoner than a normal curve has them (kurtosis {checks.kurtosis:.1f}, normal 3): "
            "trust the 80 percent range more than the 95"
        )
    return tuple(notes) or (
        f"the season's one-month errors ({checks.months}) show no autocorrelation, no changing spread and no heavy "
        "tails",
    )
