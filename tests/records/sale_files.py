"""Small sale files and their records, for the tests of reading and of the sale book."""

from __future__ import annotations

from pathlib import Path

from slidefit.records.read import read
from slidefit.records.result import ReadResult

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


def read_lots(path: Path, lots: tuple[str, ...] | list[str] = LOTS) -> ReadResult:
    """Write a list of lots and read it again."""
    return read(lot_file(path, lots))
