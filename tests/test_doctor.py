"""A folder looked over: silent where all is well, and each thing that is off named with what to do."""

from __future__ import annotations

import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest

from slidefit.cli.main import slidefit
from slidefit.cli.speaking import TerminalDoor, run_safely
from slidefit.doctor import LEVELS, Checkup, look_over, odd_gaps
from slidefit.errors import SlidefitError
from slidefit.facts import spoken_by
from slidefit.market.market_fit import fit_market
from slidefit.market.saved_fit import save_fit
from slidefit.records.book.book_file import opened
from slidefit.records.futures_quotes import read_quotes
from slidefit.records.reading.source_card import SourceCard
from slidefit.records.sale_book import MarketInfo, SaleBook
from slidefit.records.source_book import keep_cards
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.hand_edits import write_fitted
from slidefit.regions.region_folder import batches_sha256, keep_former
from slidefit.report.doctor_content import doctor_content
from tests.records.sale_files import read_lots

TODAY, LAST = date(2026, 10, 20), date(2026, 10, 12)
PLAN = (Path(__file__).parent.parent / "data_demo" / "plan.toml").read_text(encoding="utf-8")


def sales(count: int, market: str, *, last: date = LAST, factor: float = 1.0) -> list[str]:
    """A sale every four weeks, eight lots each, the price falling with weight."""
    return [
        f"{day:%m/%d/%Y},{market},{sex},ML 1,{5 + (7 * sale + 11 * lot) % 23},{weight},"
        f"{factor * (330 - 0.2 * weight - (12 if sex == 'Heifers' else 0) + 37 * (sale + lot) % 11):.2f}"
        for sale in range(count)
        for day in [last - timedelta(days=28 * sale)]
        for lot, weight in enumerate((430, 480, 530, 580, 630, 680, 530, 580))
        for sex in ["Heifers" if lot > 5 else "Steers"]
    ]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of three years with a card, its fit, its region, a plan, and other people's files."""
    folder = tmp_path_factory.mktemp("sound")
    book = SaleBook(folder / "sales.duckdb")
    book.add(read_lots(folder / "fen.csv", sales(40, "Fen Gate")))
    keep_cards(book.path, [SourceCard(name="fen", headings=("Head",))])
    records = book.records()
    fitted = fit_market(records)
    save_fit(fitted, folder / "slide.json")
    write_fitted(region_of(fitted, "Fen", Provenance(LAST, batches_sha256(records))), folder / "fen.toml")
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    (folder / "other.json").write_text("{}")
    return folder


@pytest.fixture
def folder(sound: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(sound, tmp_path / "folder"))


def found(folder: Path, today: date = TODAY) -> dict[str, str]:
    """What is found, the terminal's words by code; the folder is as it was."""
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    checkup = look_over(folder, today)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    with spoken_by(TerminalDoor()):
        told = {f.code: f"{f.level} {Path(f.file).name}: {f.what} | {f.remedy}" for f in checkup.findings}
        assert all(finding.remedy for finding in checkup.findings)
        doctor_content(checkup)
    return told


def test_all_is_well(folder: Path) -> None:
    assert found(folder) == {}
    kinds = [kind for _, kind in look_over(folder, TODAY).files]
    assert sorted(kinds) == ["fit", "plan", "region", "sale book", "source card"]


def test_records_newer_than_fit_and_region(folder: Path) -> None:
    book = SaleBook(folder / "sales.duckdb")
    batch = book.add(read_lots(folder / "new.csv", sales(1, "Fen Gate", last=LAST + timedelta(days=7)))).batch
    told = found(folder)
    assert set(told) == {"behind"} and "8 records" in told["behind"]
    findings = look_over(folder, TODAY).findings
    assert {Path(f.file).name for f in findings} == {"slide.json", "fen.toml"}
    book.undo(batch)
    assert found(folder) == {}


def test_a_fit_and_a_region_whose_records_changed_under_them(folder: Path) -> None:
    lots = [lot for lot in sales(40, "Fen Gate") if "/2026" in lot]
    again = [lot.replace(",530,", ",531,") for lot in lots]
    SaleBook(folder / "sales.duckdb").add(read_lots(folder / "new.csv", again))
    told = {Path(f.file).name: f for f in look_over(folder, TODAY).findings if f.code == "drift"}
    assert set(told) == {"slide.json", "fen.toml"}
    assert "320 lots" in str(told["slide.json"].what) and told["slide.json"].level == "fix"


def test_a_fit_without_its_book(folder: Path) -> None:
    (folder / "sales.duckdb").unlink()
    assert set(found(folder)) == {"no_book"}


def test_old_records_and_quotes(folder: Path) -> None:
    quotes = folder / "futures.csv"
    quotes.write_text("day,contract,settlement\n2026-10-09,2027-01,300\n2026-10-09,2027-03,301\n")
    SaleBook(folder / "sales.duckdb").add_quotes(read_quotes(quotes))
    assert found(folder, date(2026, 12, 8)) == {}  # 60 days for quotes, 57 for prices
    told = found(folder, date(2026, 12, 12))
    assert set(told) == {"futures", "old"} and "slidefit futures add" in told["futures"]
    old = [f for f in look_over(folder, date(2026, 12, 12)).findings if f.code == "old"]
    assert [Path(f.file).name for f in old] == ["fen.toml", "sales.duckdb"] and "61 days" in str(old[1].what)


