"""One thread of linear algebra for each test process, and a mark on the tests that drive a browser."""

from __future__ import annotations

import os

import pytest

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test that uses the ``chrome`` fixture as ``browser``: run them with ``pytest -m browser``."""
    for item in items:
        if "chrome" in getattr(item, "fixturenames", ()):
            item.add_marker("browser")
