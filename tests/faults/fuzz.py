"""Every reader of foreign bytes, given changed bytes: an answer or an error with place and remedy, in bounded time.

The corpus is made here, a small file of each kind; bytes, lines and tokens of it are changed, and what lies inside of a
zipped file. Anything but an answer or a SlidefitError is told, its input left in the folder named; the exit code is 1.

Run: python tests/faults/fuzz.py [--inputs N | --seconds S] [--seed N] [--keep FOLDER] [TARGET ...]
"""

from __future__ import annotations

import argparse
import io
import json
import random
import resource
import signal
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from urllib.parse import parse_qsl

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from slidefit.errors import SlidefitError  # noqa: E402
from tests.faults.run_faults import sales  # noqa: E402

SECONDS_EACH, MEMORY_BYTES = 20.0, 4 << 30
QUICK, SLOWER = ("address", "plan", "futures", "card", "region", "slide"), 15
"""Documents take 2 to 4 ms each, files of records and books 15 times that: so many fewer of them are read."""
TOKENS = (
    b"0", b"-1", b"1e9", b"nan", b"inf", b'""', b"\xff", b"\x00", b"\xc2\xb2", b"1" * 400, b"[" * 400, b'"' * 3,
    b"{}",    b"<td colspan=9999999>", b"\n" * 50, b"13/45/2026", b"=1+1", b"true", b",,,,,,", b"\t",
    b"2026-02-30", b"\xef\xbb\xbf",
)  # fmt: skip
Reader = Callable[[Path], object]


@dataclass(frozen=True)
class Target:
    """A reader, the ending of its files, and sound ones."""

    ending: str
    reader: Reader
    corpus: tuple[bytes, ...]


def changed(chance: random.Random, data: bytes) -> bytes:
    """Return bytes with one to four changes of bytes, lines or tokens; of a zip, often those of a member."""
    if data[:2] == b"PK" and chance.random() < 0.8:
        return _member_changed(chance, data)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(data) + 1)
        to = min(len(data), at + chance.choice((1, 1, 4, 40, 400)))
        way = chance.randrange(8)
        if way == 0:
            data = data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]
        elif way == 1:
            data = data[:at] + data[to:]
        elif way == 2:
            data = data[:to] + data[at:]
        elif way == 3:
            data = data[:at] + chance.choice(TOKENS) + data[at:]
        elif way == 4:
            data = data[:at] + chance.choice(TOKENS) + data[to:]
        elif way == 5:
            data = data[:at]
        else:
            lines = data.split(b"\n")
            line, other = chance.randrange(len(lines)), chance.randrange(len(lines))
            if way == 6:
                lines[line], lines[other] = lines[other], lines[line]
            else:
                key, sign, _ = lines[line].partition(chance.choice((b"=", b":", b",")))
                lines[line] = key + sign + chance.choice(TOKENS)
            data = b"\n".join(lines)
    return data


