"""Every command that writes, with a fault at its n-th open, write, sync and rename, for every n; and killed there.

Needs gcc (the faults are put under Python and DuckDB by a small library). After each run the folder must be as it was
or as the command leaves it, file by file; exit code 0 or 2, the cause named, nothing left over. The other commands
must write nothing. What is slow and touches no file is worked out once for each command (``WORKED_OUT``). Figures
stand in docs/safety.md.

Run: python tests/faults/run_faults.py [--every K] [--seed S] [COMMAND ...]
"""

from __future__ import annotations

import argparse
import atexit
import ctypes
import errno
import gc
import hashlib
import importlib
import io
import os
import pickle
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent.parent
KINDS = ("open", "write", "sync", "name")
ERRORS = {
    errno.ENOSPC: ("disk is full", "no space left"),
    errno.EIO: ("disk reports a fault", "input/output error"),
    errno.EACCES: ("permission denied", "may read", "may write"),
    errno.EINTR: ("interrupted",),
}
KILL = 0
HEADING = "Sale Date,Market,Sex,Grade,Head,Avg Wt,Price $/cwt"
LAST = date(2026, 10, 12)


def sales(count: int, market: str, last: date = LAST, level: float = 330.0) -> str:
    """Return a file of sales, one every four weeks, twelve lots each."""
    rows = [
        f"{last - timedelta(days=28 * sale):%m/%d/%Y},{market},{'Heifers' if lot % 3 == 2 else 'Steers'},ML 1,"
        f"{5 + (7 * sale + 11 * lot) % 23},{weight},"
        f"{level - 0.2 * weight - (12 if lot % 3 == 2 else 0) + 37 * (sale + lot) % 11:.2f}"
        for sale in range(count)
        for lot, weight in enumerate((430, 480, 530, 580, 630, 680, 455, 505, 555, 605, 655, 705))
    ]
    return "\n".join([HEADING, *rows]) + "\n"


BEGUN = (
    "add old.csv",
    "region make Fen --out fen.toml",
    "book backup copy.duckdb",
    "add again.csv",
    "region update fen.toml --yes",
    "export out.csv",
)


def prepare(folder: Path, words: tuple[str, ...] = (*BEGUN, "fit", "report plan.toml")) -> None:
    """Make the files that the commands work on."""
    (folder / "old.csv").write_text(sales(40, "Fen Gate"))
    rejected = "10/12/2026,Stone Moor,Cows,ML 1,3,1200,99.00\n"
    (folder / "new.csv").write_text(sales(2, "Stone Moor", level=342.0) + rejected)
    (folder / "again.csv").write_text(sales(1, "Fen Gate", LAST + timedelta(days=7)))
    days = [LAST - timedelta(days=7 * week) for week in range(4)]
    lines = [f"{day},2027-{month:02d},{300 + month}" for day in days for month in (1, 3, 5)]
    (folder / "futures.csv").write_text("\n".join(["day,contract,settlement", *lines]) + "\n")
    plan = (ROOT / "data_demo" / "plan.toml").read_text().replace('muscle = "1-2"', 'muscle = "1"')
    (folder / "plan.toml").write_text(plan)
    os.chdir(folder)
    for each in words:
        assert command(each)[0] == 0, command(each)
    (folder / "page").mkdir()
    if "fit" in words:
        (folder / "page" / "card.toml").write_text(
            command("source show {card}".format(**batch_and_card(folder)))[1]
        )
    for name in ("fen.toml", "fen.former"):
        source = folder / name
        if source.exists():
            (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / "page" / name)


