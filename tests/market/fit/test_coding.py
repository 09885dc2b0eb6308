"""A frame, a sale book and a folder of coded columns are one set of lots, and one fit."""

import numpy as np
import pytest

from slidefit.errors import BookError, FitError
from slidefit.market.fit import coding
from slidefit.market.fit import lots as lots_module
from slidefit.market.fit.coding import coded_lots
from slidefit.market.fit.counts import tallied_weights
from slidefit.market.fit.lots import SEXES, draw_sales, spool_lots
from slidefit.market.market_fit import fit_market
from slidefit.market.saved_fit import to_document
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.market.coded import lots_of, sorted_lots
from tests.market.simulate import simulate

COLUMNS = ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "price_cwt", "traits"]
PER_ROW = ("log_price", "weight_lb", "head", "sex", "grade", "trait", "sale")
SHARED = ("sale_market", "sale_day", "grades", "trait_names", "trait_table", "markets", "currency")


@pytest.fixture(scope="module")
def records():
    """Two barns, bulls, unknown heads, a trait, and rows that can carry no fit."""
    drawn = simulate(71, sales=90, lots=14, days_between=15).records
    drawn.loc[drawn.index % 3 == 0, "market"] = "Otter Creek"
    drawn.loc[drawn.index % 9 == 0, "sex"] = "bull"
    drawn.loc[drawn.index % 11 == 0, "head"] = np.nan
    drawn.loc[drawn.index % 5 == 0, "traits"] = "fleshy"
    drawn.loc[drawn.index % 40 == 0, "weight_lb"] = 1_200.0
    return drawn


@pytest.fixture(scope="module")
def book(records, tmp_path_factory):
    folder = tmp_path_factory.mktemp("book")
    source = folder / "sales.csv"
    records[COLUMNS].to_csv(source, index=False)
    made = SaleBook(folder / "sales.duckdb")
    made.add(read([str(source)]))
    return made


def same(a, b):
    for name in PER_ROW:
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)
    for name in SHARED:
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)


def whole(source):
    """All lots of a source, put together from its chunks."""
    return draw_sales(source, len(source), seed=0).lots


def test_what_lies_on_disk_is_what_stands_in_memory(records, monkeypatch):
    lots = lots_of(records)
    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 100)
    with coded_lots(records) as coded:
        folder = coded.lots.folder
        assert len(coded.lots) == len(lots) and coded.lots.sales == lots.sales == 180
        assert len(coded.lots.spans()) > 10 and max(len(p) for _, p in coded.lots.pieces()) <= 100
        same(whole(coded.lots), lots)
        for name in ("weight_rows", "weight_head", "grade_rows", "trait_rows", "head", "spare"):
            np.testing.assert_array_equal(getattr(coded.lots.tally, name), getattr(lots.tally, name))
        np.testing.assert_allclose(coded.lots.tally.weight_square, lots.tally.weight_square, rtol=1e-12)
        bytes_of = sum(file.stat().st_size for file in folder.iterdir())
        assert bytes_of == 31 * len(lots)
    assert not folder.exists()


def test_the_tally_counts_what_is_there(records):
    lots = lots_of(records)
    tally = lots.tally
    assert tally.rows == len(lots) and tally.sex_rows.tolist() == np.bincount(lots.sex).tolist()
    assert np.repeat(tallied_weights(), tally.weight_rows.sum(axis=0)).tolist() == sorted(lots.weight_lb)
    assert tally.head_rows[0] == np.isfinite(lots.head).sum()
    assert tally.head.sum() == np.nansum(lots.head)
    for sex in range(len(SEXES)):
        mine = lots.sex == sex
        sums = [
            ((w - w.mean()) ** 2).sum()
            for s in range(lots.sales)
            if len(w := lots.weight_lb[mine & (lots.sale == s)])
        ]
        assert tally.weight_square[sex] == pytest.approx(sum(sums))
        assert tally.spare[sex] == mine.sum() - len(sums)


def test_a_book_and_its_records_are_the_same_lots_and_the_same_fit(book, monkeypatch):
    frame = book.records()
    lots = sorted_lots(frame)
    with coded_lots(book.table()) as coded:
        same(coded.lots, lots)
    fitted = to_document(fit_market(frame))
    assert to_document(fit_market(book.table())) == fitted
    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)
    assert to_document(fit_market(book.table())) == fitted


def test_some_of_a_book(book):
    first, last = book.records()["sale_date"].agg(["min", "max"]).dt.date
    later = first.replace(year=first.year + 2)
    for asked in (
        {"market": ["otter"]},
        {"since": later},
        {"until": later},
        {"market": ["OTTER", "birch"]},
    ):
        with coded_lots(book.table(**asked)) as coded:
            same(coded.lots, sorted_lots(book.records(**asked)))
    with (
        pytest.raises(FitError, match="none of the 0 records"),
        coded_lots(book.table(since=last.replace(year=2100))),
    ):
        pass
    with (
        pytest.raises(
            BookError, match=r"no record is of a market named like O'Dell's.*Birch Landing; Otter Creek"
        ),
        coded_lots(book.table(market=["O'Dell's"])),
    ):
        pass


def test_a_fit_that_breaks_off_leaves_nothing_behind(records, monkeypatch, tmp_path):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)

    def stop(word):
        if "fitting the slide" in word:
            assert len(list(tmp_path.glob("slidefit-fit-*/log_price"))) == 1
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fit_market(records, progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_no_room_for_the_lots_is_said(records, tmp_path):
    lots = lots_of(records)
    with pytest.raises(FitError, match=r"can't be laid out for the fit.*31 bytes a lot.*TMPDIR"):
        spool_lots(tmp_path / "missing", [], lots.sale_rows, {})


def test_frames_of_odd_types_are_read(records):
    odd = records.astype({"market": "category", "sex": "category", "head": "object"})
    odd["muscle"] = odd["muscle"].astype(object).where(odd.index % 7 != 0, None)
    plain = records.assign(muscle=records["muscle"].where(records.index % 7 != 0, ""))
    same(lots_of(odd), lots_of(plain))


@pytest.mark.parametrize(
    ("told", "raised"), [("Query interrupted", KeyboardInterrupt), ("no idea", RuntimeError)]
)
def test_a_query_that_is_stopped_is_a_stop(records, monkeypatch, told, raised):
    def stopped(*_, **__):
        raise RuntimeError(told)

    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)
    monkeypatch.setattr(coding, "spool_lots", stopped)
    with pytest.raises(raised), coded_lots(records):
        pass


def test_laying_out_many_lots_tells_how_many(records, monkeypatch):
    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)
    monkeypatch.setattr(coding, "READ_ROWS", 300)
    monkeypatch.setattr("slidefit.market.fit.lots.TOLD_ROWS", 400)
    told = []
    with coded_lots(records, told.append) as coded:
        rows = len(coded.lots)
    assert told and all(word.endswith(f" of {rows:,}") for word in told)