def _member_changed(chance: random.Random, data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        names = old.namelist()
        chosen = chance.choice(names)
        for name in names:
            content = old.read(name)
            new.writestr(name, changed(chance, content) if name == chosen else content)
    return out.getvalue()


XML = (
    b"<sales place='Fen Gate' date='2026-10-12'><lot sex='steer' head='12'><wt>512</wt><price>320.50</price></lot>"
    b"<lot sex='heifer' head='9'><wt>498</wt><price>301.25</price></lot></sales>"
)
ODD = ROOT / "tests" / "records" / "odd"


def read_rows(table: str, read: Callable[[list[str]], object]) -> object:
    """Return the records of a table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.csv"
        path.write_text(table)
        return read([str(path)]).records  # type: ignore[attr-defined]


@cache
def targets() -> dict[str, Target]:
    """Return every reader with its corpus."""
    import pandas as pd
    from reportlab.pdfgen.canvas import Canvas

    from slidefit.market.market_fit import fit_market
    from slidefit.market.saved_fit import HASH, content_hash, load_fit, save_fit
    from slidefit.plan.plan_file import read_plan
    from slidefit.records.futures_quotes import read_quotes
    from slidefit.records.read import read
    from slidefit.records.reading.source_card import SourceCard, card_toml, read_card
    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.region_file import read_region
    from slidefit.web.forms.plan_address import address, given, plan_of, values_of

    table = sales(2, "Fen Gate")
    frame = pd.read_csv(io.StringIO(table))
    pdf, page = io.BytesIO(), None
    page = Canvas(pdf)
    for row, line in enumerate(table.splitlines()):
        page.drawString(40, 800 - 14 * row, line.replace(",", "  "))
    page.save()
    report = (ROOT / "data_demo" / "cold_kettle_auction.csv").read_bytes()[:3000]
    text = b"Fen Gate Livestock, Oct 12, 2026. Steers: Medium and Large 1 430-480 lbs 320.00-328.50, 500 lbs 305.00.\n"
    plan = ROOT / "data_demo" / "plan.toml"

    def held(made: Callable[[Path], object], ending: str) -> bytes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"x{ending}"
            made(path)
            return path.read_bytes()

    def book(path: Path) -> None:
        source = path.with_suffix(".csv")
        source.write_text(table)
        SaleBook(path).add(read([str(source)]))

    def ods(path: Path) -> None:
        cells = "".join(
            "<table:table-row>"
            + "".join(
                f"<table:table-cell><text:p>{cell}</text:p></table:table-cell>" for cell in line.split(",")
            )
            + "</table:table-row>"
            for line in table.splitlines()
        )
        spaces = " ".join(
            f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
            for name in ("office", "table", "text")
        )
        body = f"<office:body><office:spreadsheet><table:table>{cells}</table:table></office:spreadsheet></office:body>"
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
            archive.writestr(
                "content.xml", f"<office:document-content {spaces}>{body}</office:document-content>"
            )

    def sale(path: Path) -> object:
        return read([str(path)]).records

    def look(path: Path) -> object:
        return SaleBook(path).records(), SaleBook(path).summary(), SaleBook(path).quotes()

    def hashed_again(path: Path) -> object:
        try:
            document = json.loads(path.read_bytes())
            content = {
                key: value for key, value in document.items() if key not in ("format", "version", HASH)
            }
            path.write_text(json.dumps({**document, HASH: content_hash(content)}))
        except (ValueError, AttributeError, RecursionError):
            pass  # broken as JSON: read as it is
        return load_fit(path)

    def typed(path: Path) -> object:
        return plan_of(given(parse_qsl(path.read_bytes().decode("latin-1"))))

    query = address(values_of(read_plan(plan))).encode()
    card = card_toml(SourceCard(name="fen", headings=("Head",), mapping={"Wt": "weight"}, price_unit="cwt"))
    quotes = b"day,contract,settlement\n2026-10-09,2027-01,300.5\n2026-10-09,F27,301\n"
    fed = read_rows(sales(12, "Fen Gate"), read)
    return {
        "csv": Target(".csv", sale, (table.encode(), report)),
        "text": Target(".txt", sale, (text * 3, table.replace(",", "  ").encode())),
        "html": Target(".html", sale, (frame.to_html(index=False).encode(),)),
        "json": Target(".json", sale, (frame.to_json(orient="records").encode(), XML)),
        "xlsx": Target(".xlsx", sale, (held(lambda path: frame.to_excel(path, index=False), ".xlsx"),)),
        "ods": Target(".ods", sale, (held(ods, ".ods"),)),
        "pdf": Target(".pdf", sale, (pdf.getvalue(),)),
        "parquet": Target(".parquet", sale, (held(frame.to_parquet, ".parquet"),)),
        "xls": Target(".xls", sale, tuple((ODD / name).read_bytes() for name in ("dates1904.xls", "saved.xls"))),
        "book": Target(".duckdb", look, (held(book, ".duckdb"),)),
        "slide": Target(".json", hashed_again, (held(lambda path: save_fit(fit_market(fed), path), ".json"),)),
        "region": Target(".toml", read_region, ((ROOT / "data_demo" / "kettle_fork.toml").read_bytes(),)),
        "card": Target(".toml", read_card, (card.encode(),)),
        "futures": Target(".csv", read_quotes, (quotes,)),
        "plan": Target(".toml", read_plan, (plan.read_bytes(),)),
        "address": Target(".txt", typed, (query,)),
    }  # fmt: skip


def one(target: Target, path: Path, data: bytes) -> str:
    """Read some bytes; return how it ended.

    Raises
    ------
    Exception
        Anything but a SlidefitError with what is wrong.
    """
    path.write_bytes(data)
    try:
        target.reader(path)
    except SlidefitError as fault:
        assert fault.text(), "an error without words"
        return "refused"
    return "read"


def main() -> None:
    """Change and read until the time is over; a row for each reader."""
    parser = argparse.ArgumentParser()
    parser.add_argument("targets", nargs="*")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--inputs", type=int, default=0, help="so many in all, however long they take")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "fuzz-kept")
    asked = parser.parse_args()
    asked.keep.mkdir(exist_ok=True)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))

    def too_long(*_: object) -> None:
        raise TimeoutError(f"longer than {SECONDS_EACH:g} s of processor time")

    signal.signal(signal.SIGPROF, too_long)
    names = asked.targets or list(targets())
    chance, every, faults = random.Random(asked.seed), 0, 0
    share = {name: 1 if name in QUICK else 1 / SLOWER for name in names}
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            target = targets()[name]
            path, counts, slowest, wrong = Path(folder) / f"x{target.ending}", Counter[str](), 0.0, 0
            for data in target.corpus:
                print(f"{name}: sound: {one(target, path, data)}")
            until, most = (
                time.monotonic() + asked.seconds / len(names),
                asked.inputs * share[name] / sum(share.values()),
            )
            while counts.total() + wrong < most if asked.inputs else time.monotonic() < until:
                data, began = changed(chance, chance.choice(target.corpus)), time.process_time()
                signal.setitimer(signal.ITIMER_PROF, SECONDS_EACH)
                try:
                    counts[one(target, path, data)] += 1
                except Exception as fault:
                    wrong += 1
                    kept = asked.keep / f"{name}-{wrong}{target.ending}"
                    kept.write_bytes(data)
                    print(f"    {name}: {type(fault).__name__}: {str(fault)[:160]} ({kept})", flush=True)
                finally:
                    signal.setitimer(signal.ITIMER_PROF, 0.0)
                slowest = max(slowest, time.process_time() - began)
            every, faults = every + counts.total() + wrong, faults + wrong
            print(f"{name}: {dict(counts)}, wrong {wrong}, slowest {slowest:.2f} s", flush=True)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"inputs {every:,}; memory at most {memory:.0f} MB")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