# what makes or changes files, with every option that does; `tests/cli/test_write_faults.py` holds it to be all there is
COMMANDS = {
    "add": "add new.csv",
    "add (first)": "add new.csv --book first.duckdb --set-aside aside.csv",
    "undo": "undo {batch}",
    "rename-market": "book rename-market 'Fen Gate' 'Fen Barn'",
    "source": "source forget {card}",
    "futures add": "futures add futures.csv",
    "backup": "book backup out.duckdb",
    "restore": "book restore copy.duckdb",
    "restore (new)": "book restore copy.duckdb --book first.duckdb",
    "export csv": "export out.csv",
    "export parquet": "export out.parquet",
    "fit": "fit --since 2024-06-01 --out slide.json",
    "region make": "region make Fen --out fen.toml --chart chart.png",
    "region update": "region update fen.toml --yes --chart chart.png",
    "region refresh": "region refresh page --yes --hand-outs sheets",
    "region back": "region back fen.toml",
    "region sheet": "region sheet fen.toml --out sheet.html",
    "region brief": "region brief fen.toml --pictures drawn",
    "region compare": "region compare fen.toml page/fen.toml --chart chart.png",
    "backtest": "backtest --months-kept 2 --plan plan.toml --out years.png",
    "flip": "flip plan.toml --out flips.png",
    "report": "report plan.toml --out report.html --pdf out.pdf",
    "report (lender)": "report plan.toml --banker",
    "workbook": "workbook plan.toml --out plan.xlsx",
    "handout": "handout fen.toml --plan plan.toml --out calves.html",
    "demo": "demo --out shown",
}
# what only reads; `serve` writes by the same functions, as tests/web tries
READING = {
    "source list": "source list",
    "compare": "compare plan.toml",
    "doctor": "doctor",
    "futures show": "futures show",
    "months": "months plan.toml",
    "quick": "quick --weight 520 --price 390 --days 90 --gain 1.2 --later 365",
    "region check": "region check fen.toml",
    "region list": "region list .",
    "region log": "region log fen.toml",
    "region map-markets": "region map-markets .",
    "region show": "region show fen.toml",
    "season": "season",
    "slide": "slide",
    "source check": "source check page/card.toml",
    "source show": "source show {card}",
}
# functions that touch no file: their answers are kept from a run without a fault
WORKED_OUT = (
    "market.market_fit.fit_coded",
    "decision.risk.answer_changes.flip",
    "report.charts.style.rendered",
    "report.render.pdf.document_pdf",
    "report.render.html.document_html",
    "report.take_home.handout.handout_html",
)
MOST_PLACES = {
    "workbook": 25,
    "demo": 5,
}  # of each kind, evenly spread: openpyxl writes a workbook in 940 pieces
MADE_AT = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")  # of a workbook: ISO 8601 in docProps/core.xml
CLEARED = (
    "slidefit-fit-"  # folder of TMPDIR that stays, counted apart, where the fault hits the clearing up itself
)
FAST_DISK = Path("/dev/shm")  # a sync costs nothing there


def command(words: str) -> tuple[int, str, str]:
    """Run a command in this process; return exit code, output and errors."""
    import shlex

    from slidefit.cli.main import slidefit
    from slidefit.cli.speaking import run_safely

    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run_safely(lambda: slidefit.main(shlex.split(words), standalone_mode=False))
    return code, out.getvalue(), err.getvalue()


def apart(work: Callable[[], Any], seconds: int = 900) -> tuple[int, Any]:
    """Do something in a child; return how the child ended (0, or less the signal) and what it returned."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(read)
            import signal

            signal.alarm(seconds)
            answer = pickle.dumps(work())
            with os.fdopen(write, "wb") as pipe:
                pipe.write(answer)
            os._exit(0)
        except BaseException:
            import traceback

            traceback.print_exc()
            os._exit(1)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        answer = pipe.read()
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), pickle.loads(answer) if answer else None


KNOWN: dict[str, str] = {}


def state(folder: Path) -> dict[str, str]:
    """Return each file's content, books by what they hold."""
    told, books = {}, {}
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if path.is_dir() or name.startswith("tmp/") or name.endswith(".wal"):
            continue
        told[name] = hashlib.sha256(path.read_bytes()).hexdigest()
        if path.suffix == ".xlsx" and zipfile.is_zipfile(path):
            told[name] = members(path)
        if ".duckdb" in path.name and path.suffix != ".part":
            journal = Path(f"{path}.wal")
            key = told[name] + (hashlib.sha256(journal.read_bytes()).hexdigest() if journal.exists() else "")
            books[name] = key
    fresh = [name for name, key in books.items() if key not in KNOWN]
    if fresh:
        ended, answer = apart(lambda: [held(folder / name) for name in fresh])
        assert ended == 0, ended
        KNOWN.update((books[name], one) for name, one in zip(fresh, answer, strict=True))
    return {**told, **{name: KNOWN[key] for name, key in books.items()}}


def members(path: Path) -> str:
    """Return a digest of what the members of a zip hold, without the second of their making."""
    with zipfile.ZipFile(path) as archive:
        pairs = [(name, MADE_AT.sub(b"", archive.read(name))) for name in archive.namelist()]
    return hashlib.sha256(repr(pairs).encode()).hexdigest()


