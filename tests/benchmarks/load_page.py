"""The page under load: python tests/benchmarks/load_page.py FOLDER [REQUESTS] [USERS].

FOLDER holds sales.duckdb and slide.json, such as the one that ``slidefit demo`` leaves; a copy is worked on. Told are:
answers by status, the page's own memory from a fifth of the requests on, answers while fits run, and pings while slow
and broken clients hold connections.
"""

from __future__ import annotations

import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx

VIEWS = (
    "/", "/records", "/slide", "/decide", "/regions", "/api/book", "/api/fit", "/api/season", "/api/slide",
    "/slide/season.svg", "/decide/example",
)  # fmt: skip
SLOW_CLIENTS = 100


def memory_mb(process: int) -> float:
    """Return the resident memory of the page's own process; its workers are apart."""
    told = Path(f"/proc/{process}/status").read_text()
    return int(re.findall(r"VmRSS:\s+(\d+)", told)[0]) / 1024


def token_of(client: httpx.Client, view: str) -> str:
    found = re.search(r'name="token" value="([0-9a-f]{64})"', client.get(view).text)
    assert found
    return found.group(1)


def upload(client: httpx.Client, user: int) -> int:
    rows = "Sale Date,Market,Sex,Head,Avg Wt,Price\n" + f"2026-09-14,Barn {user},Steers,12,552,389\n" * 3
    return client.post(
        "/records/look",
        data={"token": token_of(client, "/records")},
        files={"files": ("a.csv", rows.encode())},
    ).status_code


def mixed(address: str, page: int, requests: int, users: int) -> None:
    """Views, answers and uploads by many users; the page's memory over the last four fifths."""
    local, counts, memory, done = threading.local(), Counter[int](), [], [0]
    with httpx.Client(base_url=address) as client:
        query = client.get("/decide/example").headers["location"].partition("?")[2]

    def ask(number: int) -> None:
        if not hasattr(local, "client"):
            local.client = httpx.Client(base_url=address, timeout=120.0)
        chance = random.Random(number)
        if number % 50 == 0:
            counts[upload(local.client, number)] += 1
        elif number % 10 == 1:
            weight = chance.randint(450, 650)
            changed = query.replace("groups.0.weight_lb=585", f"groups.0.weight_lb={weight}")
            counts[local.client.get(f"/decide/answer?{changed}&risk.draws=500").status_code] += 1
        else:
            counts[local.client.get(chance.choice(VIEWS)).status_code] += 1
        done[0] += 1
        if done[0] % max(requests // 10, 1) == 0:
            memory.append(memory_mb(page))

    began = time.monotonic()
    with ThreadPoolExecutor(users) as crowd:
        list(crowd.map(ask, range(requests)))
    took = time.monotonic() - began
    print(f"{requests:,} requests of {users} users in {took:.0f} s; by status {dict(counts)}")
    early, late = memory[1], memory[-1]
    told = ", ".join(f"{each:.0f}" for each in memory)
    print(f"memory [MB] at every tenth: {told}; from a fifth to the end {100 * (late / early - 1):+.1f}%")


def beside_fits(address: str, fits: int) -> None:
    """Answers to changed plans while fits run."""
    with httpx.Client(base_url=address, timeout=120.0) as client:
        query = client.get("/decide/example").headers["location"].partition("?")[2]
        times = []
        for _ in range(fits):
            began = time.monotonic()
            client.post("/slide/fit", data={"token": token_of(client, "/slide")})
            while client.get("/slide/fitting").status_code == 200 and time.monotonic() - began < 20.0:
                weight = 450 + len(times) % 200
                changed = query.replace("groups.0.weight_lb=585", f"groups.0.weight_lb={weight}")
                start = time.monotonic()
                assert client.get(f"/decide/answer?{changed}").status_code == 200
                times.append(1000 * (time.monotonic() - start))
                if len(times) >= 60:
                    break
            while client.get("/slide/fitting").status_code == 200:
                time.sleep(0.5)
    ordered = sorted(times)
    at95 = ordered[int(0.95 * len(ordered))]
    print(f"{len(times)} answers beside fits: median {ordered[len(ordered) // 2]:.0f} ms, 95% {at95:.0f} ms")


def slow_and_broken(address: str) -> None:
    """Clients that send a little and wait, and that go away in the middle; a ping beside them."""
    host, port = httpx.URL(address).host, httpx.URL(address).port
    held = []
    for number in range(SLOW_CLIENTS):
        made = socket.create_connection((host, port))
        head = f"POST /records/look HTTP/1.1\r\nHost: {host}:{port}\r\nContent-Length: 100000\r\n"
        made.sendall((head + ("\r\nabc" if number % 2 else "X-Slow: ")).encode())
        held.append(made)
        if number % 4 == 1:
            made.close()
    times = []
    with httpx.Client(base_url=address, timeout=60.0) as client:
        for _ in range(50):
            start = time.monotonic()
            assert client.get("/api/season").status_code == 200
            times.append(1000 * (time.monotonic() - start))
    for made in held:
        made.close()
    print(f"beside {SLOW_CLIENTS} slow and broken clients: slowest of 50 answers {max(times):.0f} ms")


def main(folder: Path, requests: int, users: int) -> None:
    """Start the page on a copy of the folder and do all three."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(shutil.copytree(folder, Path(name) / "page"))
        page = subprocess.Popen(
            [sys.executable, "-c", "from slidefit.cli.main import run; run()", "serve", "--port", "0"],
            cwd=place, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert page.stderr
        try:
            address = ""
            while not address:
                line = page.stderr.readline()
                assert line, "the page did not start"
                found = re.search(r"http://[\w.:]+", line)
                address = found.group(0) if found else ""
            threading.Thread(target=page.stderr.read, daemon=True).start()
            with httpx.Client(base_url=address, timeout=60.0) as client:
                client.get("/decide")
            mixed(address, page.pid, requests, users)
            beside_fits(address, 3)
            slow_and_broken(address)
        finally:
            page.terminate()
            page.wait(30)


if __name__ == "__main__":
    main(
        Path(sys.argv[1]),
        int(sys.argv[2]) if len(sys.argv) > 2 else 10_000,
        int(sys.argv[3]) if len(sys.argv) > 3 else 200,
    )
