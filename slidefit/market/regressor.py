"""The slide as a scikit-learn regressor on a tidy frame, for pipelines, grid searches and cross-validation."""

from __future__ import annotations

from typing import Any, Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import (
    _check_sample_weight,
    check_array,
    check_is_fitted,
    check_X_y,
    validate_data,
)

from slidefit.market.fit.design import WeightCurve
from slidefit.market.fit.leastsquares import Chunk, absorbed_variance, sale_effects, solve, summarise

FloatArray = NDArray[np.float64]

CURVES = ("straight", "quadratic", "spline")
UNKNOWN = ("error", "ignore")
_USUAL_SALE = ("market", "sale_date")
_LEAST_SCALE = 1e-12
"""Spread of weights under which they are all one weight: rounding of their mean."""


class SlideRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """ln price (or any y) by weight within sales: y = a_sale + f(weight) + c z + error.

    Parameters
    ----------
    weight : str
        Column with the weight [lb]; for plain arrays the first column is used.
    sale : str or tuple of str, optional
        Column or columns that say which sale a row belongs to; their effects are absorbed. By default those of
        ``market`` and ``sale_date`` that a frame has. Plain arrays are one sale.
    curve : str
        ``straight``, ``quadratic`` or ``spline``.
    columns : int
        Degrees of freedom of the spline.
    handle_unknown : str
        What a word that was not in the training rows does: ``error`` raises, ``ignore`` takes the row as one of the
        column's first word.

    Attributes
    ----------
    coef_ : array, shape (k,)
        In the order of `get_feature_names_out`.
    coefficients_ : Series
        The same, labeled.
    sale_effect_ : dict
        The absorbed effect of each sale of the training rows.
    mean_effect_ : float
        Their mean by rows, used for a sale that was not seen.
    residual_sd_ : float
        Spread of a row of weight one around its sale.

    Notes
    -----
    In a frame (pandas or polars), columns of numbers other than weight and sale enter as they are, columns of words as
    a shift for each word of the training rows but the first. A sale that was not seen is predicted at the mean level:
    score such predictions within sales, or by a model of the level. `slidefit.fit` does more (price level and season
    in the slide, errors); this is its core for work of your own. A column constant within every sale can't be told
    from the sale and gets zero.

    Examples
    --------
    >>> frame = pd.DataFrame({"sale_date": [1, 1, 2, 2], "weight_lb": [500.0, 600.0, 500.0, 600.0]})
    >>> fitted = SlideRegressor(curve="straight").fit(frame, [5.0, 4.9, 5.2, 5.1])
    >>> fitted.predict(frame).round(6)
    array([5. , 4.9, 5.2, 5.1])
    >>> fitted.get_feature_names_out().tolist()
    ['weight_lb']
    """

    def __init__(
        self,
        weight: str = "weight_lb",
        sale: str | tuple[str, ...] | None = None,
        curve: str = "quadratic",
        columns: int = 4,
        handle_unknown: str = "error",
    ) -> None:
        self.weight = weight
        self.sale = sale
        self.curve = curve
        self.columns = columns
        self.handle_unknown = handle_unknown

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
            An unknown curve or rule, a weight or sale column that the frame lacks, or what scikit-learn refuses (NaN,
            wrong shapes, a single row).
        """
        if self.curve not in CURVES:
            raise ValueError(f"curve is {self.curve!r}; use one of {', '.join(CURVES)}")
        if self.handle_unknown not in UNKNOWN:
            raise ValueError(f"handle_unknown is {self.handle_unknown!r}; use one of {', '.join(UNKNOWN)}")
        table, keys, target = self._read(X, y, training=True)
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
        solution = solve(summarise(chunk))
        self.coef_ = solution.coef
        self.coefficients_ = pd.Series(self.coef_, index=self.get_feature_names_out(), name="coef")
        effect = sale_effects(chunk, self.coef_)
        self.sale_effect_ = dict(zip(names.tolist(), effect.tolist(), strict=True))
        self.mean_effect_ = float(np.average(effect[sale], weights=weights))
        self.effect_sd_ = float(np.sqrt(np.average((effect[sale] - self.mean_effect_) ** 2, weights=weights)))
        spare = solution.n - int(solution.identified.sum()) - len(names)
        self.residual_sd_ = float(np.sqrt(solution.rss / spare)) if spare > 0 else float("nan")
        self._bread = solution.bread
        self._sale_weight = np.bincount(chunk.sale, chunk.row_weight)
        self._sale_mean = (
            np.array([np.bincount(chunk.sale, chunk.row_weight * column) for column in chunk.X.T])
            / self._sale_weight
        ).T
        return self

    def predict(
        self, X: pd.DataFrame | ArrayLike, return_std: bool = False
    ) -> FloatArray | tuple[FloatArray, FloatArray]:
        """Return predictions, shape (n,); an unseen sale is taken at the mean level of the training rows.

        Parameters
        ----------
        return_std : bool
            Also return the standard error of a new row of weight one: the row's own spread, that of the coefficients
            and that of the sale's absorbed effect, as in the regression with a dummy for every sale. For an unseen
            sale the spread of the training sales' effects stands in its place.

        Raises
        ------
        ValueError
            Columns are missing, new or in another order, or (``handle_unknown="error"``) a word was not seen.
        """
        check_is_fitted(self)
        table, keys, _ = self._read(X, None, training=False)
        effect = np.array([self.sale_effect_.get(k, self.mean_effect_) for k in keys.tolist()])
        design = self._design(table)
        mean = np.asarray(effect + design @ self.coef_)
        if not return_std:
            return mean
        place = {key: at for at, key in enumerate(self.sale_effect_)}
        at = np.array([place.get(key, -1) for key in keys.tolist()])
        seen = at >= 0
        middle = np.average(self._sale_mean, axis=0, weights=self._sale_weight)
        center = np.where(seen[:, None], self._sale_mean[at], middle)
        absorbed = absorbed_variance(
            design - center, self._bread, np.where(seen, self._sale_weight[at], np.inf)
        )
        variance = self.residual_sd_**2 * (1.0 + absorbed) + np.where(seen, 0.0, self.effect_sd_**2)
        return mean, np.sqrt(variance)

    def get_feature_names_out(self, input_features: Any = None) -> NDArray[np.object_]:
        """Return the names of the columns that ``coef_`` belongs to: bends of the weight, numbers, words.

        ``input_features`` is not used; it stands for the convention of scikit-learn.
        """
        check_is_fitted(self, "curve_")
        bends = [f"{self.weight}:{j}" for j in range(1, self.curve_.columns)]
        if self.layout_ is None:
            rest = [f"x{j}" for j in range(1, self.n_features_in_)]
        else:
            rest = [
                f"{name}_{word}" if word else name
                for name, words in self.layout_
                for word in (words or ("",))
            ]
        return np.array([self.weight, *bends, *rest], dtype=object)

    def _sale_columns(self, frame: pd.DataFrame) -> list[str]:
        if self.sale is None:
            found = [name for name in _USUAL_SALE if name in frame.columns]
            if not found:
                raise ValueError(
                    f"the frame has no column {' or '.join(_USUAL_SALE)}; name the sale's with sale="
                )
            return found
        wanted = [self.sale] if isinstance(self.sale, str) else list(self.sale)
        missing = [name for name in wanted if name not in frame.columns]
        if missing:
            raise ValueError(f"the frame has no column {', '.join(missing)} that sale= names")
        return wanted

    def _read(self, X: Any, y: Any, *, training: bool) -> tuple[FloatArray, NDArray[np.str_], FloatArray]:
        """Return the numbers of X, weight first, the sale of each row, and y."""
        frame = _frame(X)
        if frame is not None:
            validate_data(
                self, X if isinstance(X, pd.DataFrame) else frame, skip_check_array=True, reset=training
            )
            keys = self._keys(frame)
            numbers = self._numbers(frame, training=training)
            if training:
                numbers, target = check_X_y(
                    numbers, y, y_numeric=True, dtype=np.float64, ensure_min_samples=2
                )
                return numbers, keys, np.asarray(target, dtype=float)
            return check_array(numbers, dtype=np.float64), keys, np.empty(0)
        if training:
            self.layout_: list[tuple[str, tuple[str, ...] | None]] | None = None
            table, target = validate_data(self, X, y, y_numeric=True, dtype=np.float64, ensure_min_samples=2)
            return table, np.full(len(table), ""), np.asarray(target, dtype=float)
        table = validate_data(self, X, reset=False, dtype=np.float64)
        return table, np.full(len(table), ""), np.empty(0)

    def _keys(self, frame: pd.DataFrame) -> NDArray[np.str_]:
        columns = [frame[name].astype(str) for name in self._sale_columns(frame)]
        return np.array(["|".join(parts) for parts in zip(*columns, strict=True)], dtype=str)

    def _numbers(self, frame: pd.DataFrame, *, training: bool) -> FloatArray:
        """Return the weight and the other columns; words become one column for each but the first."""
        if self.weight not in frame.columns:
            raise ValueError(f"the frame has no column {self.weight}; name the weight's with weight=")
        rest = frame.drop(columns=[self.weight, *self._sale_columns(frame)])
        if training:
            number = pd.api.types.is_numeric_dtype
            self.words_ = {
                name: tuple(sorted(rest[name].astype(str).unique()))
                for name in rest
                if not number(rest[name])
            }
            self.layout_ = [
                (str(name), self.words_[name][1:] if name in self.words_ else None)
                for name in rest
                if len(self.words_.get(name, "12")) > 1
            ]
        if self.handle_unknown == "error":
            for name, known in self.words_.items():
                strange = sorted(set(rest[name].astype(str)) - set(known))
                if strange:
                    raise ValueError(
                        f"column {name} holds {', '.join(map(repr, strange[:3]))}, which the training rows did not; "
                        f"they had {', '.join(map(repr, known))} (handle_unknown='ignore' takes it as {known[0]!r})"
                    )
        parts = [frame[self.weight].to_numpy(dtype=float)]
        for name, words in self.layout_ or ():
            told = rest[name].astype(str) if words else rest[name]
            parts += (
                [(told == w).to_numpy(dtype=float) for w in words] if words else [told.to_numpy(dtype=float)]
            )
        return np.column_stack(parts)

    def _set_scales(self, weight: FloatArray, row_weight: FloatArray) -> None:
        """Centre and scale the weight by the training rows, and place the knots at their quantiles."""
        self.weight_mean_ = float(np.average(weight, weights=row_weight))
        spread = float(np.sqrt(np.average((weight - self.weight_mean_) ** 2, weights=row_weight)))
        self.weight_scale_ = spread if spread > _LEAST_SCALE else 1.0
        order = np.argsort(weight, kind="stable")
        share = np.cumsum(row_weight[order]) / row_weight.sum()
        at = np.minimum(
            np.searchsorted(share, np.linspace(0.05, 0.95, self.columns + 1) - _LEAST_SCALE), len(order) - 1
        )
        knots = tuple(((weight[order][at] - self.weight_mean_) / self.weight_scale_).tolist())
        distinct = len(set(knots)) == len(knots)
        kind = self.curve if self.curve != "spline" or distinct else "straight"
        self.curve_ = WeightCurve(kind, knots if kind == "spline" else ())

    def _design(self, table: FloatArray) -> FloatArray:
        x = (table[:, 0] - self.weight_mean_) / self.weight_scale_
        return np.column_stack([self.curve_.rows(x), table[:, 1:]])


def _frame(X: Any) -> pd.DataFrame | None:
    """Return a pandas or polars frame as a pandas one, None for anything else and for columns without names."""
    if isinstance(X, pd.DataFrame):
        return X if all(isinstance(name, str) for name in X.columns) else None
    if hasattr(X, "get_columns") and hasattr(X, "columns"):  # polars
        return pd.DataFrame({name: X[name].to_list() for name in X.columns})
    return None
