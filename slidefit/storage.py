"""What stands in files: the sale book, fits, regions, plans and source cards."""

from __future__ import annotations

from os import PathLike, fspath
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from slidefit.market.market_fit import MarketFit
    from slidefit.plan.plan import Plan
    from slidefit.records.reading.source_card import SourceCard
    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.region import Region


def book(path: str | PathLike[str] = "sales.duckdb") -> SaleBook:
    """Return the sale book at a path; it need not exist before the first addition.

    ``add(read)`` adds, ``undo(batch)`` takes out, ``records(market, since, until)`` gives a frame, ``summary()`` tells
    what it holds: each opens the file and closes it again. Within ``with`` the book stays open to be read, and
    ``relation(market, since, until)`` gives a DuckDB relation.

    Examples
    --------
    >>> import slidefit, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     kept = book(f"{folder}/sales.duckdb")
    ...     added = kept.add(slidefit.read("data_demo/cold_kettle_auction.csv")).added
    ...     with kept:
    ...         counted = kept.relation(since="2024-01-01").aggregate("count(*)").fetchall()[0][0]
    ...     counted == len(kept.records(since="2024-01-01")) < added
    True
    """
    from slidefit.records.sale_book import SaleBook

    return SaleBook(fspath(path))


def regions_in(folder: str | PathLike[str] = "regions") -> dict[str, Region]:
    """Return the regions of a folder by name; a file at fault raises.

    Raises
    ------
    RegionError
        A region's file has a fault; every problem has its line.

    Examples
    --------
    >>> sorted(regions_in("data_demo/regions"))
    ['Alder Ford valley', 'Cold Kettle plain', 'Tern Hollow country']
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

    Examples
    --------
    >>> sources("no_such_book.duckdb")
    {}
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

    Examples
    --------
    >>> import tempfile
    >>> plan = load("data_demo/plan.toml")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     save(plan, f"{folder}/plan.toml")
    ...     load(f"{folder}/plan.toml") == plan
    True
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

    Examples
    --------
    >>> load("data_demo/kettle_fork.toml").name
    'Kettle Fork country'
    """
    from slidefit.market.saved_fit import load_fit
    from slidefit.plan.plan_file import read_plan
    from slidefit.regions.region_file import read_region
    from slidefit.regions.region_folder import says_region

    name = fspath(path)
    if not name.endswith(".toml"):
        return load_fit(name)
    return read_region(name) if says_region(name) else read_plan(name)