def test_barns_under_two_names(folder: Path) -> None:
    book = SaleBook(folder / "sales.duckdb")
    book.add(read_lots(folder / "on.csv", sales(1, "Fen Gate Livestock Auction", last=date(2026, 10, 19))))
    book.add(read_lots(folder / "moor.csv", sales(1, "Stone Moor", last=date(2026, 10, 19), factor=1.1)))
    told = found(folder)
    assert set(told) == {"two_names"} and "Fen Gate Livestock Auction" in told["two_names"]
    assert "slidefit book rename-market" in told["two_names"]
    book.add(read_lots(folder / "same.csv", sales(2, "Gate")[8:]))
    told = found(folder)
    assert "same_sale" in told and told["same_sale"].startswith("fix") and "2026-09-14" in told["same_sale"]


def test_a_sale_in_another_unit(folder: Path) -> None:
    with opened(
        folder / "sales.duckdb", write=True
    ) as connection:  # as before sales were held against each other
        connection.execute(
            "UPDATE lots SET price_cwt = price_cwt / 100 WHERE sale_date = '2025-07-21'"
        ).fetchall()
    told = found(folder)["level"]
    assert told.startswith("fix") and "2025-07-21" in told and "dollars a pound" in told
    assert "slidefit undo" in told and "--price-unit" in told


@pytest.mark.parametrize(
    ("gaps", "odd"),
    [
        (("2023-07", "2024-07", "2025-07"), ()),  # closed every July
        (("2024-07",), ("2024-07",)),
        (("2024-07", "2025-07", "2024-03"), ("2024-03",)),  # two Julys of three; one March of three
    ],
)
def test_a_season_of_rest_is_no_gap(gaps: tuple[str, ...], odd: tuple[str, ...]) -> None:
    market = MarketInfo("Fen", "USD", 9, 9.0, 9, date(2023, 1, 5), date(2025, 12, 5), gaps)
    assert odd_gaps(market) == odd


def test_what_can_not_be_read_is_told_beside_the_rest(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "plan.toml").write_text(PLAN.replace("weight_lb = 585", "weight_lb = -585"))
    fen = folder / "fen.toml"
    keep_former(fen)
    (folder / "fen.former" / "fitted.toml").write_text("[[[")
    (folder / "fen.former" / "0001.toml").write_text("[[[")
    (folder / "bad.toml").write_text(fen.read_text().replace("lots = ", "lotss = "))
    slide = folder / "slide.json"
    slide.write_text(slide.read_text().replace('"currency": "USD"', '"currency": "CAD"'))
    (folder / "more.duckdb").write_bytes((folder / "sales.duckdb").read_bytes()[:9000])
    (folder / "sales.sources" / "fen.toml").write_text('name = "fen"\nprice_unit = "stones"\n')
    (folder / ".slide.json.x.part").write_text("")
    checkup = look_over(folder, TODAY)
    names = {(Path(f.file).name, f.level) for f in checkup.findings}
    assert names == {
        *((name, "unreadable") for name in ("plan.toml", "bad.toml", "slide.json", "more.duckdb")),
        ("fen.toml", "unreadable"),
        ("0001.toml", "fix"),
        (".slide.json.x.part", "look"),
    }
    order = [LEVELS.index(f.level) for f in checkup.findings]
    assert order == sorted(order) and checkup.unreadable == 6
    assert run_safely(lambda: slidefit.main(["doctor", str(folder)], standalone_mode=False)) == 2
    told = capsys.readouterr()
    assert "files can't be read" in told.err and "-585" in told.out and "Traceback" not in told.err


CARD = 'name = "fen"\nheadings = ["Head"]\nprice_unit = "cwt"\n[columns]\nWt = "weight"\n'


@pytest.mark.parametrize(
    ("text", "kind", "fault"),
    [
        (CARD, "source card", ""),
        ('name = "fen"\n', "source card", ""),
        (CARD.replace('"cwt"', '"stones"'), "source card", "stones"),
        (CARD.replace('["Head"]', '["Head"'), "source card", "can't be read"),  # no TOML, told by its keys
        (
            CARD.replace("price_unit", "price").replace("headings", "heads"),
            "other TOML file",
            "",
        ),  # half of its keys
        (CARD.replace("price_unit", "price"), "source card", "price_unit"),
        (PLAN, "plan", ""),
        (PLAN.replace("[dates]", "[date]"), "plan", "date"),
        ('[project]\nname = "x"\n[tool.ruff]\n', "other TOML file", ""),
        ("", "other TOML file", ""),
        ('name = "Fen"\nmarkets = ["Fen Gate"]\n[price]\n[standard]\n', "region", "not a region file"),
        ("\x00\xff", "TOML file", "can't be read"),
    ],
)
def test_a_toml_file_is_checked_as_what_it_holds(tmp_path: Path, text: str, kind: str, fault: str) -> None:
    (tmp_path / "some.toml").write_bytes(text.encode("latin-1" if "\xff" in text else "utf-8"))
    checkup = look_over(tmp_path, TODAY)
    assert checkup.files == ((str(tmp_path / "some.toml"), kind),)
    told = " ".join(f"{f.level} {f.what} {f.remedy}" for f in checkup.findings)
    assert (fault in told and told.startswith("unreadable")) if fault else not told


def test_a_folder_that_is_not_there_and_an_empty_one(tmp_path: Path) -> None:
    with pytest.raises(SlidefitError, match="can't be read"):
        look_over(tmp_path / "gone", TODAY)
    assert look_over(tmp_path, TODAY) == Checkup(str(tmp_path), (), ())
