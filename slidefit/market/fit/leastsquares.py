"""Weighted least squares with one absorbed effect per sale, a chunk at a time.

Each chunk holds whole sales. It is centered within its sales, reduced to a small triangle by QR, and the triangles
are stacked and reduced again: the coefficients are those of the full regression with a dummy for every sale.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.constants import RANK_TOLERANCE, SAFE_CHOLESKY

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BLOCK_ROWS = 2_048
"""Rows of a block whose columns fit the processor's cache."""
_MANY_ROWS = 8
"""Rows for each column from which it pays to look for the faster way."""


@dataclass(frozen=True)
class Chunk:
    """Rows of whole sales, ready to be summarised.

    Attributes
    ----------
    y : array, shape (n,)
    X : array, shape (n, k)
    row_weight : array, shape (n,). Positive; proportional to one over the variance.
    sale : array of int, shape (n,). Sale of each row, ascending from 0 or more.
    """

    y: FloatArray
    X: FloatArray
    row_weight: FloatArray
    sale: IntArray


@dataclass(frozen=True)
class Sums:
    """Sufficient statistics of whole sales, apart for each of g clusters (crop years, folds), or in one.

    Attributes
    ----------
    cluster : array of int, shape (g,). Names of the clusters, ascending.
    triangle : array, shape (g, m, k + 1)
        R of [X, y] centered within sales and scaled by the root of the row weight: R'R is the cluster's part of the
        normal equations.
    rows : array of int, shape (g,). Rows with a weight.
    """

    cluster: IntArray
    triangle: FloatArray
    rows: IntArray

    def columns(self, places: IntArray) -> Sums:
        """Return the sums of a model that has only some of the columns."""
        return Sums(self.cluster, self.triangle[:, :, [*places, -1]], self.rows)

    def but(self, place: int) -> Sums:
        """Return the sums with one cluster left out."""
        others = np.arange(len(self.cluster)) != place
        return Sums(self.cluster[others], self.triangle[others], self.rows[others])


@dataclass(frozen=True)
class Solution:
    """Coefficients of the within-sale regression.

    Attributes
    ----------
    coef : array, shape (k,). Zero where the data can't identify a column.
    bread : array, shape (k, k). Inverse of X'WX within sales; zero rows for unidentified columns.
    identified : array of bool, shape (k,)
    rss : float. Weighted residual sum of squares.
    n : int
    """

    coef: FloatArray
    bread: FloatArray
    identified: NDArray[np.bool_]
    rss: float
    n: int


def _starts(sale: IntArray) -> IntArray:
    return np.flatnonzero(np.diff(sale, prepend=-1)).astype(np.int64)


def _sale_means(chunk: Chunk, values: FloatArray) -> FloatArray:
    """Return weighted means by sale of values of shape (..., n); zero for a sale without a weight."""
    starts = _starts(chunk.sale)
    weight = np.add.reduceat(chunk.row_weight, starts)
    return np.asarray(
        np.add.reduceat(values * chunk.row_weight, starts, axis=-1) / np.maximum(weight, 1e-300)
    )


def _to_rows(chunk: Chunk, by_sale: FloatArray) -> FloatArray:
    """Return values by sale, shape (..., sales of the chunk), repeated for the rows of each."""
    size = np.diff(np.append(_starts(chunk.sale), len(chunk.sale)))
    return np.repeat(by_sale, size, axis=-1)


def _triangle(rows: FloatArray) -> FloatArray:
    """Return R of the rows, square: by the normal equations where the columns stand well apart, or else by QR."""
    if len(rows) == rows.shape[1] and not np.tril(rows, -1).any():
        return rows
    safe = _root(rows.T @ rows) if len(rows) > _MANY_ROWS * rows.shape[1] else None
    if safe is not None:
        return safe
    while len(rows) > BLOCK_ROWS:
        blocks = [_orthogonal(rows[i : i + BLOCK_ROWS]) for i in range(0, len(rows), BLOCK_ROWS)]
        rows = np.vstack(blocks)
    R = _orthogonal(rows)
    return np.asarray(np.pad(R, ((0, rows.shape[1] - len(R)), (0, 0))))


def _root(gram: FloatArray) -> FloatArray | None:
    """Return R with R'R the normal equations, or None where rounding would cost it more than a few digits.

    A column of zeros, such as a price level before one is known, stays one.
    """
    size = np.sqrt(np.diag(gram))
    there = np.flatnonzero(size)
    try:
        R = np.linalg.cholesky(gram[np.ix_(there, there)]).T
    except np.linalg.LinAlgError:
        return None
    if not (np.diag(R) > SAFE_CHOLESKY * size[there]).all():
        return None
    whole = np.zeros_like(gram)
    whole[np.ix_(there, there)] = R
    return whole


def _orthogonal(rows: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.qr(rows, mode="r"))


