"""A column of a few words that nobody understands, under each of which the same lots stand again: asked about."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from slidefit.errors import QuestionError
from slidefit.facts import Setting, Text
from slidefit.records.meaning.rejections import FEWEST_OF_ONE_LOT, row_keys
from slidefit.records.reading.tables import Table


def _lots_again(frame: pd.DataFrame, values: np.ndarray) -> tuple[int, int] | None:
    """Return two rows that tell one lot under two of a few values of a column, where two lots or more are told so."""
    keys = row_keys(frame, ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb"])
    told = pd.DataFrame({"key": keys, "value": values, "row": frame["source_row"].to_numpy()})
    told = told[frame["head"].to_numpy(dtype=float) >= FEWEST_OF_ONE_LOT].drop_duplicates(["key", "value"])
    again = told[told.duplicated("key", keep=False)]
    if again["key"].nunique() < FEWEST_AGAIN:
        return None
    first, second = again[again["key"] == again["key"].iloc[0]]["row"].head(2)
    return int(first), int(second)


FEWEST_AGAIN = 2  # one lot may equal another by chance


_MOST_VERSIONS = 6
_MOST_COMPARED = 200_000


def check_versions(tables: Sequence[Table], kept: pd.DataFrame) -> None:
    """Ask about a column of few words that is not understood where lots stand again under another of its words.

    Raises
    ------
    QuestionError
        The remedy says how to leave the rows of one of its words out.
    """
    if len(tables) != 1 or len(kept) > _MOST_COMPARED:
        return
    (table,) = tables
    for heading, column in zip(table.headings, table.columns, strict=True):
        if not heading.unexplained or not 2 <= len(column.values) <= _MOST_VERSIONS:
            continue
        texts = column.texts()[np.isin(table.rows, kept["source_row"].to_numpy())]
        if len(texts) == len(kept) and (rows := _lots_again(kept, texts)):
            words = [text for text in column.distinct() if text]
            raise QuestionError(
                f"lots stand again under another {heading.text!r} ({', '.join(words)}), as in rows {rows[0]} and"
                f" {rows[1]}: only one of them may be the sale",
                where=table.name,
                remedy=Text(
                    "Say what it tells: ",
                    Setting("mapping", f"{heading.text}=status"),
                    " with ",
                    Setting("values", f"status:{words[0]}=no sale"),
                    " for the rows to leave out, or ",
                    Setting("mapping", f"{heading.text}=unused"),
                    " to keep all.",
                ),
            )
