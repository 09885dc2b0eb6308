"""Quotes of futures: any table of settlements is read, no row is lost in silence."""

from datetime import date

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.futures_contracts import FuturesQuote
from slidefit.records.futures_quotes import read_quotes

NOV4 = date(2026, 11, 4)
WANTED = (FuturesQuote("2027-01", 332.1, NOV4), FuturesQuote("2027-03", 331.4, NOV4))


@pytest.mark.parametrize(
    "text",
    [
        "date,contract_month,settlement_cwt\n2026-11-04,2027-01,332.1\n2026-11-04,2027-03,331.4\n",
        "Feeder cattle\n\nTrade Date;Contract;Settle ($/cwt)\n11/4/2026;F27;332.10\n11/4/2026;H27;331.40\n",
        "Date\tMonth\tSettlement (cents/lb)\nNov 4, 2026\tJAN27\t332.100\nNov 4, 2026\tMar 27\t331.400\n",
        "Date,Contract,Close ($/lb)\n2026-11-04,Jan 2027,3.321\n2026-11-04,Mar 2027,3.314\n",
        "Date,Contract,Close\n2026-11-04,Jan 2027,$3.321\n2026-11-04,Mar 2027,$3.314\n",
        "Date,Jan 2027,Mar 2027,Apr 2027\n2026-11-04,332.1,331.4,\n",
        "As of,Symbol,Last\n04.11.2026,GFF7,332.1\n13.11.2026,GFH7,331.4\n04.11.2026,GFH7,331.4\n",
        '[{"date": "2026-11-04", "contract": "F27", "settlement": 332.1},'
        ' {"date": "2026-11-04", "contract": "H27", "settlement": 331.4}]',
    ],
)
def test_any_table_of_settlements_is_read(tmp_path, text):
    path = tmp_path / "quotes.txt"
    path.write_text(text, encoding="utf-8")
    quotes = [q for q in read_quotes(path).quotes if q.as_of == NOV4]
    assert [(q.contract, q.as_of) for q in quotes] == [(q.contract, q.as_of) for q in WANTED]
    assert [q.settlement_cwt for q in quotes] == pytest.approx([332.1, 331.4])


def test_a_workbook_is_read(tmp_path):
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["Date", "Contract", "Settlement"])
    for quote in WANTED:
        book.active.append([quote.as_of, quote.contract, quote.settlement_cwt])
    book.save(tmp_path / "quotes.xlsx")
    assert read_quotes(tmp_path / "quotes.xlsx").quotes == WANTED


def test_the_day_can_be_given_for_all(tmp_path):
    path = tmp_path / "quotes.csv"
    path.write_text("Contract,Settlement\nJan,332.1\nMar,331.4\n")
    with pytest.raises(QuestionError, match="no column for the day"):
        read_quotes(path)
    assert read_quotes(path, as_of=NOV4).quotes == WANTED


def test_no_row_is_lost_in_silence(tmp_path):
    path = tmp_path / "quotes.csv"
    path.write_text(
        "Date,Contract,Settlement\n2026-11-04,F27,300\n2026-11-04,F27,332.1\n2026-11-04,H27,331.4\n"
        "2026-11-04,spot,331\nsoon,F27,331\n2026-11-04,J27,29.9\n2026-11-04,K27,1001\n2026-11-04,V26,330\n"
        "2026-11-04,F31,330\n,,\n"
    )
    found = read_quotes(path)
    assert found.quotes == WANTED and found.repeated == 1
    assert [(row.row, row.reason) for row in found.rejected] == [
        (5, "contract"),
        (6, "date"),
        (7, "price"),
        (8, "price"),
        (9, "expired"),
        (10, "expired"),
    ]


def test_files_without_quotes_and_of_fed_cattle_are_refused(tmp_path):
    path = tmp_path / "quotes.csv"
    path.write_text("Date,Contract,Settlement\n2026-11-04,spot,332.1\n")
    with pytest.raises(RecordsError, match=r"holds no futures quotes \(1 rows: not a contract month\)"):
        read_quotes(path)
    path.write_text("sex,weight\nsteer,500\n")
    with pytest.raises(RecordsError, match="holds no futures quotes"):
        read_quotes(path)
    path.write_text("Date,Dec 2026,Feb 2027,Apr 2027\n2026-11-04,210,212,214\n")
    with pytest.raises(QuestionError, match="fed"):
        read_quotes(path)
    path.write_text("Date,Jan 2027,Feb 2027,Apr 2027\n2026-11-04,310,312,314\n")
    assert len(read_quotes(path).quotes) == 3
