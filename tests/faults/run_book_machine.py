"""The sale book as a state machine, for as many steps as one likes: python tests/faults/run_book_machine.py STEPS.

One step in twenty is made with a file, its export, its copy and another process that reads it.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from hypothesis import settings  # noqa: E402
from hypothesis.stateful import run_state_machine_as_test  # noqa: E402

from tests.records.book.test_book_merge import EVERY, BookInAFile, BookOfBatches  # noqa: E402

STEPS_EACH = 40


def main(steps: int) -> None:
    """Run both machines and say how long it took."""
    for machine, share in ((BookInAFile, steps // 20), (BookOfBatches, steps)):
        began = time.monotonic()
        runs = max(share // STEPS_EACH, 1)
        way = settings(EVERY, max_examples=runs, stateful_step_count=STEPS_EACH, derandomize=False)
        run_state_machine_as_test(machine, settings=way)
        took = time.monotonic() - began
        print(
            f"{machine.__name__}: {runs} runs of up to {STEPS_EACH} steps in {took:.0f} s, no difference",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
