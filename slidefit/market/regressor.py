"""The slide as a scikit-learn regressor on a tidy frame, for pipelines, grid searches and cross-validation."""

from __future__ import annotations

from typing import Any, Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import _check_sample_weight, check_is_fitted, validate_data

from slidefit.market.fit.design import WeightCurve
from slidefit.market.fit.leastsquares import Chunk, sale_effects, solve, summarise

FloatArray = NDArray[np.float64]

CURVES = ("straight", "quadratic", "spline")
LEAST_SCALE = 1e-12


class SlideRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """ln price (or any y) by weight within sales: y = a_sale + f(weight) + c z + error.

    Parameters
    ----------
    weight : str
        Column with the weight [lb]; for plain arrays the first column is used.
    sale : str or tuple of str
        Column or columns that say which sale a row belongs to; their effects are absorbed. Rows without any of them
        are one sale.
    curve : str
        ``straight``, ``quadratic`` or ``spline``.
    columns : int
        Degrees of freedom of the spline.

    Attributes
    ----------
    coef_ : array, shape (k,)
    sale_effect_ : dict
        The absorbed effect of each sale of the training rows.
    mean_effect_ : float
        Their mean by rows, used for a sale that was not seen.

    Notes
    -----
    In a frame, columns of numbers other than weight and sale enter as they are, columns of words as a shift for each
    word of the training rows. A sale that was not seen is predicted at the mean level: score such predictions within
    sales, or by a model of the level. `slidefit.fit` does more (price level and season in the slide, errors); this is
    its core for work of your own. A column constant within every sale can't be told from the sale and gets zero.

    Examples
    --------
    >>> frame = pd.DataFrame({"sale_date": [1, 1, 2, 2], "weight_lb": [500.0, 600.0, 500.0, 600.0]})
    >>> fitted = SlideRegressor(curve="straight").fit(frame, [5.0, 4.9, 5.2, 5.1])
    >>> fitted.predict(frame).round(6)
    array([5. , 4.9, 5.2, 5.1])
    """

    def __init__(
        self,
        weight: str = "weight_lb",
        sale: str | tuple[str, ...] = ("market", "sale_date"),
        curve: str = "quadratic",
        columns: int = 4,
    ) -> None:
        self.weight = weight
        self.sale = sale
        self.curve = curve
        self.columns = columns

    def fit(self, X: pd.DataFrame | ArrayLike, y: ArrayLike, sample_weight: ArrayLike | None = None) -> Self:
        """Fit by weighted least squares with a constant absorbed for every sale.

        Parameters
        ----------
        X : DataFrame or array, shape (n, m)
        y : array, shape (n,)
        sample_weight : array, shape (n,), optional
            Row weights, such as 1 / variance.

        Raises
        ------
        ValueError
            An unknown curve, or what scikit-learn refuses (NaN, wrong shapes, a single row).
        """
        if self.curve not in CURVES:
            raise ValueError(f"curve is {self.curve!r}; use one of {', '.join(CURVES)}")
        table, target = self._read(X, y, training=True)
        keys = self._keys(X, len(table))
        weights = np.asarray(
            _check_sample_weight(sample_weight, table, dtype=np.float64, ensure_non_negative=True)
        )
        used = weights > 0
        if not used.any():
            raise ValueError("sample_weight is zero for every row: there is nothing to fit")
        table, target, keys, weights = table[used], target[used], keys[used], weights[used]
        self._set_scales(table[:, 0], weights)
        names, sale = np.unique(keys, return_inverse=True)
        order = np.argsort(sale, kind="stable")
        chunk = Chunk(target[order], self._design(table)[order], weights[order], sale[order].astype(np.int64))
        self.coef_ = solve(summarise(chunk)).coef
        effect = sale_effects(chunk, self.coef_)
        self.sale_effect_ = dict(zip(names.tolist(), effect.tolist(), strict=True))
        self.mean_effect_ = float(np.average(effect[sale], weights=weights))
        return self

    def predict(self, X: pd.DataFrame | ArrayLike) -> FloatArray:
        """Return predictions, shape (n,); an unseen sale is taken at the mean level of the training rows."""
        check_is_fitted(self)
        table, _ = self._read(X, None, training=False)
        effect = np.array(
            [self.sale_effect_.get(k, self.mean_effect_) for k in self._keys(X, len(table)).tolist()]
        )
        return np.asarray(effect + self._design(table) @ self.coef_)

    def _sale_columns(self, X: Any) -> list[str]:
        wanted = [self.sale] if isinstance(self.sale, str) else list(self.sale)
        return [c for c in wanted if isinstance(X, pd.DataFrame) and c in X.columns]

    def _keys(self, X: Any, rows: int) -> NDArray[np.str_]:
        columns = self._sale_columns(X)
        if not columns:
            return np.full(rows, "")
        keys = X[columns[0]].astype(str)
        for name in columns[1:]:
            keys = keys + "|" + X[name].astype(str)
        return np.asarray(keys.to_numpy(dtype=str))

    def _read(self, X: Any, y: Any, *, training: bool) -> tuple[FloatArray, FloatArray]:
        """Return the numbers of X, weight first, and y; words become one column for each but the first."""
        if isinstance(X, pd.DataFrame) and self.weight in X.columns:
            rest = X.drop(columns=[self.weight, *self._sale_columns(X)])
            words = [c for c in rest.columns if not pd.api.types.is_numeric_dtype(rest[c])]
            if training:
                self.words_ = {c: tuple(sorted(rest[c].astype(str).unique())[1:]) for c in words}
            parts = [X[self.weight].to_numpy(dtype=float)]
            for name in rest.columns:
                if name in words:
                    parts += [
                        (rest[name].astype(str) == w).to_numpy(dtype=float) for w in self.words_.get(name, ())
                    ]
                else:
                    parts.append(rest[name].to_numpy(dtype=float))
            X = np.column_stack(parts)
        if training:
            table, target = validate_data(self, X, y, y_numeric=True, dtype=np.float64, ensure_min_samples=2)
            return table, np.asarray(target, dtype=float)
        return validate_data(self, X, reset=False, dtype=np.float64), np.empty(0)

    def _set_scales(self, weight: FloatArray, row_weight: FloatArray) -> None:
        """Centre and scale the weight by the training rows, and place the knots at their quantiles."""
        self.weight_mean_ = float(np.average(weight, weights=row_weight))
        spread = float(np.sqrt(np.average((weight - self.weight_mean_) ** 2, weights=row_weight)))
        self.weight_scale_ = spread if spread > LEAST_SCALE else 1.0
        order = np.argsort(weight, kind="stable")
        share = np.cumsum(row_weight[order]) / row_weight.sum()
        at = np.minimum(
            np.searchsorted(share, np.linspace(0.05, 0.95, self.columns + 1) - LEAST_SCALE), len(order) - 1
        )
        knots = tuple(((weight[order][at] - self.weight_mean_) / self.weight_scale_).tolist())
        distinct = len(set(knots)) == len(knots)
        kind = self.curve if self.curve != "spline" or distinct else "straight"
        self.curve_ = WeightCurve(kind, knots if kind == "spline" else ())

    def _design(self, table: FloatArray) -> FloatArray:
        x = (table[:, 0] - self.weight_mean_) / self.weight_scale_
        return np.column_stack([self.curve_.rows(x), table[:, 1:]])
