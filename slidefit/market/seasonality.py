"""The season index that a person reads: twelve months around a year's mean of 100."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.market.outlook import MONTHS
from slidefit.market.season import Season

NORMAL_975 = 1.959964


def season_table(season: Season) -> pd.DataFrame:
    """Return the season index of the standard calf by calendar month, with a 95 percent interval.

        index_m = 100 exp(s_m) / mean over months of exp(s)

    so that the twelve indices average exactly 100.

    Returns
    -------
    DataFrame
        ``month`` (1 to 12), ``index``, ``low``, ``high`` (year mean = 100).
    """
    ratio = np.exp(season.log)
    index = 100.0 * ratio / ratio.mean()
    reach = NORMAL_975 * np.sqrt(np.maximum(np.diag(season.cov), 0.0))
    return pd.DataFrame(
        {
            "month": np.arange(1, MONTHS + 1),
            "index": index,
            "low": index * np.exp(-reach),
            "high": index * np.exp(reach),
        }
    )
