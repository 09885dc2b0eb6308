"""How long the page takes to answer a changed plan, one user and many: python tests/benchmarks/bench_page.py FOLDER.

FOLDER holds sales.duckdb and slide.json, such as the one that ``slidefit demo`` leaves.
"""

from __future__ import annotations

import statistics
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "web"))

from running import PLAN, Running, running

from slidefit.web.security import Settings

CHANGES = 60
USERS = 50


def timed(page: Running, address: str) -> float:
    with page.client() as client:
        start = time.perf_counter()
        assert client.get(address).status_code == 200
        return 1000.0 * (time.perf_counter() - start)


def main(folder: Path) -> None:
    settings = Settings(folder / "sales.duckdb", folder / "slide.json", PLAN, folder, port=0)
    with running(settings) as page:
        with page.client() as client:
            query = client.get("/decide/example").headers["location"].partition("?")[2]

        def changed(weight: int) -> str:
            return "/decide/answer?" + query.replace("groups.0.weight_lb=585", f"groups.0.weight_lb={weight}")

        for weight in range(500, 505):
            timed(page, changed(weight))
        alone = sorted(timed(page, changed(weight)) for weight in range(520, 520 + CHANGES))
        print(f"one user: median {statistics.median(alone):.0f} ms, 95% {alone[int(0.95 * CHANGES)]:.0f} ms")
        start = time.perf_counter()
        with ThreadPoolExecutor(USERS) as crowd:
            many = sorted(crowd.map(lambda user: timed(page, changed(600 + user)), range(USERS)))
        whole = time.perf_counter() - start
        told = f"all in {whole:.1f} s, median {statistics.median(many):.0f} ms, slowest {many[-1]:.0f} ms"
        print(f"{USERS} users at once: {told}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
