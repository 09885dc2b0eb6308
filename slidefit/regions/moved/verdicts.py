"""Moved, steady or can't tell: a difference of two windows of records judged by leaving out crop years."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

Verdict = Literal["moved", "steady", "can't tell"]

FALSE_MOVED = 0.05
"""Share of wrong ones among the numbers called moved (Benjamini and Hochberg's q)."""
STEADY_LEVEL = 0.05
"""Level of each of the two one-sided tests behind steady: the 90 percent interval lies inside the margin."""
MARGIN_SHARE = 0.01
"""What a calf may gain or lose and still be called steady: 1 percent of its check. Our judgment, no source."""
MARGIN_STEP = 5.0


@dataclass(frozen=True)
class Windows:
    """Numbers fitted on an old and on a new window of records, whole and with each part left out in turn.

    A part is a crop year, or what the new window adds to one. Arrays are by number (r,), or by part and number (p, r).

    Attributes
    ----------
    late : array of bool, shape (p,). Parts that the old window does not hold.
    old, new : arrays, shape (r,)
    old_left, new_left : arrays, shape (p, r). With the part left out; the late parts of ``old_left`` are ``old``.
    old_var, new_var, old_left_var, new_left_var : arrays
        Their variances as if all lots erred independently, in any unit that is one for a number.
    """

    late: NDArray[np.bool_]
    old: FloatArray
    new: FloatArray
    old_left: FloatArray
    new_left: FloatArray
    old_var: FloatArray
    new_var: FloatArray
    old_left_var: FloatArray
    new_left_var: FloatArray


@dataclass(frozen=True)
class Difference:
    """New less old, number by number.

    Attributes
    ----------
    change, se, df : arrays, shape (r,)
    deviations : array, shape (years of the old window, r)
        How each old part strays, in its expected spread; how the numbers stray together is read from it.
    influence : array, shape (p, r)
        What each part adds to the change: the change less that with the part left out of both windows.
    """

    change: FloatArray
    se: FloatArray
    df: FloatArray
    deviations: FloatArray
    influence: FloatArray


def difference(windows: Windows, alike_df: float = 0.0) -> Difference:
    """Return new less old and its error by a jackknife over crop years; years that both windows hold cancel.

    A window's estimate is about the mean of what its parts say, each with its share w of the information. A part errs
    with s^2 k, k = max(1, mean share / its share), so with shares w_n and w_o in the two windows

        var(new - old) = s^2 sum_p k_p (w_n,p - w_o,p)^2

    and s^2 comes from the old window alone: what leaving out a part moves it by is z_p = w_p (b_p - b_others), so

        s^2 = sum z_p^2 / sum e_p,   e_p = w_p^2 (k_p + sum_{h != p} k_h (w_h / (1 - w_p))^2)

    with (sum e)^2 / sum e^2 - 1 degrees of freedom (Satterthwaite). The new year's own straying stays out of s^2: with
    one new year a plain jackknife of the difference can never find it out of line, since that year is most of the
    difference and of its error alike. Never below what independent lots leave, var(old) - var(new).

    Parameters
    ----------
    alike_df : float
        Degrees of freedom of what the numbers have in common: each one's variance over that of independent lots is
        settled with the mean of all of them, so that a number that rests on two or three years borrows how years stray
        from the others (as limma does for genes). No number gets more than the years less one.

    References
    ----------
    Cameron and Miller (2015), J. Human Resources 50(2), sec. VI.D (few treated clusters); Hausman (1978), Econometrica
    46(6), for the last; Satterthwaite (1946), Biometrics Bulletin 2(6); Smyth (2004), Statistical Applications in
    Genetics and Molecular Biology 3(1), for numbers settled with each other.
    """
    old = ~windows.late
    share_old = _shares(windows.old_var, windows.old_left_var) * old[:, None]
    share_new = _shares(windows.new_var, windows.new_left_var)
    usual = share_new[old].mean(axis=0)
    unlike = np.maximum(usual / np.maximum(share_new, 1e-9), 1.0)
    w, k = share_old[old], unlike[old]
    moved = windows.old - windows.old_left[old]
    rest = np.maximum(1.0 - w, 1e-6)
    others = (k * w**2).sum(axis=0) - k * w**2
    expected = np.maximum(w**2 * (k + others / rest**2), 1e-18)
    scale = (moved**2).sum(axis=0) / expected.sum(axis=0)
    variance = scale * (unlike * (share_new - share_old) ** 2).sum(axis=0)
    lots_alone = np.maximum(windows.old_var - windows.new_var, 0.0)
    df = np.maximum(expected.sum(axis=0) ** 2 / (expected**2).sum(axis=0) - 1.0, 1.0)
    if alike_df > 0.0 and (lots_alone > 0.0).any():
        known = lots_alone > 0.0
        ratio = np.divide(variance, lots_alone, out=np.zeros_like(variance), where=known)
        usual_ratio = float(np.average(ratio[known], weights=df[known]))
        settled = (df * ratio + alike_df * usual_ratio) / (df + alike_df) * lots_alone
        variance = np.where(known, settled, variance)
        df = np.where(known, np.clip(df + alike_df, 1.0, max(float(old.sum()) - 1.0, 1.0)), df)
    change = windows.new - windows.old
    left = windows.new_left - windows.old_left
    return Difference(
        change=change,
        se=np.sqrt(np.maximum(variance, lots_alone)),
        df=df,
        deviations=moved / np.sqrt(expected),
        influence=change - left,
    )


def _shares(whole: FloatArray, left: FloatArray) -> FloatArray:
    """Return each part's share of what is known of a number: what its variance grows by when the part is left out."""
    share = np.clip(1.0 - whole / np.maximum(left, 1e-300), 0.0, 1.0)
    return np.asarray(share / np.maximum(share.sum(axis=0), 1e-300))


def two_sided(t: ArrayLike, df: ArrayLike) -> FloatArray:
    """Return Student's two-sided p of each t."""
    from scipy.special import stdtr

    return np.asarray(2.0 * stdtr(np.asarray(df, dtype=float), -np.abs(np.asarray(t, dtype=float))))


def adjusted(p: ArrayLike) -> FloatArray:
    """Return Benjamini and Hochberg's adjusted p: a number is found where it is at most the false discovery rate.

    References
    ----------
    Benjamini and Hochberg (1995), J. Royal Statistical Society B 57(1).

    Examples
    --------
    >>> adjusted([0.01, 0.02, 0.03, 0.5]).round(3)
    array([0.04, 0.04, 0.04, 0.5 ])
    """
    p = np.asarray(p, dtype=float)
    order = np.argsort(p)[::-1]
    ranked = p[order] * len(p) / np.arange(len(p), 0, -1)
    out = np.empty(len(p))
    out[order] = np.minimum(np.minimum.accumulate(ranked), 1.0)
    return out


def simes(p: ArrayLike) -> float:
    """Return Simes' p of several numbers jointly: min over ranks of p_(i) n / i.

    References
    ----------
    Simes (1986), Biometrika 73(3).

    Examples
    --------
    >>> round(simes([0.01, 0.5, 0.9]), 3)
    0.03
    """
    return float(adjusted(p).min()) if np.size(p) else 1.0


def joint_p(found: Difference, rows: IntArray) -> float:
    """Return the p of a block of numbers jointly: Wald's statistic with Hotelling's F for few years.

    The numbers' correlations are those of the old years' straying; with G years no more than (G - 1) / 2 of their main
    directions are tested, since more can't be told from so few.

        F = (m - q + 1) / (m q) sum over q directions of (v't)^2 / lambda  ~  F(q, m - q + 1)

    References
    ----------
    Hotelling (1931), Annals of Mathematical Statistics 2(3); Pustejovsky and Tipton (2018), J. Business and Economic
    Statistics 36(4), for its use with few clusters.
    """
    from scipy.special import fdtrc

    usable = rows[(found.se[rows] > 0) & (np.abs(found.deviations[:, rows]).sum(axis=0) > 0)]
    if not len(usable):
        return 1.0
    t = found.change[usable] / found.se[usable]
    z = found.deviations[:, usable]
    z = z / np.sqrt((z**2).sum(axis=0))
    size, direction = np.linalg.eigh(z.T @ z)
    m = float(np.median(found.df[usable]))
    rank = int((size > 1e-8 * size[-1]).sum())
    q = max(min(rank, int(m // 2)), 1)
    wald = float((((direction[:, -q:].T @ t) ** 2) / size[-q:]).sum())
    return float(fdtrc(q, max(m - q + 1.0, 1.0), wald * max(m - q + 1.0, 1.0) / (m * q)))


def margin_head(check: float) -> float:
    """Return what counts as steady for a calf that brings ``check`` [$ per head]: 1 percent, to whole $5.

    >>> margin_head(1991.0), margin_head(120.0)
    (20.0, 5.0)
    """
    return max(MARGIN_STEP * round(MARGIN_SHARE * check / MARGIN_STEP), MARGIN_STEP)


def verdicts(head: ArrayLike, se: ArrayLike, df: ArrayLike, margin: float) -> list[Verdict]:
    """Return the verdict on each number's change [$ per head].

    steady: both one-sided tests put it inside the margin (the 90 percent interval does not reach it). moved: not
    steady, and found when false discoveries are held to 1 in 20. can't tell: neither.

    References
    ----------
    Schuirmann (1987), J. Pharmacokinetics and Biopharmaceutics 15(6), for the two one-sided tests.
    """
    from scipy.special import stdtrit

    head, se, df = (np.asarray(side, dtype=float) for side in (head, se, df))
    steady = np.abs(head) + stdtrit(df, 1.0 - STEADY_LEVEL) * se < margin
    t = np.divide(head, se, out=np.where(head == 0.0, 0.0, np.inf), where=se > 0)
    found = adjusted(two_sided(t, df)) <= FALSE_MOVED
    return ["steady" if s else "moved" if m else "can't tell" for s, m in zip(steady, found, strict=True)]
