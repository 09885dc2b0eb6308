"""Each number of a region's file fitted on an old and on a new window of the same records."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.chunk_passes import LotRows, known_head
from slidefit.market.fit.design import Recipe, design, harmonics, one_calf
from slidefit.market.fit.fixed_effects import FixedEffectsFit
from slidefit.market.fit.leastsquares import Chunk, residuals, summarise
from slidefit.market.fit.lots import Lots, LotSource, crop_year
from slidefit.market.fit.prior import pooled_columns
from slidefit.market.fit.slide_model import STEP_LB, mid_month_day
from slidefit.market.market_fit import MarketFit
from slidefit.market.months import DAYS_PER_MONTH
from slidefit.market.outlook import STANDARD_WEIGHT_LB, UNGRADED
from slidefit.market.structural import mid_months
from slidefit.regions.moved.verdicts import Difference, Windows, difference
from slidefit.regions.region import LEVEL_STEP

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEAST_OLD_YEARS = 4
"""Crop years of the old window from which its straying can be told; below, errors are those of sales, widened."""
ALIKE_DF = 4.0
"""What numbers of one kind have in common counts as four years of each (simulated: docs/regions.md)."""
SMALL = 1e-9


@dataclass(frozen=True, order=True)
class NumberKey:
    """Which number of the file: its kind, whose it is (sex, grade, noise), and at what weight, month or both."""

    kind: str
    of: str = ""
    at: float = 0.0
    month: int = 0


@dataclass(frozen=True)
class Part:
    """Some sales: those of a crop year (its first calendar year) up to the old file's last sale, or after it."""

    crop_year: int
    late: bool


@dataclass(frozen=True)
class Refits:
    """What moved by the records alone: every number that they speak of, in log points.

    Attributes
    ----------
    found : Difference or None
        In the order of the keys, influence in that of the parts; None where the old years are too few to tell.
    lots, shared_lots : int
        Lots of all the records that a fit can use, and those of them that the old file rests on too.
    """

    keys: tuple[NumberKey, ...]
    parts: tuple[Part, ...]
    found: Difference | None
    lots: int
    shared_lots: int


@dataclass(frozen=True)
class _Block:
    """Keys of one regression, and their windows."""

    keys: list[NumberKey]
    windows: Windows


def refits(fit: MarketFit, lots: LotSource, old_last: date, keys: Iterable[NumberKey]) -> Refits:
    """Return each number's change between the records to a day and all of them.

    Both windows are fitted with the new fit's columns, row weights, price levels and lots left out, and read at its
    price of today: the change is what the new sales did, not what weighing the old ones anew does. A grade with few
    lots has its own columns, all other numbers those of the fit.

    Parameters
    ----------
    fit : MarketFit. Of ``lots``, not read from a file.
    old_last : date. Last sale behind the old file.
    keys : iterable of NumberKey. Numbers to judge; those that the records don't tell of are left out.
    """
    wanted = list(keys)
    parts, part_of = _parts(lots.sale_day, old_last)
    old = np.array([not part.late for part in parts])
    counts = len(lots), int(lots.sale_rows[old[part_of]].sum())
    within = fit.slide_fit.fixed_effects
    if within is None or int(old.sum()) < LEAST_OLD_YEARS or fit.model.rule.kind not in ("crop year", "sale"):
        return Refits((), parts, None, *counts)
    blocks = [
        *_lot_blocks(fit, within, lots, part_of, old, wanted),
        *_season_block(fit, old_last, parts, wanted),
    ]
    found = [difference(block.windows, _alike(block)) for block in blocks]
    names = ("change", "se", "df", "deviations", "influence")
    whole = Difference(*(np.concatenate([getattr(f, name) for f in found], axis=-1) for name in names))
    return Refits(tuple(key for block in blocks for key in block.keys), parts, whole, *counts)


def _alike(block: _Block) -> float:
    """Return what the numbers of a block lend each other; what the price level does rests on few years in all alike."""
    return 0.0 if block.keys and block.keys[0].kind.endswith(" level") else ALIKE_DF