def _centered(chunk: Chunk) -> FloatArray:
    """Return [X, y] centered within sales times the root of the row weight, shape (k + 1, n)."""
    rows = np.vstack([chunk.X.T, chunk.y])
    rows -= _to_rows(chunk, _sale_means(chunk, rows))
    rows *= np.sqrt(chunk.row_weight)
    return rows


def summarise(chunk: Chunk, cluster: IntArray | None = None) -> Sums:
    """Reduce a chunk of whole sales to its triangles.

    Parameters
    ----------
    cluster : array of int, shape (n,), optional
        Cluster of each row; the rows of one sale share it. All rows are one cluster by default.
    """
    rows = _centered(chunk)
    of = np.zeros(len(chunk.y), dtype=np.int64) if cluster is None else cluster
    names = np.unique(of)
    members = [rows.T if len(names) == 1 else rows[:, of == name].T for name in names]
    counts = [np.count_nonzero(chunk.row_weight[of == name]) for name in names]
    return Sums(names, np.array([_triangle(part) for part in members]), np.array(counts))


class Reweighted:
    """A chunk whose sums are asked for again and again with some rows trusted less.

    The sums of all rows are made once; what the rows held back share in them is taken off, and the sales' means moved:

        A(t) = A - sum (1 - t) w z z' - sum over sales of m m' / (sum of t w),   m = sum (1 - t) w z
    """

    def __init__(self, chunk: Chunk) -> None:
        self.chunk = chunk
        self._rows = _centered(chunk)
        self._gram = self._rows @ self._rows.T

    def sums(self, trust: FloatArray) -> Sums:
        """Return the sums with the row weights multiplied by ``trust``, shape (n,), above 0 and at most 1."""
        chunk = replace(self.chunk, row_weight=self.chunk.row_weight * trust)
        held = np.flatnonzero(trust < 1.0)
        if not len(held):
            return summarise(chunk)
        back, rows = 1.0 - trust[held], self._rows[:, held]
        starts = _starts(chunk.sale[held])
        money = np.add.reduceat(rows * (back * np.sqrt(self.chunk.row_weight[held])), starts, axis=1)
        left = np.bincount(chunk.sale, chunk.row_weight)[chunk.sale[held[starts]]]
        safe = _root(self._gram - (rows * back) @ rows.T - (money / left) @ money.T)
        if safe is None:
            return summarise(chunk)
        return Sums(np.zeros(1, dtype=np.int64), safe[None], np.array([len(trust)]))


def combine(parts: Iterable[Sums]) -> Sums:
    """Put sums of different sales together, cluster by cluster; the result doesn't depend on how the rows were cut."""
    found = list(parts)
    cluster, triangle, rows = (
        np.concatenate([getattr(part, name) for part in found]) for name in ("cluster", "triangle", "rows")
    )
    names, place = np.unique(cluster, return_inverse=True)
    stacked = [_triangle(np.vstack(triangle[place == at])) for at in range(len(names))]
    return Sums(names, np.array(stacked), np.bincount(place, rows).astype(np.int64))


def _independent(R: FloatArray) -> NDArray[np.bool_]:
    """Mark the columns that are not a combination of earlier ones (first come, first kept)."""
    size = np.sqrt((R**2).sum(axis=0))
    keep = np.zeros(R.shape[1], dtype=bool)
    done = np.empty((R.shape[0], 0))
    for j in range(R.shape[1]):
        left = R[:, j]
        for _ in range(2):
            left = left - done @ (done.T @ left)
        norm = float(np.sqrt(left @ left))
        if size[j] > 0.0 and norm > RANK_TOLERANCE * size[j]:
            keep[j] = True
            done = np.column_stack([done, left / norm])
    return keep


def solve(sums: Sums, pull: tuple[FloatArray, FloatArray] | None = None) -> Solution:
    """Solve for the coefficients, b = argmin sum w (y - X b - a_sale)^2.

    Parameters
    ----------
    sums : Sums
    pull : (target, sd), each of shape (k,), optional
        Adds ((b - target) / sd)^2 with the residual variance as unit: a normal prior. An infinite sd is no pull.
    """
    triangle = _triangle(np.vstack(list(sums.triangle)))
    k = triangle.shape[1] - 1
    if pull is not None:
        target, sd = pull
        held = np.isfinite(sd)
        rows = np.column_stack([np.diag(1.0 / np.where(held, sd, np.inf)), np.where(held, target / sd, 0.0)])
        triangle = _orthogonal(np.vstack([triangle, rows[held]]))
    R, target_y = triangle[:k, :k], triangle[:k, k]
    keep = np.abs(np.diag(R)) > RANK_TOLERANCE * np.sqrt((R**2).sum(axis=0))
    if not keep.all():
        keep = _independent(R)
        Q, R = np.linalg.qr(R[:, keep])
        target_y = Q.T @ target_y
    inverse = np.linalg.inv(R)
    coef = np.zeros(k)
    coef[keep] = np.linalg.solve(R, target_y)
    bread = np.zeros((k, k))
    bread[np.ix_(keep, keep)] = inverse @ inverse.T
    return Solution(
        coef=coef,
        bread=bread,
        identified=keep,
        rss=float(((triangle[:, k] - triangle[:, :k] @ coef) ** 2).sum()),
        n=int(sums.rows.sum()),
    )


