"""slidefit: the price slide and season of feeder calves from local sale records, and keep-or-sell on top of it.

>>> import slidefit
>>> answer = slidefit.compare("data_demo/kettle_fork.toml", "data_demo/plan.toml")
>>> answer.groups[0].best.verdict
'Probably sell'

Prices are $/cwt, weights lb a head, percentages in percent. docs/python.md shows every call with what it answers.
"""

from __future__ import annotations

from os import fspath
from typing import TYPE_CHECKING, Any

from slidefit.errors import SlidefitError
from slidefit.storage import book, load, regions_in, save, sources

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from os import PathLike

    import pandas as pd

    from slidefit.decision.quick import QuickAnswer
    from slidefit.decision.results import Comparison
    from slidefit.futures_contracts import FuturesQuote
    from slidefit.market.backtest import Backtest
    from slidefit.market.market_fit import MarketFit
    from slidefit.market.outlook import Outlook
    from slidefit.market.regressor import SlideRegressor
    from slidefit.plan.plan import Plan
    from slidefit.records.reading.source_card import SourceCard
    from slidefit.records.result import ReadResult
    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.region import Region

__version__ = "0.2.0"
__all__ = [
    "SlideRegressor",
    "SlidefitError",
    "__version__",
    "alternatives",
    "backtest",
    "book",
    "compare",
    "fit",
    "load",
    "outlook",
    "quick",
    "read",
    "regions_in",
    "save",
    "sources",
]


def read(
    *paths: str | PathLike[str],
    market: str | None = None,
    currency: str | None = None,
    price_unit: str | None = None,
    weight_unit: str | None = None,
    date_order: str | None = None,
    sheet: str | None = None,
    mapping: Mapping[str, str] | None = None,
    values: Mapping[str, Mapping[str, str]] | None = None,
    market_names: Mapping[str, str] | None = None,
    sale_day: str | None = None,
    source: str | SourceCard | None = None,
) -> ReadResult:
    """Read files of sale records.

    Parameters
    ----------
    paths : one or more paths of files, folders or archives
    market, currency : str, optional
        For rows that name none.
    price_unit, weight_unit, date_order : str, optional
        Settle what a file leaves open, such as ``price_unit="$/cwt"``, ``weight_unit="lb"``, ``date_order="mdy"``.
    sheet : str, the only sheet of a workbook to read, optional
    mapping : mapping of heading to field, optional
        For headings that are not recognized.
    values : mapping of field or heading to a mapping of word to meaning, optional
        Such as ``{"sex": {"1": "steer", "2": "heifer"}}``.
    market_names : mapping of another name of a market to its name in the book, optional
    sale_day : a day (ISO) where no file tells it, or {"title", "column"} where both do and differ, optional
    source : str or SourceCard, the card of the files' source or its name (see `sources`), optional

    Returns
    -------
    ReadResult
        ``records`` (tidy rows), ``set_aside`` (rows that can't be used, with reasons) and ``notes``.

    Raises
    ------
    RecordsError
        A file is missing, empty, or not readable as sale records.
    QuestionError
        A file can be read in two ways; the remedy names the argument that settles it.

    Examples
    --------
    >>> found = read("data_demo/cold_kettle_auction.csv")
    >>> len(found.records) + len(found.set_aside) == found.rows_seen
    True
    """
    from slidefit.records.read import read as read_files

    return read_files(
        [fspath(path) for path in paths], mapping=mapping, market=market, currency=currency, price_unit=price_unit,
        weight_unit=weight_unit, date_order=date_order, sheet=sheet, values=values, market_names=market_names,
        sale_day=sale_day, source=source,
    )  # fmt: skip


