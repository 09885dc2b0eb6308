"""A season's work timed: every region of a folder from one book.

    python tests/benchmarks/bench_refresh.py [REGIONS] [LOTS]

Sixty regions of one invented barn each and a book of 1,000,000 lots by default; the regions' files are one fit of the
records up to a year before the end under the names of all. Tells seconds by the clock and of the processor for the
table, with writing and hand-outs, and the most memory. Not part of the tests.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import pandas as pd
from click.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parent))
from make_book import make_book

from slidefit.cli.main import slidefit
from slidefit.market.market_fit import fit_market
from slidefit.records.sale_book import SaleBook
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.hand_edits import write_fitted


def regions_in(folder: Path, book: Path, regions: int) -> None:
    """Write the regions' files."""
    records = SaleBook(book).records(market="Barn 00")
    old = records[records["sale_date"] < records["sale_date"].max() - pd.Timedelta(days=365)]
    region = region_of(fit_market(old), "Region 00", Provenance(date(2023, 1, 1)))
    for place in range(regions):
        named = region.model_copy(update={"name": f"Region {place:02d}", "markets": (f"Barn {place:02d}",)})
        write_fitted(named, folder / f"region_{place:02d}.toml")


def used() -> float:
    """Return the processor seconds of this process and of those that ended."""
    own, ended = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + ended.ru_utime + ended.ru_stime


if __name__ == "__main__":
    count, lots = (int(sys.argv[i]) if len(sys.argv) > i else usual for i, usual in ((1, 60), (2, 1_000_000)))
    with tempfile.TemporaryDirectory() as name:
        folder, book = Path(name) / "regions", Path(name) / "sales.duckdb"
        folder.mkdir()
        make_book(book, lots, barns=count)
        regions_in(folder, book, count)
        for words in ([], ["--yes"]):
            clock, spent = time.perf_counter(), used()
            done = CliRunner().invoke(
                slidefit, ["region", "refresh", str(folder), "--book", str(book), *words]
            )
            assert done.exit_code == 0, done.output
            peak = max(
                resource.getrusage(w).ru_maxrss for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
            )
            print(
                f"{count} regions, {lots:,} lots{', written' if words else ''}: {time.perf_counter() - clock:.0f} s, "
                f"{used() - spent:.0f} s of processor, {peak / 1024:.0f} MB at most",
                flush=True,
            )