def held(path: Path) -> str:
    """Return a digest of what a book holds."""
    from slidefit.errors import SlidefitError
    from slidefit.records.book.book_file import opened
    from slidefit.records.sale_book import SaleBook

    try:
        with opened(path, write=False) as connection:
            sums = connection.execute("SELECT count(*), bit_xor(hash(s)) FROM sales s").fetchall()
            cards = connection.execute("SELECT name, card FROM main.sources ORDER BY name").fetchall()
            kept = connection.execute("SELECT count(*) FROM kept_quotes").fetchall()
        return repr((sums, cards, kept, [(b.batch, b.renamed) for b in SaleBook(path).summary().batches]))
    except SlidefitError as fault:
        return f"FAULT {fault}"


@dataclass
class Run:
    """One command's runs: how they ended, and what was wrong."""

    counts: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def worked_out(known: dict[str, list[Any]]) -> dict[str, list[bytes]]:
    """Let the functions of WORKED_OUT give the answers that are known; return those that they work out from now on."""
    kept: dict[str, list[bytes]] = {}
    inside: list[str] = []
    for path in WORKED_OUT:
        module, name = f"slidefit.{path}".rsplit(".", 1)
        real = getattr(sys.modules[module], name)
        answers, made = iter(known.get(path, ())), kept.setdefault(path, [])

        def called(
            *words: Any,
            path: str = path,
            real: Any = real,
            answers: Any = answers,
            made: list[bytes] = made,
            **named: Any,
        ) -> Any:
            for answer in answers:
                return answer
            inside.append(path)
            answer = real(*words, **named)
            inside.pop()
            if not inside:  # what one of them asks of another is part of its answer
                made.append(pickle.dumps(answer))
            return answer

        for each in list(sys.modules.values()):
            if each.__name__.startswith("slidefit") and getattr(each, name, None) is real:
                setattr(each, name, called)
    return kept


def run_once(
    shim: ctypes.CDLL,
    base: Path,
    place: Path,
    words: str,
    fault: tuple[int, int, int],
    known: dict[str, list[Any]],
) -> tuple:
    """Copy the folder, run the command with a fault; return how it ended and its answer: what it told, the operations
    seen, what it left of temporary files, and what it worked out.
    """
    kind, n, number = fault
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(base, place)
    (place / "tmp").mkdir(exist_ok=True)

    def work() -> tuple[tuple[int, str, str], list[int], list[str], dict[str, list[bytes]]]:
        kept = worked_out(known)
        os.chdir(place)
        os.environ["TMPDIR"] = tempfile.tempdir = str(place / "tmp")
        shim.fault_arm(
            str(place).encode(), kind, ctypes.c_long(n), number, number == errno.ENOSPC and kind == 1
        )
        answer = command(words)
        shim.fault_disarm()
        atexit._run_exitfuncs()
        seen = [shim.fault_seen(each) for each in range(len(KINDS))]
        return answer, seen, sorted(path.name for path in (place / "tmp").iterdir()), kept

    return apart(work)


def judge(kind: int, number: int, ended: int, answer: Any, before: dict, after: dict, now: dict) -> str:
    """Return what is wrong with a run, or nothing."""
    wrong = [
        f"{name} is neither old nor new"
        for name in sorted(before.keys() | after.keys())
        if now.get(name) not in (before.get(name), after.get(name))
    ]
    left = sorted(now.keys() - before.keys() - after.keys())
    if number == KILL:
        if ended not in (-9, 0):
            wrong.append(f"ended {ended}")
        return "; ".join(wrong + [f"left {name}" for name in left if ".part" not in name])
    if ended != 0 or answer is None:
        return f"the process ended {ended}"
    (code, _, err), _, tmp, _ = answer
    if code not in (0, 2) or "Traceback" in err:
        wrong.append(f"exit code {code}: {err.strip()[:200]}")
    words = (
        (*ERRORS[number], *ERRORS[errno.EIO]) if kind == 2 else ERRORS[number]
    )  # DuckDB keeps no number of a sync
    if code == 2 and not any(word in err.lower() for word in words):
        wrong.append(f"the cause is not named: {err.strip()[:200]}")
    if code == 0 and any(now.get(name) != after.get(name) for name in after):
        wrong.append("exit code 0, but not done")
    left += [f"tmp/{name}" for name in tmp if not name.startswith(CLEARED)]
    return "; ".join(wrong + [f"left {name}" for name in left])


