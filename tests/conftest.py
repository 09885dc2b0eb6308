"""One thread of linear algebra for each test process, and a mark on the tests that drive a browser."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")
os.environ.pop(
    "PYTHONDONTWRITEBYTECODE", None
)  # commands that tests start compile the package once, not each time
sys.dont_write_bytecode = False

FAST_DISK, ROOM_BYTES = (
    Path("/dev/shm"),
    4 << 30,
)  # a sync costs nothing there, and 4 ms on a disk, for thousands of them
if FAST_DISK.is_dir() and os.access(FAST_DISK, os.W_OK) and shutil.disk_usage(FAST_DISK).free > ROOM_BYTES:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(FAST_DISK))


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test that uses the ``chrome`` fixture as ``browser``: run them with ``pytest -m browser``.

    One file that needs the demonstration's folder comes first, then those that don't: nobody waits until it is made.
    """
    uses = {item: getattr(item, "fixturenames", ()) for item in items}
    for item in items:
        if "chrome" in uses[item]:
            item.add_marker("browser")
    first = next((item.path for item in items if "demo_folder" in uses[item]), None)
    items.sort(key=lambda item: 0 if item.path == first else 1 if "decision" in item.path.parts else 2)


def pytest_collection_finish() -> None:
    """What was loaded stays until the end: the collector of garbage need not look at it again and again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures that nobody looks at here take no time: an empty one stands for each, but for those in a PDF."""
    from slidefit.report.charts import style
    from slidefit.report.render import pictures

    real, empty = style.rendered, {"png": b"\x89PNG", "svg": b"<svg/>"}
    for module in (style, pictures):
        monkeypatch.setattr(module, "rendered", lambda figure, kind: empty.get(kind) or real(figure, kind))


@pytest.fixture(scope="session")
def truth():
    from tests.market.simulate import Truth

    return Truth()


@pytest.fixture(scope="session")
def drawn(truth):
    """One simulated market of nine crop years, a sale every other week."""
    from tests.market.simulate import simulate

    return simulate(11, truth=truth, sales=225, lots=14, days_between=14)


@pytest.fixture(scope="session")
def fitted(drawn):
    from slidefit.market.market_fit import fit_market

    return fit_market(drawn.records)


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book, fit and plans of the demonstration."""
    return made_once(tmp_path_factory, "demo", fitted_demo)


def made_once(tmp_path_factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """Return a folder that is made once for all processes of the tests, a copy for each."""
    own = tmp_path_factory.mktemp(name) / "out"
    base = tmp_path_factory.getbasetemp()
    shared = (base.parent if base.name.startswith("popen") else base) / f"{name}-of-all"
    try:
        shared.mkdir()
    except FileExistsError:
        for _ in range(1200):
            if (shared / "made").exists():
                break
            time.sleep(0.1)
    else:
        (shared / "out").mkdir()
        make(shared / "out")
        (shared / "made").write_text("")
    assert (shared / "made").exists()
    return Path(shutil.copytree(shared / "out", own))


def fitted_demo(folder: Path) -> None:
    import slidefit

    data = Path(__file__).parent.parent / "data_demo"
    for name in ("plan.toml", "typed_prices.toml"):
        shutil.copy(data / name, folder / name)
    shutil.copytree(data / "regions", folder / "regions", ignore=shutil.ignore_patterns("*.csv"))
    book = slidefit.book(folder / "sales.duckdb")
    book.add(slidefit.read(*sorted(data.glob("*.csv"))))
    slidefit.save(slidefit.fit(book), folder / "slide.json")
