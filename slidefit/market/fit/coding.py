"""Tidy records to lots; RecordTable, FrameTable."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Collection, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast

import numpy as np
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.facts import Setting, Text, listed
from slidefit.market.fit.constants import LENT_SEX_ROWS, SEX_ROWS, SPLINE_ROWS
from slidefit.market.fit.counts import FIT_HIGH_LB, FIT_LOW_LB, ClassCounts, class_tally
from slidefit.market.fit.lots import SEXES, Lots, LotSource, spool_lots
from slidefit.market.outlook import grade_key

if TYPE_CHECKING:
    import duckdb
    import pandas as pd


NUMBERS = ("head", "weight_lb", "weight_low_lb", "weight_high_lb", "price_cwt")
WORDS = ("date_precision", "market", "sex", "frame", "muscle", "traits", "currency", "flags")
MEMORY_LIMIT = "1500MB"


class RecordTable(Protocol):
    """A table of tidy records."""

    @property
    def order(self) -> str:
        """SQL that puts the rows of one sale in order, the same every time."""
        ...

    def opened(self) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        """Give a connection that holds the records as ``tidy``, under their usual column names."""
        ...


@dataclass(frozen=True)
class FrameTable:
    """A frame of tidy records as a table; rows of one sale stay in the frame's order."""

    frame: pd.DataFrame
    order: str = "place"

    @contextmanager
    def opened(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Give a connection to an empty database with the frame laid beside it as ``tidy``."""
        import duckdb

        with tempfile.TemporaryDirectory(prefix="slidefit-fit-") as folder:
            connection = duckdb.connect(
                ":memory:", config={"memory_limit": MEMORY_LIMIT, "temp_directory": folder}
            )
            try:
                connection.register("tidy", _arrow_table(self.frame))
                yield connection
            finally:
                connection.close()


def table_of(records: pd.DataFrame | RecordTable) -> RecordTable:
    """Return records as a table; a table stays as it is."""
    if hasattr(records, "opened"):
        return cast("RecordTable", records)
    return FrameTable(cast("pd.DataFrame", records))


def _arrow_table(frame: pd.DataFrame) -> Any:
    """Return the columns of tidy records that a fit needs, and ``place``, as an Arrow table; missing ones are empty."""
    import pandas as pd
    import pyarrow as pa

    nothing = pd.Series(np.nan, index=frame.index)
    columns = {
        name: pa.array(
            frame.get(name, nothing).to_numpy(dtype=float, na_value=np.nan), pa.float64(), from_pandas=True
        )
        for name in NUMBERS
    }
    for name in WORDS:
        told = frame.get(name, nothing)
        columns[name] = pa.array(told.astype(object).where(told.notna(), None).astype(object), pa.string())
    days = pd.to_datetime(frame["sale_date"]).to_numpy().astype("datetime64[D]")
    columns["sale_date"] = pa.array(days, pa.date32(), from_pandas=True)
    columns["place"] = pa.array(np.arange(len(frame)))
    return pa.table(columns)


IntArray = NDArray[np.int64]

IN_MEMORY_ROWS = 500_000
READ_ROWS = 100_000
_MONTH_ONLY_SHIFT_DAYS = 14
_STOPPED = "Query interrupted"
"""What DuckDB says where Ctrl-C stops it in the middle of a query."""
_SEX_LIST = ", ".join(f"'{sex}'" for sex in SEXES)
_USABLE = (
    f"sex IN ({_SEX_LIST}) AND weight_lb BETWEEN {FIT_LOW_LB} AND {FIT_HIGH_LB} AND price_cwt > 0 "
    "AND isfinite(price_cwt) AND sale_date IS NOT NULL"
)
_DAY = (
    "CAST(sale_date - DATE '1970-01-01' AS BIGINT) + "
    f"CASE WHEN date_precision = 'month' THEN {_MONTH_ONLY_SHIFT_DAYS} ELSE 0 END"
)
_COLUMNS = """
    CAST(price_cwt AS DOUBLE) AS price_cwt, CAST(weight_lb AS DOUBLE) AS weight_lb, CAST(head AS DOUBLE) AS head,
    CAST(list_position([{sexes}], sex) - 1 AS TINYINT) AS sex, grade_codes.code AS grade, trait_codes.code AS trait
"""


@dataclass(frozen=True)
class CodedLots:
    """What a table of records came to.

    Attributes
    ----------
    lots : LotSource. Of the sexes with rows enough for a curve of their own.
    notes : tuple of str. Sexes left out, in words.
    classes : ClassCounts. Of all records, those left out too.
    """

    lots: LotSource
    notes: tuple[str, ...]
    classes: ClassCounts


@contextmanager
def coded_lots(
    records: pd.DataFrame | RecordTable,
    progress: Callable[[str], None] | None = None,
    lent: Collection[str] = (),
) -> Iterator[CodedLots]:
    """Read a table of records as lots; those on disk are gone when the context ends.

    Lots are steers, heifers and bulls of 300 to 900 lb with a price and a date. A record known by its month only is
    placed in the middle of that month. Up to 500,000 lots stay in memory; more lie in a temporary folder, 31 bytes
    each.

    Parameters
    ----------
    lent : collection of str. Sexes whose curve a region lends, so that few lots of them do.

    Raises
    ------
    FitError
        No usable record, mixed currencies, no sale with two lots to compare, or no room for the temporary folder.
    """
    table = table_of(records)
    with tempfile.TemporaryDirectory(prefix="slidefit-fit-") as folder:
        with table.opened() as connection:
            coded = _read(connection, table.order, Path(folder), progress or (lambda _: None), lent)
        yield coded


def _read(
    connection: duckdb.DuckDBPyConnection,
    order: str,
    folder: Path,
    tell: Callable[[str], None],
    lent: Collection[str],
) -> CodedLots:
    rows = _usable_rows(connection)
    sexes, notes = _sexes_with_curves(rows, lent)
    classes = class_tally(connection)
    lots: LotSource
    if sum(rows[sex] for sex in sexes) <= IN_MEMORY_ROWS:
        lots = _in_memory(connection, sexes, order)
    else:
        count, names = _names(connection, sexes)
        try:
            batches = connection.sql(_query(order)).to_arrow_reader(READ_ROWS)
            lots = spool_lots(folder, batches, count, names, progress=tell)
        except RuntimeError as fault:
            if str(fault) == _STOPPED:
                raise KeyboardInterrupt from fault
            raise
    if lots.sale_rows.max() < 2:
        raise FitError(
            f"no two of the {len(lots):,} lots were sold at the same market on the same day",
            remedy="The slide is read within sales: add whole sales, or name the market if it was lost.",
        )
    return CodedLots(lots, notes, classes)


def _usable_rows(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Return the usable records of each sex."""
    found = connection.execute(
        f"SELECT sex, coalesce(currency, ''), count(*) FROM tidy WHERE {_USABLE} GROUP BY ALL"
    ).fetchall()
    if not found:
        ((every,),) = connection.execute("SELECT count(*) FROM tidy").fetchall()
        raise FitError(
            f"none of the {every:,} records is a steer, heifer or bull of "
            f"{FIT_LOW_LB:.0f} to {FIT_HIGH_LB:.0f} lb with a date and a price",
            remedy=Text(
                "Add sale records of feeder calves, or widen ",
                listed([Setting("market"), Setting("since"), Setting("until")]),
                ".",
            ),
        )
    by_currency: dict[str, int] = {}
    by_sex = dict.fromkeys(SEXES, 0)
    for sex, currency, count in found:
        by_sex[sex] += count
        by_currency[currency or "USD"] = by_currency.get(currency or "USD", 0) + count
    if len(by_currency) > 1:
        told = ", ".join(f"{by_currency[c]:,} in {c}" for c in sorted(by_currency))
        raise FitError(
            f"the records are in different currencies ({told})",
            remedy=Text(
                "Fit one currency at a time: narrow with ",
                Setting("market"),
                ", or undo the batch that does not belong.",
            ),
        )
    return by_sex


def _sexes_with_curves(
    rows: dict[str, int], lent: Collection[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the sexes with rows enough for a curve, or the commonest, and a note on those left out.

    Few lots do for a sex whose curve is lent, where the records are few altogether.
    """
    lent = lent if sum(rows.values()) < SPLINE_ROWS else ()
    need = {sex: LENT_SEX_ROWS if sex in lent else SEX_ROWS for sex in SEXES}
    enough = tuple(sex for sex in SEXES if rows[sex] >= need[sex]) or (max(SEXES, key=lambda s: rows[s]),)
    thin = [f"{rows[sex]} lots of {sex}s" for sex in SEXES if rows[sex] and sex not in enough]
    note = f"too few for a curve of their own (it takes {SEX_ROWS} lots), left out: {', '.join(thin)}"
    return enough, (note,) if thin else ()


def _in_memory(connection: duckdb.DuckDBPyConnection, sexes: tuple[str, ...], order: str) -> Lots:
    count, names = _names(connection, sexes)
    found = connection.execute(_query(order)).fetchnumpy()
    columns = {name: np.ma.filled(values, np.nan) for name, values in found.items()}
    return Lots(
        **names,
        log_price=np.log(columns["price_cwt"]),
        weight_lb=columns["weight_lb"],
        head=columns["head"],
        sex=columns["sex"].astype(np.int64),
        grade=columns["grade"].astype(np.int64),
        trait=columns["trait"].astype(np.int64),
        sale=np.repeat(np.arange(len(count)), count),
    )


def _make_codes(connection: duckdb.DuckDBPyConnection, sexes: tuple[str, ...]) -> None:
    """Narrow the records to usable lots of some sexes, and number the grades and traits that they name."""
    kept = ", ".join(f"'{sex}'" for sex in sexes)
    connection.execute(
        f"CREATE TEMP VIEW usable AS SELECT *, {_DAY} AS day, coalesce(market, '') AS place_of_sale, "
        "coalesce(frame, '') || '|' || coalesce(muscle, '') AS grade_text, coalesce(traits, '') AS trait_text "
        f"FROM tidy WHERE {_USABLE} AND sex IN ({kept})"
    )
    for what, kind in (("grade", "SMALLINT"), ("trait", "INTEGER")):
        connection.execute(
            f"CREATE TEMP TABLE {what}_codes AS SELECT {what}_text, "
            f"CAST(row_number() OVER (ORDER BY {what}_text) - 1 AS {kind}) AS code "
            f"FROM (SELECT DISTINCT {what}_text FROM usable)"
        )


def _names(connection: duckdb.DuckDBPyConnection, sexes: tuple[str, ...]) -> tuple[IntArray, dict[str, Any]]:
    """Return the lots in each sale, and the fields of a source of lots: its sales, and what its codes stand for."""
    _make_codes(connection, sexes)
    sales = connection.execute(
        "SELECT day, place_of_sale, count(*) AS lots FROM usable GROUP BY ALL ORDER BY day, place_of_sale"
    ).fetchnumpy()
    markets, market = np.unique(np.asarray(sales["place_of_sale"], dtype=str), return_inverse=True)
    pairs, texts = (
        [
            str(row[0])
            for row in connection.execute(f"SELECT {w}_text FROM {w}_codes ORDER BY code").fetchall()
        ]
        for w in ("grade", "trait")
    )
    ((currency,),) = connection.execute("SELECT coalesce(any_value(currency), '') FROM usable").fetchall()
    sets = [set(filter(None, (word.strip() for word in text.split(";")))) for text in texts]
    traits = tuple(sorted(set().union(*sets)))
    return np.asarray(sales["lots"]).astype(np.int64), {
        "sale_market": market.reshape(-1).astype(np.int64),
        "sale_day": np.asarray(sales["day"]).astype(np.int64),
        "grades": tuple(grade_key(*pair.split("|")) for pair in pairs),
        "trait_names": traits,
        "trait_table": np.array([t in found for found in sets for t in traits], dtype=bool).reshape(
            len(sets), len(traits)
        ),
        "markets": tuple(str(m) for m in markets),
        "currency": currency or "USD",
    }


def _query(order: str) -> str:
    return (
        f"SELECT {_COLUMNS.format(sexes=_SEX_LIST)} FROM usable JOIN grade_codes USING (grade_text) "
        f"JOIN trait_codes USING (trait_text) ORDER BY day, place_of_sale, {order}"
    )