def _parts(sale_day: IntArray, old_last: date) -> tuple[tuple[Part, ...], IntArray]:
    """Return the parts in order, and the part of each sale."""
    year = crop_year(sale_day)
    late = sale_day > int(np.datetime64(old_last, "D").astype(np.int64))
    names, place = np.unique(2 * year + late, return_inverse=True)
    return tuple(Part(int(name) // 2, bool(name % 2)) for name in names), place.astype(np.int64)


def _windows(
    old: NDArray[np.bool_],
    part: IntArray,
    solved: Callable[[NDArray[np.bool_]], tuple[FloatArray, FloatArray]],
) -> Windows:
    """Return both windows, whole and with each part left out; ``solved`` tells values and variances from some rows."""
    masks = [old[part], np.ones(len(part), dtype=bool)]
    masks += [mask & (part != p) for mask in masks for p in range(len(old))]
    value, variance = (np.array(side) for side in zip(*(solved(mask) for mask in masks), strict=True))
    n = len(old)
    return Windows(
        late=~old,
        old=value[0], new=value[1], old_left=value[2 : 2 + n], new_left=value[2 + n :],
        old_var=variance[0], new_var=variance[1],
        old_left_var=variance[2 : 2 + n], new_left_var=variance[2 + n :],
    )  # fmt: skip


@dataclass(frozen=True)
class _Sums:
    """Normal equations by part, about the coefficients of the fit: gram (p, k, k), score (p, k)."""

    gram: FloatArray
    score: FloatArray

    def windows(self, rows: FloatArray, start: FloatArray, old: NDArray[np.bool_]) -> Windows:
        """Return linear functions of the coefficients, ``rows`` of shape (r, k), from both windows."""
        return _windows(old, np.arange(len(old)), lambda mask: self._solved(mask, rows, start))

    def _solved(
        self, mask: NDArray[np.bool_], rows: FloatArray, start: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        gram, score = self.gram[mask].sum(axis=0), self.score[mask].sum(axis=0)
        unit, inverse = _scaled_inverse(gram)
        inverse = inverse * np.outer(unit, unit)
        value = rows @ (start + inverse @ score)
        return value, np.einsum("ij,jk,ik->i", rows, inverse, rows)

    def under(self, carry: FloatArray) -> _Sums:
        """Return the sums of coefficients c that settle these, b = C c."""
        return _Sums(carry.T @ self.gram @ carry, self.score @ carry)

    def tells(self, rows: FloatArray, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return which functions some parts can tell at all."""
        gram = self.gram[mask].sum(axis=0)
        unit, inverse = _scaled_inverse(gram)
        known = inverse @ (gram * np.outer(unit, unit))
        natural = np.where(unit > 0, rows * unit, rows)
        gap = np.abs(natural @ known - natural).max(axis=1)
        return np.asarray(gap <= 1e-6 * np.maximum(np.abs(natural).max(axis=1), 1e-300))


def _scaled_inverse(gram: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the scale of each column, zero where nothing tells it, and the inverse of the scaled normal equations."""
    size = np.diag(gram)
    unit = np.where(size > 0, 1.0 / np.sqrt(np.maximum(size, 1e-300)), 0.0)
    return unit, np.linalg.pinv(gram * np.outer(unit, unit), rcond=SMALL, hermitian=True)


def _lot_blocks(
    fit: MarketFit,
    within: FixedEffectsFit,
    lots: LotSource,
    part_of: IntArray,
    old: NDArray[np.bool_],
    wanted: list[NumberKey],
) -> Iterator[_Block]:
    """Yield the blocks that rest on lots: each kind of the slide's numbers, grades of few lots apart, and the noise."""
    recipe = fit.model.recipe
    carry = pooled_columns(within.recipe, recipe, lots.grades)
    start = carry @ within.solution.coef
    slides, squares = _lot_sums(within, recipe, start, lots, part_of, len(old))
    rows = {key: row for key in wanted if (row := _slide_row(fit, key)) is not None}
    few = [key for key in rows if key.kind in _OF_GRADE and _grade_of(key) not in within.recipe.grades]
    usual = [key for key in rows if key not in few]
    stack = np.array([rows[key] for key in (*usual, *few)]).reshape(len(rows), len(start))
    pooled = _told(usual, stack[: len(usual)] @ carry, slides.under(carry), within.solution.coef, old)
    yield from _by_kind(pooled)
    yield from _by_kind(_told(few, stack[len(usual) :], slides, start, old))
    yield _spread_block(squares, old, wanted)


def _told(
    keys: list[NumberKey], rows: FloatArray, sums: _Sums, start: FloatArray, old: NDArray[np.bool_]
) -> _Block:
    """Return those numbers that the old parts tell at all, from both windows."""
    told = sums.tells(rows, old) if len(keys) else np.zeros(0, dtype=bool)
    mine = [key for key, fine in zip(keys, told, strict=True) if fine]
    return _Block(mine, sums.windows(rows[told], start, old))


def _by_kind(block: _Block) -> Iterator[_Block]:
    """Yield a block for each kind of number."""
    for kind in dict.fromkeys(key.kind for key in block.keys):
        at = [place for place, key in enumerate(block.keys) if key.kind == kind]
        numbers = {name: getattr(block.windows, name)[..., at] for name in _OF_NUMBERS}
        yield _Block([block.keys[place] for place in at], replace(block.windows, **numbers))


def _lot_sums(
    within: FixedEffectsFit, recipe: Recipe, coef: FloatArray, lots: LotSource, part_of: IntArray, parts: int
) -> tuple[_Sums, _Sums]:
    """Return the sums of the slide's regression and of e^2 on (1, 1 / head) by part, in one pass over the chunks."""
    k = len(coef)
    slides = _Sums(np.zeros((parts, k, k)), np.zeros((parts, k)))
    squares = _Sums(np.zeros((parts, 2, 2)), np.zeros((parts, 2)))
    for span, chunk in lots.pieces():
        first, end = np.searchsorted(within.dropped, (span.first_row, span.end_row))
        out = within.dropped[first:end] - span.first_row
        rows = LotRows.of(chunk, recipe).chunk(within.level[span.sales], within.spread, out)
        part = part_of[span.sales][chunk.sale]
        sums = summarise(rows, part)
        both = np.einsum("pij,pik->pjk", sums.triangle, sums.triangle)
        slides.gram[sums.cluster] += both[:, :k, :k]
        slides.score[sums.cluster] += both[:, :k, k] - both[:, :k, :k] @ coef
        standard = np.array(recipe.grade_of)[chunk.grade] == 0
        _add_squares(squares, chunk, rows, standard, residuals(rows, coef), part)
    return slides, squares


def _add_squares(
    sums: _Sums, lots: Lots, rows: Chunk, standard: NDArray[np.bool_], error: FloatArray, part: IntArray
) -> None:
    """Add e^2 n / (n - 1) of the standard grade's lots of a sale on (1, 1 / head), as `chunk_passes.spread_sums`."""
    used = standard & (rows.row_weight > 0)
    size = np.bincount(lots.sale, used, lots.sales)[lots.sale]
    many = used & (size > 1)
    square = error[many] ** 2 * size[many] / (size[many] - 1.0)
    columns = np.column_stack([np.ones(len(square)), 1.0 / known_head(lots.head[many])])
    weight = rows.row_weight[many] ** 2 / 2.0
    for p in np.unique(part[many]):
        mine = part[many] == p
        X, w = columns[mine], weight[mine]
        sums.gram[p] += (X * w[:, None]).T @ X
        sums.score[p] += (X * w[:, None]).T @ square[mine]


def _slide_row(fit: MarketFit, key: NumberKey) -> FloatArray | None:
    """Return the function of the coefficients that a number is [log points]; None where the fit has no such thing."""
    recipe, now = fit.model.recipe, fit.model.level_now
    name = _PRICE_ROWS.get(key.kind)
    if name is None or (key.kind not in _OF_GRADE and key.of and key.of not in recipe.sexes):
        return None
    if key.kind in _OF_GRADE and _grade_of(key) not in fit.grade_place:
        return None
    row = name(recipe, key, now, fit)
    return row if np.abs(row).max(initial=0.0) > 0.0 else None


def _at(
    recipe: Recipe, sex: str, weight_lb: float, level: float, *, grade: int = 0, month: int | None = None
) -> FloatArray:
    day = 0.0 if month is None else mid_month_day(month)
    calf = one_calf(recipe, sex, [weight_lb], grade=grade, day=day, level=level)
    return np.asarray(design(recipe, calf, season=month is not None)[0])


def _gradient(
    recipe: Recipe, sex: str, weight_lb: float, level: float, *, grade: int = 0, month: int | None = None
) -> FloatArray:
    up, down = (
        _at(recipe, sex, weight_lb + side, level, grade=grade, month=month)
        for side in (STEP_LB / 2, -STEP_LB / 2)
    )
    return up - down


def _season_gradient(recipe: Recipe, key: NumberKey, now: float, _: MarketFit) -> FloatArray:
    sex = recipe.sexes[0]
    return _gradient(recipe, sex, key.at, now, month=key.month) - _gradient(recipe, sex, key.at, now)


def _grade_step(recipe: Recipe, key: NumberKey, now: float, fit: MarketFit) -> FloatArray:
    sex, place, middle = recipe.sexes[0], fit.grade_place[_grade_of(key)], STANDARD_WEIGHT_LB + STEP_LB / 2
    return _gradient(recipe, sex, middle, now, grade=place) - _gradient(recipe, sex, middle, now)


def _grade_of(key: NumberKey) -> str:
    return "" if key.of == UNGRADED else key.of


def _head_row(recipe: Recipe, _: NumberKey, __: float, ___: MarketFit) -> FloatArray:
    row = np.zeros(len(recipe.names()))
    if recipe.head:
        row[-1] = np.log(2.0)
    return row


_PRICE_ROWS: dict[str, Callable[[Recipe, NumberKey, float, MarketFit], FloatArray]] = {
    "slide": lambda r, key, now, _: _gradient(r, key.of, key.at, now),
    "discount": lambda r, key, now, _: _at(r, key.of, key.at, now),
    "slide season": _season_gradient,
    "slide level": lambda r, key, now, _: LEVEL_STEP
    * (_gradient(r, key.of, key.at, 1.0) - _gradient(r, key.of, key.at, 0.0)),
    "discount level": lambda r, key, now, _: LEVEL_STEP * (_at(r, key.of, key.at, 1.0) - _at(r, key.of, key.at, 0.0)),
    "grade": lambda r, key, now, fit: _at(r, r.sexes[0], STANDARD_WEIGHT_LB, now, grade=fit.grade_place[_grade_of(key)])
    - _at(r, r.sexes[0], STANDARD_WEIGHT_LB, now),
    "grade slide": _grade_step,
    "head": _head_row,
}  # fmt: skip
_OF_GRADE = ("grade", "grade slide")
_OF_NUMBERS = [field.name for field in fields(Windows) if field.name != "late"]


def _spread_block(sums: _Sums, old: NDArray[np.bool_], wanted: list[NumberKey]) -> _Block:
    """Return the spread from lot to lot and from calf to calf, as standard deviations."""
    keys = [key for key in wanted if key.kind == "noise" and key.of in ("lot", "calf")]
    rows = np.array([[1.0, 0.0] if key.of == "lot" else [0.0, 1.0] for key in keys]).reshape(len(keys), 2)
    block = _told(keys, rows, sums, np.zeros(2), old)
    root = np.sqrt(np.maximum(block.windows.new, 1e-6))
    scaled = {
        name: getattr(block.windows, name) / (2.0 * root) ** (2.0 if name.endswith("var") else 1.0)
        for name in _OF_NUMBERS
    }
    return _Block(block.keys, replace(block.windows, **scaled))


def _season_block(
    fit: MarketFit, old_last: date, parts: tuple[Part, ...], wanted: list[NumberKey]
) -> Iterator[_Block]:
    """Yield the season of the standard calf by least squares on the sales' levels over a random walk, if any."""
    keys = [key for key in wanted if key.kind == "season"]
    turns = fit.season_fit.harmonics
    day = fit.index.sale_day
    ours, place = _parts(day, old_last)
    if not keys or not turns or ours != parts:
        return
    noise = float(np.sqrt(fit.season_fit.sale_sd**2 + fit.index.lots_var))
    waves = harmonics(day, turns)
    months = harmonics(mid_months(int(day[-1])), turns)
    rows = (months - months.mean(axis=0))[[key.month - 1 for key in keys]]

    def solved(mask: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
        levels = day[mask], fit.index.sale_log[mask], waves[mask]
        coef, cov = _walk_fit(*levels, fit.season_fit.walk_sd_month, noise)
        return rows @ coef, np.einsum("ij,jk,ik->i", rows, cov, rows)

    yield _Block(keys, _windows(np.array([not part.late for part in parts]), place, solved))


def _walk_fit(
    day: IntArray, y: FloatArray, X: FloatArray, walk_sd_month: float, noise_sd: float
) -> tuple[FloatArray, FloatArray]:
    """Return coefficients of y = level + X b + noise with the level a random walk, and their covariance.

    Generalised least squares: V^-1 = W - W (W + Q)^-1 W, with W the noise's precision and Q the walk's, which holds
    entries beside its diagonal only (Rue and Held, 2005, Gaussian Markov Random Fields, sec. 1.2).
    """
    from scipy.linalg import solveh_banded

    apart = np.maximum(np.diff(day), 1).astype(float) / DAYS_PER_MONTH
    step = 1.0 / (max(walk_sd_month, 1e-3) ** 2 * apart)
    precision = 1.0 / max(noise_sd, 1e-3) ** 2
    bands = np.zeros((2, len(day)))
    bands[1] = precision
    bands[1, :-1] += step
    bands[1, 1:] += step
    bands[0, 1:] = -step
    both = np.column_stack([X, y])
    swept = precision * (both - precision * solveh_banded(bands, both))
    gram = X.T @ swept[:, :-1]
    cov = np.linalg.pinv(gram, hermitian=True)
    return cov @ (X.T @ swept[:, -1]), cov
