"""What an econometrician asks of a fit: coefficients with errors and intervals, and predictions of single lots."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import normal_quantile, student_quantile
from slidefit.errors import FitError
from slidefit.facts import Action, Text
from slidefit.market.checks import check_facts, check_residuals
from slidefit.market.fit.chunk_passes import LotRows, LotSpread
from slidefit.market.fit.constants import MOST_ROWS
from slidefit.market.fit.design import Recipe, Regressors, design
from slidefit.market.fit.fixed_effects import FixedEffectsFit, PriceIndex
from slidefit.market.fit.leastsquares import absorbed_variance
from slidefit.market.fit.lots import Lots, LotSource, day_of_year
from slidefit.market.fit.slide_fit import FittedSlide
from slidefit.market.fit.slide_model import CONFIDENCE, SlideModel
from slidefit.market.outlook import STANDARD_HEAD, OutlookBasis, grade_key
from slidefit.public_result import PublicResult, report_of_results

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class SaleMeans:
    """The sales that a fit absorbed; arrays of shape (s,), and ``row_mean`` of shape (s, k).

    Attributes
    ----------
    market : tuple of str
    day : array of int [days since 1970-01-01]
    level : array [log points]
        Price level that the sale's columns were made with.
    effect : array [ln $/cwt]
        NaN where no lot was used.
    row_weight : array
        Sum of the row weights, 1 / variance.
    row_mean : array
        Their weighted mean of the columns.
    """

    market: tuple[str, ...]
    day: IntArray
    level: FloatArray
    effect: FloatArray
    row_weight: FloatArray
    row_mean: FloatArray


def sale_means(lots: LotSource, fit: FixedEffectsFit, recipe: Recipe, coef: FloatArray) -> SaleMeans | None:
    """Return what predictions with some columns and coefficients take from a fit's sales; None over 200,000 lots."""
    if not isinstance(lots, Lots) or len(lots) > MOST_ROWS:
        return None
    means: list[FloatArray] = []
    for span, piece in lots.pieces():
        out = fit.dropped[slice(*np.searchsorted(fit.dropped, (span.first_row, span.end_row)))]
        chunk = LotRows.of(piece, recipe).chunk(fit.level[span.sales], fit.spread, out - span.first_row)
        starts = np.flatnonzero(np.diff(chunk.sale, prepend=-1))
        weight = np.maximum(np.add.reduceat(chunk.row_weight, starts), 1e-300)
        both = np.vstack([chunk.X.T, chunk.y]) * chunk.row_weight
        means.append(np.add.reduceat(both, starts, axis=1).T / weight[:, None])
    market = tuple(lots.markets[place] for place in lots.sale_market)
    rows = np.vstack(means)
    effect = np.where(np.isfinite(fit.effect), rows[:, -1] - rows[:, :-1] @ coef, np.nan)
    return SaleMeans(market, lots.sale_day, fit.level, effect, 1.0 / fit.effect_var, rows[:, :-1])


@dataclass(frozen=True)
class Prediction:
    """Predicted log prices of single lots, arrays of shape (n,) [ln $/cwt].

    Attributes
    ----------
    mean, mean_sd : arrays
        Expected log price and its standard error: of the slide's coefficients and of the sale's absorbed effect.
    lot_sd : array
        Spread of one such lot around it.
    degrees : int
        Degrees of freedom of the mean's intervals; a lot's own spread is taken as known and normal.
    """

    mean: FloatArray
    mean_sd: FloatArray
    lot_sd: FloatArray
    degrees: int

    def summary_frame(self, alpha: float = 1.0 - CONFIDENCE) -> pd.DataFrame:
        """Return the prices with intervals of the mean and of a single lot.

        Returns
        -------
        DataFrame
            ``mean``, ``mean_se``, ``mean_ci_lower``, ``mean_ci_upper``, ``obs_ci_lower`` and ``obs_ci_upper``
            [$/cwt]; the mean is that of the log, a median price. Intervals hold with probability 1 - ``alpha``.
        """
        import pandas as pd

        mean_reach = student_quantile(self.degrees, 1.0 - alpha / 2.0) * self.mean_sd
        obs_reach = np.hypot(mean_reach, float(normal_quantile(1.0 - alpha / 2.0)) * self.lot_sd)
        price = np.exp(self.mean)
        columns = {"mean": price, "mean_se": price * self.mean_sd}
        for name, reach in (("mean", mean_reach), ("obs", obs_reach)):
            columns[f"{name}_ci_lower"] = price * np.exp(-reach)
            columns[f"{name}_ci_upper"] = price * np.exp(reach)
        return with_units(pd.DataFrame(columns), dict.fromkeys(columns, "$/cwt"))


