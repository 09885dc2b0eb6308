"""The sale book as a state machine, for as many steps as one likes.

A step adds a file, renames a market or undoes a batch, in any order, and the whole book is held against the model
after it. Each step moves SETS separate sets of sales at once, a month or a year apart, which never meet; told are the
steps, and the steps of a set. One run in ROUND is made with a file, its export, its copy and another process reading.

Run: python tests/faults/run_book_machine.py STEPS [--sets SETS] [--seed SEED]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from hypothesis import Phase, seed, settings  # noqa: E402
from hypothesis.stateful import run_state_machine_as_test  # noqa: E402

from tests.records.book.test_book_merge import EVERY, SETS, BookInAFile, BookOfBatches  # noqa: E402

STEPS_EACH = 40
ROUND = 20  # runs
TELL_STEPS = 100
FAST_DISK = Path("/dev/shm")  # a sync costs nothing there


def main(steps: int, sets: int, start: int) -> int:
    """Make the steps in rounds, and say how far it is; return how many rounds met a difference."""
    if FAST_DISK.is_dir():
        tempfile.tempdir = str(FAST_DISK)
    made: Counter[str] = Counter()
    began, different, round_ = time.monotonic(), 0, 0

    def tell() -> None:
        told = ", ".join(f"{name} {count:,}" for name, count in made.items())
        print(
            f"{made.total():,} steps ({told}) of {sets} sets, {made.total() * sets:,} steps of a set; differences "
            f"{different}; {time.monotonic() - began:.0f} s, {time.process_time():.0f} s of processor",
            flush=True,
        )

    def counted(machine: type[BookOfBatches]) -> type[BookOfBatches]:
        class Counted(machine):  # type: ignore[valid-type,misc]
            def check_invariants(self, *args: object, **named: object) -> None:
                super().check_invariants(*args, **named)
                made[machine.__name__] += 1
                if made.total() % TELL_STEPS == 0:
                    tell()

        Counted.sets = sets
        return Counted

    while made.total() < steps:
        for machine, runs in ((BookOfBatches, ROUND - 1), (BookInAFile, 1)):
            way = settings(
                EVERY,
                max_examples=runs,
                stateful_step_count=STEPS_EACH,
                derandomize=False,
                phases=(Phase.generate, Phase.shrink),
            )
            try:
                run_state_machine_as_test(seed(start * 1_000_000 + round_)(counted(machine)), settings=way)
            except Exception:
                different += 1
                traceback.print_exc()
        round_ += 1
    tell()
    return different


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("steps", nargs="?", type=int, default=2000)
    parser.add_argument("--sets", type=int, default=SETS)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    sys.exit(bool(main(asked.steps, asked.sets, asked.seed)))
