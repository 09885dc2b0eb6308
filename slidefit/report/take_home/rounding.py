"""Numbers as short as a price to the cent allows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

LOG_DECIMALS = 8
"""Good to a thousandth of a cent on a check of $3,000."""


def rounded(values: Sequence[float] | np.ndarray[Any, Any]) -> list[float]:
    """Return numbers rounded as far as a price to the cent needs.

    >>> rounded([0.123456789, 2.0])
    [0.12345679, 2.0]
    """
    return [float(each) for each in np.round(np.asarray(values, dtype=float), LOG_DECIMALS)]