def main() -> None:
    """Run all, print a row a command, and each kind of fault once."""
    parser = argparse.ArgumentParser()
    parser.add_argument("commands", nargs="*")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    if "FAULT_SHIM" not in os.environ:
        folder = tempfile.mkdtemp(prefix="faults-", dir=FAST_DISK if FAST_DISK.is_dir() else None)
        shim_path = f"{folder}/shim.so"
        source = str(Path(__file__).with_name("shim.c"))
        subprocess.run(["gcc", "-shared", "-fPIC", "-O1", "-w", "-o", shim_path, source, "-ldl"], check=True)
        env = {**os.environ, "LD_PRELOAD": shim_path, "FAULT_SHIM": shim_path, "FAULT_FOLDER": folder}
        env |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
        os.execve(sys.executable, [sys.executable, *sys.argv], env)
    shim = ctypes.CDLL(os.environ["FAULT_SHIM"])
    sys.path.insert(0, str(ROOT))
    for path in sorted((ROOT / "slidefit").rglob("*.py")):
        if "dask" not in path.name:
            importlib.import_module(
                ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
            )
    for name in ("agg", "pdf", "svg"):
        importlib.import_module(f"matplotlib.backends.backend_{name}")

    gc.freeze()
    base, place = Path(os.environ["FAULT_FOLDER"]) / "base", Path(os.environ["FAULT_FOLDER"]) / "work"
    base.mkdir()
    ended, told = apart(lambda: prepare(base) or batch_and_card(base))
    assert ended == 0
    chance = random.Random(asked.seed)
    total: Counter[str] = Counter()
    for name in asked.commands or [*READING, *COMMANDS]:
        words = {**READING, **COMMANDS}[name].format(**told)
        began, run = time.monotonic(), Run()
        before = state(base)
        _, (answer, seen, _, kept) = run_once(shim, base, place, words, (-1, 0, 0), {})
        assert answer[0] == 0, (words, answer)
        after = {k: v for k, v in state(place).items() if not k.startswith("tmp/")}
        if name in READING:
            assert (after, seen[KINDS.index("write")]) == (before, 0), name
            total["only read"] += 1
            continue
        known = {path: [pickle.loads(each) for each in answers] for path, answers in kept.items()}
        for fault in faults_of(seen, MOST_PLACES.get(name)):
            if asked.every > 1 and chance.randrange(asked.every):
                continue
            ended, got = run_once(shim, base, place, words, fault, known)
            kind, n, number = fault
            wrong = judge(kind, number, ended, got, before, after, state(place))
            what = "killed" if ended == -9 else f"exit {got[0][0]}" if got else f"ended {ended}"
            run.counts[what] += 1
            run.counts[f"left {CLEARED}"] += bool(got and any(name.startswith(CLEARED) for name in got[2]))
            total[what] += 1
            if wrong:
                label = "KILL" if number == KILL else errno.errorcode[number]
                run.faults.append(f"{KINDS[kind]} {n} {label}: {wrong}")
                total["wrong"] += 1
        counts = ", ".join(f"{what} {count}" for what, count in sorted(run.counts.items()) if count)
        ops = ", ".join(f"{kind} {count}" for kind, count in zip(KINDS, seen, strict=True))
        took = time.monotonic() - began
        print(f"{name}: {ops}; {counts}; wrong {len(run.faults)}; {took:.0f} s", flush=True)
        for fault in run.faults[:40]:
            print(f"    {fault}", flush=True)
    print("total:", dict(total))
    shutil.rmtree(os.environ["FAULT_FOLDER"], ignore_errors=True)


def faults_of(seen: list[int], most: int | None) -> list[tuple[int, int, int]]:
    """Return every fault: its kind, the place at which it comes, and its number."""
    found = []
    for kind, count in enumerate(seen):
        step = max(count / most, 1.0) if most else 1.0
        places = {count - int(step * each) for each in range(int(count / step))} | {1} if count else set()
        found += [(kind, n, number) for number in (*ERRORS, KILL) for n in sorted(places)]
    return found


def batch_and_card(folder: Path) -> dict[str, str]:
    """Return the last batch of the book and the name of its source card."""
    from slidefit.records.sale_book import SaleBook
    from slidefit.records.source_book import cards_of

    book = folder / "sales.duckdb"
    return {"batch": SaleBook(book).summary().batches[-1].batch, "card": next(iter(cards_of(book)))}


if __name__ == "__main__":
    main()