def fit(
    records: ReadResult | SaleBook | pd.DataFrame,
    *,
    defaults: Outlook | None = None,
    quotes: Sequence[FuturesQuote] = (),
    progress: Callable[[str], None] | None = None,
) -> MarketFit:
    """Fit the slide and the season to tidy records, to what `read` returned, or to a whole `book`.

    Parameters
    ----------
    records : ReadResult, SaleBook or DataFrame
        A frame has a row for each lot: ``sale_date``, ``market``, ``sex``, ``weight_lb`` [lb a head], ``price_cwt``
        [$/cwt], and as known ``head``, ``frame``, ``muscle``, ``traits``. A book is read in pieces.
    defaults : Outlook, optional
        What records too thin to stand alone are pulled toward, such as `outlook` of a region's file; the usual slide
        without it.
    quotes : sequence of FuturesQuote
        Of any days; the newest go into the outlook.
    progress : callable, told in a few words what is being done, optional

    Returns
    -------
    MarketFit
        ``summary()``, ``slide()``, ``season()``, ``prices()``, ``params``, ``bse``, ``conf_int()``, ``cov``,
        ``tidy()``, ``predict(frame)``, ``plot``, ``outlook()``.

    Raises
    ------
    FitError
        No usable record, mixed currencies, or no sale with two lots to compare.

    References
    ----------
    docs/method.md has the model, its evidence and its sources.

    Examples
    --------
    >>> import numpy as np, pandas as pd
    >>> weight = np.tile(np.linspace(450.0, 650.0, 40), 10)
    >>> lots = pd.DataFrame({"weight_lb": weight, "price_cwt": 400.0 - 0.40 * (weight - 550.0), "sex": "steer"})
    >>> lots["sale_date"] = pd.Timestamp("2025-10-06") + pd.to_timedelta(np.repeat(np.arange(10), 40) * 7, "D")
    >>> fitted = fit(lots.assign(market="Birch Landing", head=10.0))
    >>> float(fitted.slide("steer", 550.0)["percent_per_cwt"].iloc[0].round(1))
    9.5
    >>> fitted.slide("steer", 550.0).attrs["units"]["percent_per_cwt"]
    'percent per cwt'
    """
    from slidefit.market.market_fit import fit_market

    return fit_market(_table(records, whole=False), defaults=defaults, quotes=quotes, progress=progress)


def outlook(source: MarketFit | Region | str | PathLike[str], market: str | None = None) -> Outlook:
    """Return the price outlook of a fit, a region, or a file of either.

    Parameters
    ----------
    source : MarketFit, Region or path
    market : str, one market of a fit; all together without it

    Raises
    ------
    FitError, RegionError
        The file is missing, at fault or of another version; the fit doesn't hold the market.

    Examples
    --------
    >>> prices = outlook("data_demo/kettle_fork.toml")
    >>> prices.price_cwt("steer", [500.0, 700.0], prices.as_of).round()  # $/cwt
    array([385., 309.])
    """
    found = load(source) if isinstance(source, str) or hasattr(source, "__fspath__") else source
    if hasattr(found, "outlook"):
        made: Outlook = found.outlook(market)
        return made
    from slidefit.regions.region_outlook import outlook_of_region

    return outlook_of_region(found)  # type: ignore[arg-type]


def compare(
    source: Outlook | MarketFit | Region | str | PathLike[str] | None,
    plan: Plan | Mapping[str, Any] | str | PathLike[str],
) -> Comparison:
    """Compare keeping with selling at weaning, for every group, program and sale month of a plan.

    Parameters
    ----------
    source : Outlook, MarketFit, Region or path of a fit or a region; None where the plan types its prices
    plan : Plan, dictionary or path
        A dictionary has the tables and keys of a plan's file (docs/plan.md).

    Raises
    ------
    PlanError
        The plan is at fault; every problem is told at once.
    OutlookError
        No calf of the plan can be priced.

    References
    ----------
    docs/comparison.md has the budget's formulas and their sources.

    Examples
    --------
    >>> calves = {"name": "Steers", "sex": "steer", "head": 40, "weight_lb": 560}
    >>> plan = {
    ...     "dates": {"weaning": "2026-10-14", "first_sale": "2026-12", "last_sale": "2026-12"},
    ...     "groups": [calves],
    ...     "programs": [{"name": "Hay and cake", "gain_lb_day": 1.6, "cost_head_day": 1.85}],
    ... }
    >>> answer = compare("data_demo/kettle_fork.toml", plan)
    >>> answer.to_frame()[["program", "sale_month", "days"]].values.tolist()
    [['Hay and cake', '2026-12', 62]]
    """
    from slidefit.decision.comparison import compare as compare_plan
    from slidefit.market.outlook import Outlook

    given = source if source is None or isinstance(source, Outlook) else outlook(source)
    return compare_plan(given, _plan(plan))


def alternatives(
    source: Outlook | MarketFit | Region | str | PathLike[str] | None,
    plan: Plan | Mapping[str, Any] | str | PathLike[str],
) -> pd.DataFrame:
    """Return the choices side by side: sell all, keep all, half, the lights, with a floor or a contract.

    Parameters
    ----------
    source, plan : as in `compare`

    Returns
    -------
    DataFrame
        A row for each way of each group: mean and bad year [$ a head against selling now], odds, cash [$].

    Raises
    ------
    PlanError, OutlookError
        As in `compare`.

    Examples
    --------
    >>> ways = alternatives("data_demo/kettle_fork.toml", "data_demo/plan.toml")
    >>> ways.loc[0, "what"], ways.attrs["units"]["bad_year"]
    ('sell all', '$/head')
    """
    return compare(source, plan).alternatives


