"""What was read and set aside, in memory and on the disk."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.records.result import (
    COLUMN_NAMES,
    Chunks,
    RejectedRows,
    SpillBuffer,
    no_aside,
    no_records,
    set_aside_tables,
    write_set_aside,
)
from tests.records.sale_files import LOTS, read_lots


def numbered(first: int, count: int) -> pd.DataFrame:
    rows = np.arange(first, first + count)
    day = pd.Timestamp("2023-10-03") + pd.to_timedelta(rows, unit="D")
    return pd.DataFrame({"sale_date": day, "source_row": rows})


def test_tables_beyond_the_limit_lie_on_the_disk_in_order_and_go_with_their_owner() -> None:
    chunks = Chunks(most_rows=5)
    chunks.put(numbered(0, 5))
    assert not chunks.on_disk
    chunks.put(numbered(5, 1))
    chunks.put(numbered(6, 2))
    (first, second) = chunks.on_disk
    assert [row for frame in chunks for row in frame["source_row"]] == list(range(8)) and chunks.rows == 8
    chunks.changed(lambda frame: frame[frame["source_row"] % 2 == 0])
    assert [row for frame in chunks for row in frame["source_row"]] == [0, 2, 4, 6] and chunks.rows == 4
    del chunks
    assert not first.exists() and not second.exists()


def test_a_buffer_knows_its_days_and_gives_rows_back() -> None:
    buffer = SpillBuffer()
    for frame in (numbered(4, 2), numbered(0, 0), numbered(1, 2)):
        buffer.put(frame)
    assert buffer.days == (pd.Timestamp("2023-10-04"), pd.Timestamp("2023-10-08"))
    buffer.drop(np.array([1, 5]))
    assert [row for frame in buffer for row in frame["source_row"]] == [4, 2] and buffer.rows == 2


def test_rows_set_aside_of_files_with_other_columns_are_one_table(tmp_path) -> None:
    one, two = RejectedRows("a.csv"), RejectedRows("b.csv")
    one.put(
        pd.DataFrame({"Sex": ["Cows", ""]}),
        {"title": "Fen"},
        ["not_feeder", "missing_price"],
        np.array([4, 5]),
    )
    two.put(pd.DataFrame({"Class": ["Pairs"]}), {}, ["not_feeder"], np.array([9]))
    table = pd.concat(list(set_aside_tables([one, two])))
    assert list(table.columns) == ["Sex", "title", "Class", "reason", "source_file", "source_row"]
    assert table["source_row"].tolist() == [4, 5, 9] and table["source_file"].tolist() == [
        "a.csv",
        "a.csv",
        "b.csv",
    ]
    assert next(one.told())["text"].tolist() == ["Cows", ""]  # titles are no cells of the row
    assert write_set_aside([one, two], tmp_path / "aside.csv") == 3
    assert (tmp_path / "aside.csv").read_text().count("source_row") == 1


def test_every_row_is_in_the_account_and_an_empty_result_has_its_columns(tmp_path) -> None:
    result = read_lots(
        tmp_path / "a.csv", [*LOTS, LOTS[0].replace("Steers", "Cows"), LOTS[1].replace("604", "")]
    )
    assert result.rows_seen == result.accepted + result.set_aside_rows == 9
    assert result.reasons == {"missing_weight": 1, "not_feeder": 1}
    assert result.first_aside(1)["row"].tolist() == [9] and len(result.first_rows(3)) == 3
    assert list(no_records().columns) == list(result.records.columns) == list(COLUMN_NAMES)
    assert no_records().dtypes.equals(result.records.dtypes) and no_aside().dtypes.equals(
        result.set_aside.dtypes
    )
