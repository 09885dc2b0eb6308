"""A page over one barn's demonstration records, fitted once."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from running import PLAN, SALES, Running, browser, running

from slidefit.market.market_fit import fit_market
from slidefit.market.saved_fit import save_fit
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from slidefit.web.security import Settings
from tests.conftest import made_once


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a book and its fit."""

    def make(folder: Path) -> None:
        book = SaleBook(folder / "sales.duckdb")
        book.add(read(SALES))
        save_fit(fit_market(book.records()), folder / "slide.json")

    return made_once(tmp_path_factory, "filled", make)


def settings_in(folder: Path) -> Settings:
    return Settings(
        book=folder / "sales.duckdb", fit=folder / "slide.json", example_plan=PLAN, regions=folder, port=0
    )


@pytest.fixture(scope="session")
def page(filled: Path) -> Iterator[Running]:
    """A running page that tests only look at."""
    with running(settings_in(filled)) as found:
        yield found


@pytest.fixture
def own_page(filled: Path, tmp_path: Path) -> Iterator[Running]:
    """A running page whose book and fit a test may change."""
    for name in ("sales.duckdb", "slide.json"):
        shutil.copy(filled / name, tmp_path / name)
    with running(settings_in(tmp_path)) as found:
        yield found


@pytest.fixture
def empty_page(tmp_path: Path) -> Iterator[Running]:
    """A running page without a book."""
    with running(settings_in(tmp_path)) as found:
        yield found


@pytest.fixture(scope="module")
def chrome() -> Iterator[object]:
    """A real browser."""
    with browser() as found:
        yield found
