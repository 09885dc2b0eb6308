"""Which rows that can be read are kept: prices beside their neighbours, sums of other rows, what is told twice."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.records.plausible import judge_prices
from slidefit.records.reasons import REASON_CODES
from slidefit.records.repeats import repeated, row_keys, superseded
from slidefit.records.sums import totals_of_earlier


def set_sums_aside(frame: pd.DataFrame, reason: np.ndarray, table: np.ndarray) -> None:
    """Find the rows still kept that sum up earlier tables of the file; reasons are written in place.

    Parameters
    ----------
    reason : array of int8, shape (n,)
        Codes of ``reasons.REASON_CODES``, zero for rows still kept.
    table : array of int, shape (n,)
        The number of the table that each row comes from.
    """
    kept = np.flatnonzero(reason == 0)
    part = frame.iloc[kept]
    group = pd.factorize(row_keys(part, ["sale_date", "market", "sex"]))[0]
    numbers = [part[name].to_numpy(dtype=float) for name in ("head", "weight_lb", "price_cwt")]
    sums = totals_of_earlier(numbers[0], numbers[1], numbers[2], group, table[kept])
    reason[kept[sums]] = REASON_CODES["summary_row"]


def set_misprints_aside(frame: pd.DataFrame, reason: np.ndarray, *, unit_said: bool) -> None:
    """Find implausible prices among the rows still kept; reasons and flags are written in place."""
    kept = np.flatnonzero(reason == 0)
    if not len(kept):
        return
    verdict = judge_prices(frame if len(kept) == len(frame) else frame.iloc[kept], unit_said=unit_said)
    reason[kept[verdict.implausible]] = REASON_CODES["implausible_price"]
    reason[kept[verdict.unit_doubtful]] = REASON_CODES["unit_doubtful"]
    far = kept[verdict.far]
    if len(far):
        flags = frame["flags"].astype("str").to_numpy(dtype=object)
        flags[far] = [";".join(sorted({*filter(None, text.split(";")), "price_far"})) for text in flags[far]]
        frame["flags"] = pd.Categorical(flags)


def set_repeats_aside(frame: pd.DataFrame, reason: np.ndarray) -> None:
    """Find preliminary rows with their final ones, and repeats, among the rows still kept; reasons in place."""
    for name, test in (("superseded", superseded), ("duplicate", repeated)):
        kept = np.flatnonzero(reason == 0)
        if len(kept):
            reason[kept[test(frame.iloc[kept])]] = REASON_CODES[name]
