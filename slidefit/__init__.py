"""slidefit: the price slide and season of feeder calves from local sale records, and keep-or-sell on top of it.

>>> import slidefit
>>> read = slidefit.read("sales.csv", market="Alder Ford Livestock")  # doctest: +SKIP
>>> fit = slidefit.fit(read)  # doctest: +SKIP
>>> fit.slide(sex="steer", weight_lb=550)  # doctest: +SKIP
>>> answer = slidefit.compare(fit.outlook(), "plan.toml")  # doctest: +SKIP

Prices are $/cwt, weights lb a head, percentages in percent. docs/results.md shows every call with what it answers.
"""

from __future__ import annotations

from os import fspath
from typing import TYPE_CHECKING, Any

from slidefit.errors import SlidefitError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from os import PathLike

    import pandas as pd

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
    from slidefit.report.charts.fit_plots import FitPlots

__version__ = "0.2.0"
__all__ = [
    "SlideRegressor",
    "SlidefitError",
    "__version__",
    "backtest",
    "book",
    "compare",
    "fit",
    "load",
    "outlook",
    "read",
    "regions_in",
    "save",
    "sources",
    "to_dict",
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
    sheet : str, optional
        Read only this sheet of a workbook.
    mapping : mapping of heading to field, optional
        For headings that are not recognized.
    values : mapping of field or heading to a mapping of word to meaning, optional
        Such as ``{"sex": {"1": "steer", "2": "heifer"}}``.
    market_names : mapping, optional
        Other names of a market, and its name in the book.
    sale_day : {"title", "column"}, optional
        Where titles and a column both tell days and differ.
    source : str or SourceCard, optional
        The source that the files are of: a card, or its name (see `sources`).

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
    """
    from slidefit.records.read import read as read_files

    return read_files(
        [fspath(path) for path in paths], mapping=mapping, market=market, currency=currency, price_unit=price_unit,
        weight_unit=weight_unit, date_order=date_order, sheet=sheet, values=values, market_names=market_names,
        sale_day=sale_day, source=source,
    )  # fmt: skip


def book(path: str | PathLike[str] = "sales.duckdb") -> SaleBook:
    """Return the sale book at a path; it need not exist before the first addition.

    ``book.add(read)`` adds, ``book.undo(batch)`` takes out, ``book.records(markets, since, until)`` gives a frame,
    ``book.summary()`` what it holds. It opens the file for each of them, and closes it again.

    >>> slidefit.book("sales.duckdb").records(["Alder Ford"])  # doctest: +SKIP
    """
    from slidefit.records.sale_book import SaleBook

    return SaleBook(fspath(path))


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
    progress : callable, optional
        Told in a few words what is being done.

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
    Calves that bring $40 less for each 100 lb, at ten sales: a slide of about ten percent of $400.

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
    market : str, optional
        One market of a fit; all together without it.

    Raises
    ------
    FitError, RegionError
        The file is missing, at fault or of another version; the fit doesn't hold the market.
    """
    found = load(source) if isinstance(source, str) or hasattr(source, "__fspath__") else source
    if hasattr(found, "outlook"):
        made: Outlook = found.outlook(market)
        return made
    from slidefit.regions.region_outlook import outlook_of_region

    return outlook_of_region(found)  # type: ignore[arg-type]


def compare(
    source: Outlook | MarketFit | Region | str | PathLike[str],
    plan: Plan | Mapping[str, Any] | str | PathLike[str],
) -> Comparison:
    """Compare keeping with selling at weaning, for every group, program and sale month of a plan.

    Parameters
    ----------
    source : Outlook, MarketFit, Region or path of a fit or a region
    plan : Plan, dictionary or path
        A dictionary has the tables and keys of a plan's file (docs/plan.md).

    Raises
    ------
    PlanError
        The plan is at fault; every problem is told at once.
    OutlookError
        No calf of the plan can be priced.
    """
    from slidefit.decision.comparison import compare as compare_plan
    from slidefit.market.outlook import Outlook

    return compare_plan(source if isinstance(source, Outlook) else outlook(source), _plan(plan))


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
    horizons : int
        Months ahead, 1 to ``horizons``.
    first_origin_months : int
        Months of records before the first forecast.
    jobs : int, optional
        Processes that share the work; the answer doesn't depend on it.
    progress : callable, optional

    Raises
    ------
    FitError
        The records are too short to leave six past months to judge by, or can't be fitted at all.
    """
    from slidefit.market.backtest import backtest as replay

    return replay(
        _table(records, whole=True), quotes=quotes, horizons=horizons, first_origin_months=first_origin_months,
        jobs=jobs, progress=progress,
    )  # fmt: skip


def regions_in(folder: str | PathLike[str] = "regions") -> dict[str, Region]:
    """Return the regions of a folder by name; a file at fault raises.

    Raises
    ------
    RegionError
        A region's file has a fault; every problem has its line.
    """
    from slidefit.regions.region_file import read_region
    from slidefit.regions.region_folder import region_files

    found = [read_region(path) for path in region_files(fspath(folder))]
    return {region.name: region for region in found}


def sources(book: str | PathLike[str] = "sales.duckdb") -> dict[str, SourceCard]:
    """Return the source cards that a book has learned, by name.

    Raises
    ------
    DocumentError, BookError
        A card's file or the book is at fault.
    """
    from slidefit.records.source_book import cards_of

    return cards_of(fspath(book))


def save(result: MarketFit | Region | Plan, path: str | PathLike[str]) -> None:
    """Write a fit (JSON), a region or a plan (TOML), whole or not at all; `load` reads it back.

    Raises
    ------
    OutputError
        The folder is missing, read-only or full.
    TypeError
        Something else was given.
    """
    from slidefit.files import write_whole
    from slidefit.market.market_fit import MarketFit
    from slidefit.market.saved_fit import save_fit
    from slidefit.plan.plan import Plan
    from slidefit.plan.plan_file import write_plan
    from slidefit.regions.region import Region
    from slidefit.regions.region_folder import save_region

    if isinstance(result, MarketFit):
        save_fit(result, fspath(path))
    elif isinstance(result, Region):
        save_region(result, fspath(path))
    elif isinstance(result, Plan):
        write_whole(fspath(path), write_plan(result))
    else:
        raise TypeError(f"a {type(result).__name__} is not saved to a file; a fit, a region or a plan is")


def load(path: str | PathLike[str]) -> MarketFit | Region | Plan:
    """Read what `save` wrote, or a region's or a plan's file written by hand.

    Raises
    ------
    FitError, RegionError, PlanError
        No such file, at fault, or of another version.
    """
    from slidefit.market.saved_fit import load_fit
    from slidefit.plan.plan_file import read_plan
    from slidefit.regions.region_file import read_region
    from slidefit.regions.region_folder import says_region

    name = fspath(path)
    if not name.endswith(".toml"):
        return load_fit(name)
    return read_region(name) if says_region(name) else read_plan(name)


def to_dict(result: MarketFit | Comparison | Backtest | Region) -> dict[str, Any]:
    """Return a result as plain values: what the terminal prints with ``--json``.

    Raises
    ------
    TypeError
        There is no document of it.
    """
    from slidefit.report import json_documents
    from slidefit.report.regions.region_documents import region_document

    documents: dict[str, Callable[[Any], dict[str, Any]]] = {
        "MarketFit": json_documents.fit_document,
        "Comparison": json_documents.comparison_document,
        "Backtest": json_documents.backtest_document,
        "Region": region_document,
    }
    kind = type(result).__name__
    if kind not in documents:
        raise TypeError(f"there is no document of a {kind}; there is one of {', '.join(documents)}")
    return documents[kind](result)


def plots_of(fitted: MarketFit) -> FitPlots:
    """Return what draws a fit: ``fit.plot``."""
    from slidefit.report.charts.fit_plots import FitPlots

    return FitPlots(fitted)


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
    """Hand over `SlideRegressor` when it is asked for: scikit-learn is slow to load."""
    if name == "SlideRegressor":
        from slidefit.market.regressor import SlideRegressor

        return SlideRegressor
    raise AttributeError(f"module 'slidefit' has no attribute {name!r}")
