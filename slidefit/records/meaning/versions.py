"""The same lots under another word of a column that nobody understands, or in another section: asked about."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.meaning.missing_columns import means
from slidefit.records.meaning.rejections import FEWEST_OF_ONE_LOT, FEWEST_ROWS_OF_A_SALE, row_keys
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

    In the one table of a file a section that tells the lots of another one again is refused.

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
                    means(heading.text, "status"),
                    " with ",
                    Setting("values", f"status:{words[0]}=no sale"),
                    " for the rows to leave out, or ",
                    means(heading.text, "unused"),
                    " to keep all.",
                ),
            )
    _check_sections(table.name, kept)


_CHANCE_SHARE = 0.2  # of rows outside a section told again that equal another: of more, all may be chance


def sections_again(keys: np.ndarray) -> np.ndarray:
    """Return the rows of a section all of which stand above it, in whatever order, as a second list by weight does.

    Where rows elsewhere stand twice as well, that is the custom of the file, and none is returned.

    >>> page = [1, 2, 3, 4, 5]
    >>> sections_again(np.array([*page, *page[::-1], 9, 9])), sections_again(np.array([7] * 12))
    (array([5, 6, 7, 8, 9]), array([], dtype=int64))
    """
    codes = pd.factorize(keys)[0]
    first = np.unique(codes, return_index=True)[1][codes]
    twin = first < np.arange(len(codes))
    starts = np.flatnonzero(np.r_[True, twin[1:] != twin[:-1]])
    run = np.cumsum(np.r_[0, twin[1:] != twin[:-1]])
    distinct = pd.Series(codes).groupby(run).nunique().to_numpy()
    above = np.maximum.reduceat(first, starts) < starts
    again = twin & (above & (distinct >= FEWEST_ROWS_OF_A_SALE))[run]
    chance = (twin & ~again).sum() <= _CHANCE_SHARE * (~again).sum()
    return np.flatnonzero(again & chance)


def _check_sections(name: str, kept: pd.DataFrame) -> None:
    """Refuse a file one section of which tells the lots of another one again, at other prices or grades.

    Raises
    ------
    RecordsError
        The remedy is to take one of them out.
    """
    told = kept[kept["head"].notna()]
    keys = row_keys(told, ["sale_date", "market", "sex", "head", "weight_lb"])
    rows = told["source_row"].to_numpy()
    if len(told) and len(again := sections_again(keys)):
        first = int(np.flatnonzero(keys == keys[again[0]])[0])
        raise RecordsError(
            f"{len(again)} lots are told in two sections, with other prices or grades, as in rows {rows[first]} and"
            f" {rows[again[0]]}",
            where=name,
            remedy="Take out the section that doesn't count.",
        )
