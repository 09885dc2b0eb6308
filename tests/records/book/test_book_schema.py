"""A file that holds what is not a sale book's own is refused, and runs nothing."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from slidefit.errors import BookError
from tests.records.sale_files import book_of_lots, read_lots

FOREIGN = {
    "a changed view": ("CREATE VIEW sales AS SELECT * FROM read_text('{secret}')", "view sales"),
    "a table more": ("CREATE TABLE more AS SELECT 1 AS a", "table more"),
    "a table less": ("DROP TABLE unused", "table unused"),
    "a table as a view": (
        "ALTER TABLE lots RENAME TO kept; CREATE VIEW lots AS SELECT * FROM kept, read_text('{secret}')",
        "view lots",
    ),
    "a column more": ("ALTER TABLE batches ADD COLUMN odd INTEGER", "table batches"),
    "a default": ("ALTER TABLE batches ALTER COLUMN files SET DEFAULT 'x'", "table batches"),
    "a sequence": ("CREATE SEQUENCE counting", "sequence counting"),
    "a type": ("CREATE TYPE mood AS ENUM ('good')", "type mood"),
    "a schema": ("CREATE SCHEMA other", "schema other"),
    "an index": ("CREATE INDEX quick ON labels (label)", "index quick"),
}


@pytest.mark.parametrize("change", FOREIGN)
def test_a_book_that_holds_what_is_not_its_own_is_refused(tmp_path: Path, change: str) -> None:
    book = book_of_lots(tmp_path / "sales.duckdb")
    (tmp_path / "secret.txt").write_text("secret")
    statement, named = FOREIGN[change]
    with duckdb.connect(str(book.path)) as connection:
        for each in statement.format(secret=tmp_path / "secret.txt").split(";"):
            connection.execute(each).fetchall()
    before = book.path.read_bytes()
    with pytest.raises(BookError, match=f"did not put there.*{named}"):
        book.records()
    with pytest.raises(BookError, match=f"did not put there.*{named}"):
        book.add(read_lots(tmp_path / "b.csv"))
    assert book.path.read_bytes() == before