def quick(question: Mapping[str, float]) -> QuickAnswer:
    """Answer the quick question from typed prices: no records, no plan.

    Parameters
    ----------
    question : mapping of field to number
        ``weight_lb``, ``price_cwt``, ``days``, ``to_weight_lb`` or ``gain_lb_day``, ``later_price_cwt`` or
        ``slide_pct``, and as they are known the costs of `slidefit.plan.quick_fields`.

    Raises
    ------
    SlidefitError
        A field is missing, off its limits or unknown.

    References
    ----------
    Noble Foundation (2005): 500 lb at $140 to 600 lb at $126 make a pound of gain worth 56 cents.

    Examples
    --------
    >>> asked = {"weight_lb": 500, "price_cwt": 140, "to_weight_lb": 600, "later_price_cwt": 126, "days": 50}
    >>> round(quick(asked).value_of_gain_per_lb, 2)  # $/lb
    0.56
    """
    from slidefit.decision.quick import quick_answer

    return quick_answer(question)


def backtest(
    records: ReadResult | SaleBook | pd.DataFrame,
    *,
    quotes: Sequence[FuturesQuote] = (),
    horizons: int = 9,
    first_origin_months: int = 24,
    jobs: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> Backtest:
    """Replay the fit at the end of every past month, with only the sales up to then.

    Parameters
    ----------
    records : ReadResult, SaleBook or DataFrame
    quotes : sequence of FuturesQuote
    horizons : int, months ahead
    first_origin_months : int, months of records before the first forecast
    jobs : int, processes that share the work, optional
    progress : callable, optional

    Raises
    ------
    FitError
        The records are too short to leave six past months to judge by, or can't be fitted at all.

    References
    ----------
    docs/backtest.md has what is measured, and the sources.

    Examples
    --------
    Three years of weekly sales that stray 2 percent around one price: hardly a forecast comes nearer than that.

    >>> import numpy as np, pandas as pd
    >>> at = np.repeat(np.arange(150), 5)
    >>> lots = pd.DataFrame({"weight_lb": np.tile([450.0, 500.0, 550.0, 600.0, 650.0], 150), "sex": "steer"})
    >>> lots["price_cwt"] = (620.0 - 0.4 * lots["weight_lb"]) * np.random.default_rng(3).normal(1.0, 0.02, 150)[at]
    >>> lots["price_cwt"] *= np.random.default_rng(4).normal(1.0, 0.01, 750)
    >>> lots["sale_date"] = pd.Timestamp("2023-01-02") + pd.to_timedelta(at * 7, "D")
    >>> tested = backtest(lots.assign(market="Birch Landing", head=10.0), horizons=1)
    >>> float(tested.to_frame()["rmse_pct"].iloc[0].round())  # percent
    3.0
    """
    from slidefit.market.backtest import backtest as replay

    return replay(
        _table(records, whole=True), quotes=quotes, horizons=horizons, first_origin_months=first_origin_months,
        jobs=jobs, progress=progress,
    )  # fmt: skip


def report_of_results() -> Any:
    """Return the module that says results in words, tables and pictures."""
    from slidefit.report import public_results

    return public_results


def _table(records: Any, *, whole: bool) -> Any:
    """Return the tidy records of a reading, a book (its table, or all of it in memory) or a frame."""
    from slidefit.records.result import ReadResult
    from slidefit.records.sale_book import SaleBook

    if isinstance(records, SaleBook):
        return records.records() if whole else records.table()
    return records.records if isinstance(records, ReadResult) else records


def _plan(plan: Plan | Mapping[str, Any] | str | PathLike[str]) -> Plan:
    from slidefit.plan.plan import Plan
    from slidefit.plan.plan_file import build_plan, read_plan

    if isinstance(plan, Plan):
        return plan
    if isinstance(plan, str) or hasattr(plan, "__fspath__"):
        return read_plan(fspath(plan))
    return build_plan(dict(plan))


def __getattr__(name: str) -> object:
    """Hand over `SlideRegressor` when asked for: scikit-learn is slow to load."""
    if name == "SlideRegressor":
        from slidefit.market.regressor import SlideRegressor

        return SlideRegressor
    raise AttributeError(f"module 'slidefit' has no attribute {name!r}")
