"""slidefit: the price slide and season of feeder calves from local sale records, and keep-or-sell on top of it.

>>> import slidefit
>>> read = slidefit.read("sales.csv", market="Alder Ford Livestock")  # doctest: +SKIP
>>> fit = slidefit.fit(read)  # doctest: +SKIP
>>> fit.slide(sex="steer", weight_lb=550)  # doctest: +SKIP
>>> answer = slidefit.compare(fit.outlook(), "plan.toml")  # doctest: +SKIP
"""

from __future__ import annotations

from os import fspath
from typing import TYPE_CHECKING, Any

from slidefit.errors import SlidefitError

if TYPE_CHECKING:
    from os import PathLike

    import pandas as pd

    from slidefit.decision.results import Comparison
    from slidefit.market.market_fit import MarketFit
    from slidefit.market.outlook import Outlook
    from slidefit.market.regressor import SlideRegressor
    from slidefit.plan.plan import Plan
    from slidefit.records.read import ReadResult

__version__ = "0.1.0"
__all__ = [
    "SlideRegressor",
    "SlidefitError",
    "__version__",
    "compare",
    "fit",
    "load_fit",
    "read",
    "region_outlook",
    "save_fit",
]


def read(*paths: str | PathLike[str], market: str | None = None, **options: object) -> ReadResult:
    """Read files of sale records; see `slidefit.records.read.read` for the options.

    Returns
    -------
    ReadResult
        ``records`` (tidy rows), ``set_aside`` (rows that can't be used, with reasons) and ``notes``.

    Raises
    ------
    RecordsError
        A file is missing, empty, or not readable as sale records.
    """
    from slidefit.records.read import read as read_files

    return read_files(list(paths), market=market, **options)  # type: ignore[arg-type]


def fit(records: ReadResult | pd.DataFrame, *, defaults: Outlook | None = None) -> MarketFit:
    """Fit the slide and the season to tidy records, or to what `read` returned.

    Parameters
    ----------
    defaults : Outlook, optional
        What records too thin to stand alone lean on, such as `region_outlook` of a file; the usual slide without it.

    Raises
    ------
    FitError
        No usable record, mixed currencies, or no sale with two lots to compare.
    """
    from slidefit.market.market_fit import fit_market

    frame: Any = getattr(records, "records", records)
    return fit_market(frame, defaults=defaults)


def save_fit(fitted: MarketFit, path: str | PathLike[str]) -> None:
    """Write a fit as JSON, whole or not at all.

    Raises
    ------
    OutputError
        The folder is missing, read-only or full.
    """
    from slidefit.market.saved_fit import save_fit as save

    save(fitted, str(path))


def load_fit(path: str | PathLike[str]) -> MarketFit:
    """Read a fit written by `save_fit`.

    Raises
    ------
    FitError
        No such file, not a fit, damaged, or of a newer version.
    """
    from slidefit.market.saved_fit import load_fit as load

    return load(str(path))


def region_outlook(path: str | PathLike[str]) -> Outlook:
    """Read a region's default file as a price outlook, as good for `compare` as ``fit.outlook()``.

    Raises
    ------
    RegionError
        The file is missing, not a region, of a newer version, or at fault; every problem has its line.
    """
    from slidefit.regions.region_file import read_region
    from slidefit.regions.region_outlook import outlook_of_region

    return outlook_of_region(read_region(fspath(path)))


def compare(outlook: Outlook, plan: Plan | str | PathLike[str]) -> Comparison:
    """Compare keeping with selling at weaning, for every group, program and sale month of a plan.

    Parameters
    ----------
    outlook : Outlook
        From ``fit.outlook()`` or `region_outlook`.
    plan : Plan or path of a plan in TOML

    Raises
    ------
    PlanError
        The plan is at fault; every problem is told at once.
    OutlookError
        No calf of the plan can be priced.
    """
    from slidefit.decision.comparison import compare as compare_plan
    from slidefit.plan.plan import Plan
    from slidefit.plan.plan_file import read_plan

    return compare_plan(outlook, plan if isinstance(plan, Plan) else read_plan(fspath(plan)))


def __getattr__(name: str) -> object:
    """Hand over `SlideRegressor` when it is asked for: scikit-learn is slow to load."""
    if name == "SlideRegressor":
        from slidefit.market.regressor import SlideRegressor

        return SlideRegressor
    raise AttributeError(f"module 'slidefit' has no attribute {name!r}")
