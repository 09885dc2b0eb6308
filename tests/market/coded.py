"""Lots of a frame, in memory, and errors clustered anyhow, for tests that look at them one by one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.market.fit.coding import FrameTable, _in_memory, _usable_rows, coded_lots
from slidefit.market.fit.leastsquares import Solution, sandwich
from slidefit.market.fit.lots import SEXES, Lots


def lots_of(records: pd.DataFrame) -> Lots:
    """Return the lots of a frame of tidy records; every sex stays, however few its lots."""
    table = FrameTable(records)
    with table.opened() as connection:
        _usable_rows(connection)
        return _in_memory(connection, SEXES, table.order)


def sorted_lots(records: pd.DataFrame) -> Lots:
    """Return the lots of the sexes with rows enough."""
    with coded_lots(records) as coded:
        assert isinstance(coded.lots, Lots)
        return coded.lots


def clustered_cov(solution: Solution, scores: np.ndarray, cluster: np.ndarray) -> np.ndarray:
    """Return CR1 from the scores of sales and the cluster of each."""
    _, code = np.unique(cluster, return_inverse=True)
    summed = np.zeros((int(code.max()) + 1, scores.shape[1]))
    np.add.at(summed, code, scores)
    return sandwich(solution, summed.T @ summed, len(summed))