def sale_effects(chunk: Chunk, coef: FloatArray) -> FloatArray:
    """Return the absorbed effect of each sale of a chunk, the mean of y - X b, shape (sales of the chunk,)."""
    return _sale_means(chunk, chunk.y - chunk.X @ coef)


def residuals(chunk: Chunk, coef: FloatArray) -> FloatArray:
    """Return y - X b - a_sale of every row of a chunk, shape (n,)."""
    left = chunk.y - chunk.X @ coef
    return np.asarray(left - _to_rows(chunk, _sale_means(chunk, left)))


def sale_scores(chunk: Chunk, solution: Solution) -> FloatArray:
    """Return each sale's score, the sum of w x e within the sale, shape (sales of the chunk, k)."""
    pull = chunk.row_weight * residuals(chunk, solution.coef)
    return np.asarray(np.add.reduceat(chunk.X.T * pull, _starts(chunk.sale), axis=1).T)


def absorbed_variance(x: FloatArray, cov: FloatArray, sale_weight: FloatArray) -> FloatArray:
    """Return the variance of a_sale + x'b for rows of sales whose effects were absorbed, shape (n,).

        var = (x - mean_s)' V (x - mean_s) + 1 / W_s

    The effect is the sale's mean of y less its mean of x'b; the first has variance 1 / W_s and nothing to do with b,
    which rests on differences within sales. It is what the regression with a dummy for every sale gives.

    Parameters
    ----------
    x : array, shape (n, k). Rows less the weighted mean of their sale's rows.
    cov : array, shape (k, k). V, in the unit of row weights that are 1 / variance.
    sale_weight : array, shape (n,)
        W_s, the sum of the row weights of each row's sale; infinite leaves the effect's own error out.
    """
    return np.asarray(((x @ cov) * x).sum(axis=1) + 1.0 / sale_weight)


def sandwich(solution: Solution, meat: FloatArray, groups: int) -> FloatArray:
    """Return the cluster-robust covariance of the coefficients (CR1), shape (k, k).

    bread x meat x bread x G/(G-1) x (n-1)/(n-K), K = identified columns + 1: the absorbed sale effects are nested in
    the clusters and are not counted again.

    Parameters
    ----------
    meat : array, shape (k, k)
        Sum over the G clusters (sales, or crop years) of s s', s the sum of `sale_scores` in the cluster.

    References
    ----------
    Cameron and Miller (2015), A practitioner's guide to cluster-robust inference, J. Human Resources 50(2),
    sections II and III.
    """
    used = int(solution.identified.sum()) + 1
    small_sample = groups / max(groups - 1, 1) * (solution.n - 1) / max(solution.n - used, 1)
    return np.asarray(solution.bread @ meat @ solution.bread * small_sample)


def jackknife_cov(solution: Solution, sums: Sums) -> FloatArray:
    """Return the covariance of the coefficients from leaving out one cluster at a time (CR3), shape (k, k).

        (G - 1) / G  sum over clusters of d_g d_g',   d_g = (A - A_g)^-1 s_g

    with A = X'WX, A_g and s_g the cluster's part of it and its score: d_g is what the coefficients move by when the
    cluster is left out. Row weights and price levels stay those of the whole fit.

    Parameters
    ----------
    sums : Sums. By cluster; those that the solution is of.

    Notes
    -----
    A column that only one cluster identifies has no error by this rule. With few clusters of uneven size plain
    cluster-robust errors (CR1) are too small; these are not (docs/method.md has the coverage of both).

    References
    ----------
    Bell and McCaffrey (2002), Bias reduction in standard errors for linear regression with multi-stage samples, Survey
    Methodology 28(2); MacKinnon, Nielsen and Webb (2023), Cluster-robust inference: a guide to empirical practice,
    J. Econometrics 232(2), section 3.
    """
    X, y = sums.triangle[:, :, :-1], sums.triangle[:, :, -1]
    groups, k = len(X), X.shape[2]
    gram = X.transpose(0, 2, 1) @ X
    score = np.einsum("gij,gi->gj", X, y - X @ solution.coef)
    keep = solution.identified
    total = gram.sum(axis=0)[np.ix_(keep, keep)]
    unit = 1.0 / np.sqrt(np.diag(total))
    left = (total - gram[:, keep][:, :, keep]) * np.outer(unit, unit)
    inverse = np.linalg.pinv(left, rcond=RANK_TOLERANCE, hermitian=True)
    moved = np.zeros((groups, k))
    moved[:, keep] = np.einsum("gij,gj->gi", inverse, score[:, keep] * unit) * unit
    return np.asarray((groups - 1) / groups * moved.T @ moved)