def predict(
    model: SlideModel,
    sales: SaleMeans,
    grade_place: Mapping[str, int],
    spread: LotSpread,
    frame: pd.DataFrame,
) -> Prediction:
    """Return the predicted price of lots sold at sales that the fit has seen, see `MarketFit.predict`."""
    import pandas as pd

    sale = _sale_of(sales, frame)
    recipe = model.recipe
    places = [grade_place.get(key, -1) for key in _grades(frame, recipe.grades[0])]
    strange = sorted({str(sex) for sex in frame["sex"] if sex not in recipe.sexes})
    if strange:
        raise FitError(
            f"the fit has no slide for sex {', '.join(strange)}",
            remedy=f"Use one of: {', '.join(recipe.sexes)}.",
        )
    if min(places, default=0) < 0:
        raise FitError(
            "a lot has a grade that the records don't hold", remedy=f"Use one of: {', '.join(grade_place)}."
        )
    head = np.asarray(frame.get("head", pd.Series(STANDARD_HEAD, index=frame.index)), dtype=np.float64)
    told = frame.get("traits", pd.Series("", index=frame.index)).fillna("").astype(str)
    named = [{word.strip() for word in text.split(";")} for text in told]
    calves = Regressors(
        weight_lb=frame["weight_lb"].to_numpy(dtype=float),
        sex=np.array([recipe.sexes.index(sex) for sex in frame["sex"]]),
        grade=np.array(places),
        day_of_year=day_of_year(sales.day)[sale],
        level=sales.level[sale],
        head=np.maximum(np.nan_to_num(head, nan=STANDARD_HEAD), 1.0),
        traits=np.array([[t in words for t in recipe.traits] for words in named], dtype=bool).reshape(
            len(frame), len(recipe.traits)
        ),
    )
    rows = design(recipe, calves)
    cov = model.rule.inflation**2 * model.cov
    variance = absorbed_variance(rows - sales.row_mean[sale], cov, sales.row_weight[sale])
    return Prediction(
        mean=sales.effect[sale] + rows @ model.coef,
        mean_sd=np.sqrt(variance),
        lot_sd=np.sqrt(spread.variance(head)),
        degrees=max(model.rule.groups - 1, 1),
    )


def _sale_of(sales: SaleMeans, frame: pd.DataFrame) -> IntArray:
    """Return the place of each row's sale."""
    import pandas as pd

    several = len(set(sales.market)) > 1
    needed = ["sale_date", "sex", "weight_lb", *(["market"] if several else [])]
    missing = [name for name in needed if name not in frame]
    if missing:
        raise FitError(f"the frame has no column {', '.join(missing)}", remedy=f"Give {', '.join(needed)}.")
    day = pd.to_datetime(frame["sale_date"]).to_numpy().astype("datetime64[D]").astype(np.int64)
    market = frame["market"].astype(str) if several else [sales.market[0]] * len(frame)
    place = {
        key: at
        for at, key in enumerate(zip(sales.market, sales.day.tolist(), strict=True))
        if np.isfinite(sales.effect[at])
    }
    found = [place.get(key, -1) for key in zip(market, day.tolist(), strict=True)]
    if -1 in found:
        row = found.index(-1)
        raise FitError(
            f"row {row + 1}: nothing was sold at {list(market)[row]} on {np.datetime64(int(day[row]), 'D')}",
            remedy=Text("For days without a sale, and days to come, take ", Action("outlook"), "."),
        )
    return np.array(found, dtype=np.int64)


