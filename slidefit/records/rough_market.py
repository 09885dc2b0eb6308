"""What a rough market pays, only to put unlike calves of one sale side by side."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.records.columns import FloatArray

# log points for each hundredweight, and beside steers (common practice, no source; only rough comparisons rest on it)
ROUGH_SLIDE_CWT = -0.10
ROUGH_SEX = {"steer": 0.0, "mixed": -0.04, "heifer": -0.08, "bull": -0.10}
ROUGH_WEIGHTS_CWT = (2.0, 10.0)
# calves of small frame or thin muscle bring a fraction of what good ones do
LOW_FRAMES = ("S", "MS")
LOW_MUSCLES = ("2-3", "3", "3-4", "4")


def leveled(weight_lb: FloatArray, sex: pd.Series) -> FloatArray:
    """Return what a rough market pays for weight and sex, in log points (zero for a 550-lb steer)."""
    coded = sex.astype("category").cat
    offsets = np.array([ROUGH_SEX.get(str(name), 0.0) for name in coded.categories])
    by_weight = ROUGH_SLIDE_CWT * (np.clip(weight_lb / 100.0, *ROUGH_WEIGHTS_CWT) - 5.5)
    return np.asarray(by_weight + offsets[coded.codes], dtype=np.float64)
