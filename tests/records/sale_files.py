"""Small sale files and their records, for the tests of reading and of the sale book."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from slidefit.records.read import read
from slidefit.records.result import ReadResult
from slidefit.records.sale_book import SaleBook

HEADING = "Sale Date,Market,Sex,Grade,Head,Avg Wt,Price $/cwt"
LOTS = (
    "10/03/2023,Rook Hill,Steers,ML 1,12,512,251.25",
    "10/03/2023,Rook Hill,Steers,ML 1,30,604,233.50",
    "10/03/2023,Rook Hill,Heifers,ML 1-2,9,498,228.00",
    "10/03/2023,Rook Hill,Heifers,ML 1,14,555,219.75",
    "10/03/2023,Rook Hill,Bulls,ML 2,3,540,205.00",
    "10/17/2023,Rook Hill,Steers,ML 1,22,530,247.00",
    "10/17/2023,Rook Hill,Heifers,ML 1,17,520,226.25",
)


def lot_file(path: Path, lots: tuple[str, ...] | list[str] = LOTS, heading: str = HEADING) -> Path:
    """Write a list of lots."""
    path.write_text("\n".join([heading, *lots]) + "\n", encoding="utf-8")
    return path


_READ: dict[tuple[str, ...], ReadResult] = {}


def read_lots(path: Path, lots: tuple[str, ...] | list[str] = LOTS) -> ReadResult:
    """Write a list of lots and read it again; a list of one name and content is read once."""
    lot_file(path, lots)
    key = (path.name, *lots)
    if key not in _READ:
        _READ[key] = read(path)
    return _READ[key]


@cache
def _book_of_lots() -> bytes:
    with TemporaryDirectory() as folder:
        book = SaleBook(Path(folder) / "sales.duckdb")
        book.add(read_lots(Path(folder) / "a.csv"))
        return book.path.read_bytes()


def book_of_lots(path: Path) -> SaleBook:
    """Put a book of `LOTS`, made once, in a place."""
    path.write_bytes(_book_of_lots())
    return SaleBook(path)


GRADES = {
    "ML 1": ["Medium and Large 1", "M&L 1", "ML1", "L/M #1"],
    "ML 1-2": ["Medium and Large 1-2", "M&L 1 & 2", "ML1-2", "Medium and large frame 1 to 2"],
    "M 1": ["Medium 1", "M-1", "Medium No. 1"],
    "L 2": ["Large 2", "L-2"],
    "S 3": ["Small 3", "S-3"],
}