def _grades(frame: pd.DataFrame, standard: str) -> list[str]:
    import pandas as pd

    if "frame" not in frame and "muscle" not in frame:
        return [standard] * len(frame)
    columns = [
        frame.get(name, pd.Series("", index=frame.index)).fillna("").astype(str)
        for name in ("frame", "muscle")
    ]
    return [grade_key(*pair) for pair in zip(*columns, strict=True)]


def with_units(frame: pd.DataFrame, units: dict[str, str]) -> pd.DataFrame:
    """Return a frame that says the units of its columns in ``attrs["units"]``."""
    frame.attrs["units"] = units
    return frame


@dataclass(frozen=True)
class Summary:
    """A fit on one page: what it rests on, its coefficients, its notes; prints as text, shows as HTML in a notebook."""

    head: tuple[tuple[str, str], ...]
    table: pd.DataFrame
    notes: tuple[str, ...]

    def __str__(self) -> str:
        wide = max(len(name) for name, _ in self.head)
        lines = [f"{name:<{wide}}  {value}" for name, value in self.head]
        table = self.table.to_string(float_format=lambda value: f"{value:.4f}")
        return "\n".join([*lines, "", table, "", *(f"- {note}" for note in self.notes)])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        rows = "".join(f"<tr><th>{escape(n)}</th><td>{escape(v)}</td></tr>" for n, v in self.head)
        notes = "".join(f"<li>{escape(note)}</li>" for note in self.notes)
        table = self.table.to_html(float_format=lambda value: f"{value:.4f}")
        return f"<table>{rows}</table>{table}<ul>{notes}</ul>"


