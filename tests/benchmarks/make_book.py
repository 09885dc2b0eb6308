"""Make a large sale book of invented barns, straight into a book's own tables.

    python tests/benchmarks/make_book.py LOTS BOOK.duckdb

Forty barns, 50 lots a sale, sales spread evenly over twenty years; prices have a level that climbs and cycles, a
season, a slide with a season of its own that steepens with the level, grades, sexes and lots of one head to a hundred.
The same LOTS gives the same book. Not part of the tests.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from slidefit.records.book.book_file import new_book
from slidefit.records.book.book_schema import LABEL_COLUMNS, LOT_COLUMNS

LOTS_PER_SALE = 50
BARNS = 40
DAYS = 7_300
ROWS_AT_ONCE = 5_000_000

_ROWS = """
WITH lot AS (
    SELECT i, i // {per_sale} AS sale, even(i * 16 + 1) AS u1, even(i * 16 + 2) AS u2, even(i * 16 + 3) AS u3,
        even(i * 16 + 4) AS u4, even(i * 16 + 5) AS u5, even(i // {per_sale} * 16 + 6) AS s1
    FROM range({first}, {end}) AS r(i)
), calf AS (
    SELECT *, DATE '2004-01-05' + CAST(sale // {barns} * {step} AS INTEGER) AS day, sale % {barns} AS barn,
        round(330 + 520 * u1) AS weight, CASE WHEN u2 < .52 THEN 'steer' ELSE 'heifer' END AS sex,
        greatest(1, round(exp(1.9 + 0.9 * sqrt(-2 * ln(u3 + 1e-12)) * cos(2 * pi() * u4)))) AS head,
        sqrt(-2 * ln(u5 + 1e-12)) * sin(2 * pi() * u4) AS noise,
        CASE WHEN hash(i * 16 + 7) % 10 < 7 THEN '1' WHEN hash(i * 16 + 7) % 10 < 9 THEN '1-2' ELSE '2' END AS muscle
    FROM lot
), priced AS (
    SELECT *, (weight - 550) / 100 AS x, dayofyear(day) / 365.25 AS turn,
        .05 * (day - DATE '2004-01-05') / 365.25 + .15 * sin((day - DATE '2004-01-05') / 900.0) AS level FROM calf
)
SELECT day AS sale_date, 'day' AS date_precision, 'Barn ' || lpad(CAST(barn AS VARCHAR), 2, '0') AS market, sex,
    'ML' AS frame, muscle, CAST(head AS DOUBLE) AS head, weight AS weight_lb, CAST(NULL AS DOUBLE) AS weight_low_lb,
    CAST(NULL AS DOUBLE) AS weight_high_lb,
    round(exp(ln(140.0) + level + .05 * cos(2 * pi() * (turn - .25)) + .02 * (s1 - .5)
        + CASE WHEN sex = 'steer' THEN 0 ELSE -.09 END
        + (CASE WHEN sex = 'steer' THEN -.11 ELSE -.085 END + .015 * cos(2 * pi() * (turn - .1)) - .03 * level) * x
        + .007 * x * x + CASE muscle WHEN '1' THEN 0 WHEN '1-2' THEN -.03 ELSE -.09 END + .02 * ln(head / 15)
        + noise * sqrt(.0016 + .0144 / head)), 2) AS price_cwt,
    CAST(NULL AS DOUBLE) AS price_low_cwt, CAST(NULL AS DOUBLE) AS price_high_cwt,
    CASE WHEN hash(i * 16 + 8) % 20 = 0 THEN 'fleshy' ELSE '' END AS traits, 'USD' AS currency, '' AS flags,
    'made' AS batch, i + 1 AS source_row
FROM priced
"""


def make_book(path: Path, lots: int, barns: int = BARNS) -> None:
    """Write a book of that many lots; a file that stands there is replaced."""
    path.unlink(missing_ok=True)
    rounds = max(-(-lots // (LOTS_PER_SALE * barns)), 1)
    with new_book(path) as connection:
        connection.execute("CREATE TEMP MACRO even(k) AS hash(k) / 18446744073709551616.0")
        for first in range(0, lots, ROWS_AT_ONCE):
            rows = _ROWS.format(
                first=first,
                end=min(first + ROWS_AT_ONCE, lots),
                per_sale=LOTS_PER_SALE,
                barns=barns,
                step=DAYS / rounds,
            )
            labels, lots_of = ", ".join(LABEL_COLUMNS), ", ".join(LOT_COLUMNS)
            connection.execute(f"CREATE OR REPLACE TEMP TABLE made AS {rows}")
            connection.execute(
                f"INSERT INTO labels SELECT (SELECT count(*) FROM labels) + row_number() OVER (), {labels}, market, 0 "
                f"FROM (SELECT DISTINCT {labels} FROM made ANTI JOIN labels USING ({labels}))"
            )
            connection.execute(
                f"INSERT INTO lots SELECT label, {lots_of} FROM made JOIN labels USING ({labels})"
            )
        connection.execute(
            "INSERT INTO batches VALUES (1, 'made', TIMESTAMP '2026-01-01', 'made', 'made', ?, 0, 0, 0, '', '')",
            [lots],
        )


if __name__ == "__main__":
    begun = time.perf_counter()
    make_book(Path(sys.argv[2]), int(sys.argv[1]))
    print(f"{int(sys.argv[1]):,} lots in {time.perf_counter() - begun:.0f} s")