class FitResults(PublicResult, ABC):
    """What a fit answers an econometrician; the first half of `MarketFit`.

    Terms are those of `design.Recipe.names`: effects on ln price; ``weight`` counts hundredweight from 550 lb. Errors
    follow the fit's own rule: clustered by crop year where there are six, else by sale and widened.
    """

    slide_fit: FittedSlide
    season_fit: Any  # a Season, which is fitted above
    index: PriceIndex
    grade_place: Mapping[str, int]
    basis: OutlookBasis
    currency: str
    notes: tuple[str, ...]
    sales: SaleMeans | None

    @property
    def model(self) -> SlideModel:
        """The slide as it is read at today's price level."""
        return self.slide_fit.model

    @property
    @abstractmethod
    def label(self) -> str:
        """The slide's model in words."""

    @property
    def params(self) -> pd.Series:
        """Coefficients [log points per unit of the term]."""
        import pandas as pd

        return pd.Series(self.model.coef, index=self._terms(), name="params")

    @property
    def cov(self) -> pd.DataFrame:
        """Their covariance, with the widening of a short history in it."""
        import pandas as pd

        return pd.DataFrame(
            self.model.rule.inflation**2 * self.model.cov, index=self._terms(), columns=self._terms()
        )

    @property
    def bse(self) -> pd.Series:
        """Their standard errors."""
        import pandas as pd

        return pd.Series(np.sqrt(np.diag(self.cov)), index=self._terms(), name="bse")

    def conf_int(self, alpha: float = 1.0 - CONFIDENCE) -> pd.DataFrame:
        """Return intervals that hold with probability 1 - ``alpha``, by t: columns ``lower`` and ``upper``."""
        import pandas as pd

        reach = student_quantile(self._degrees(), 1.0 - alpha / 2.0) * self.bse
        return pd.DataFrame({"lower": self.params - reach, "upper": self.params + reach})

    def tidy(self, alpha: float = 1.0 - CONFIDENCE) -> pd.DataFrame:
        """Return a row for each term: ``estimate``, ``std_error``, ``statistic``, ``p_value``, ``lower``, ``upper``.

        Notes
        -----
        A p-value is against zero effect; with a dozen terms one of twenty is below .05 by chance. Terms of one curve
        (``steer:weight0`` to ``weight3``) mean nothing alone: read the curve from ``slide()``.
        """
        import pandas as pd
        from scipy.special import stdtr

        with np.errstate(divide="ignore", invalid="ignore"):
            t = self.params / self.bse
        table = pd.DataFrame({"estimate": self.params, "std_error": self.bse, "statistic": t})
        table["p_value"] = 2.0 * stdtr(self._degrees(), -np.abs(t))
        table = table.join(self.conf_int(alpha)).rename_axis("term")
        return with_units(table, dict.fromkeys(("estimate", "std_error", "lower", "upper"), "log points"))

    def summary(self) -> Summary:
        """Return the fit on one page: what it rests on, every coefficient with its interval, the notes.

        ``print(fit.summary())`` for text; in a notebook it shows as a table.
        """
        rule, spread = self.model.rule, self.slide_fit.spread
        errors = (
            f"clustered by {rule.kind}, {rule.groups} groups, t with {self._degrees()} degrees of freedom"
        )
        widened = f", widened {rule.inflation:.0f} times" if rule.inflation > 1.0 else ""
        head = (
            ("Model", f"ln price within sales on {len(self.model.coef)} terms: {self.label}"),
            *self._facts(),
            ("Errors", errors + widened),
            *check_facts(check_residuals(self.season_fit.innovations)),
            ("Lot spread", f"{100 * spread.lot_sd:.1f}% a lot, {100 * spread.calf_sd:.1f}% a calf"),
        )
        return Summary(head, self.tidy(), self.notes)

    def prices(self) -> pd.DataFrame:
        """Return the price index: what the standard calf (550 lb, 15 head) brought at each sale, in order of day.

        Returns
        -------
        DataFrame
            ``sale_date``, ``price_cwt`` [$/cwt], market offsets taken out.
        """
        import pandas as pd

        day = pd.to_datetime(self.index.sale_day.astype("datetime64[D]"))
        table = pd.DataFrame({"sale_date": day, "price_cwt": np.exp(self.index.sale_log)})
        return with_units(table, {"price_cwt": "$/cwt"})

    def predict(self, frame: pd.DataFrame) -> Prediction:
        """Return the price that lots bring at sales that the fit has seen, with its error.

        ln price = a_sale + x'b; the error carries that of the absorbed effect of the sale, as the regression with a
        dummy for every sale does (`leastsquares.absorbed_variance`). For days to come take ``outlook()``.

        Parameters
        ----------
        frame : DataFrame
            A row for each lot: ``sale_date``, ``sex``, ``weight_lb`` [lb], ``market`` where the fit has several, and
            as they are known ``frame``, ``muscle``, ``head`` and ``traits`` (parted by semicolons).

        Returns
        -------
        Prediction
            ``summary_frame()`` gives means and intervals in $/cwt.

        Raises
        ------
        FitError
            A column is missing, a sale, sex or grade was not seen, or the fit comes from a file or from over 200,000
            lots, where the sales' own figures are not kept.
        """
        if self.sales is None:
            raise FitError(
                "this fit holds no figures of its single sales (it was read from a file, or has over 200,000 lots)",
                remedy=Text("Fit the records again: ", Action("fit"), "."),
            )
        return predict(self.model, self.sales, self.grade_place, self.slide_fit.spread, frame)

    @property
    def plot(self) -> Any:
        """Pictures of the fit as matplotlib axes: ``plot.slide()``, ``season()``, ``prices()``, ``residuals()``."""
        return report_of_results().plots(self)

    def _facts(self) -> tuple[tuple[str, str], ...]:
        basis = self.basis
        return (
            (
                "Records",
                f"{basis.lots:,} lots in {basis.sales:,} sales, {basis.first_sale} to {basis.last_sale}",
            ),
            ("Markets", ", ".join(basis.markets)),
            (
                "Prices",
                f"$/cwt in {self.currency}; standard calf ${np.exp(self.index.sale_log[-1]):,.0f} last",
            ),
        )

    def _terms(self) -> pd.Index[Any]:
        import pandas as pd

        return pd.Index(self.model.recipe.names(), name="term")

    def _degrees(self) -> int:
        return max(self.model.rule.groups - 1, 1)
