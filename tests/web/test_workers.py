"""Jobs apart: what they may use, what they tell, and that they hold nobody up."""

from __future__ import annotations

import re
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import hostile_jobs
import pytest
from running import Running, token_in

from slidefit.errors import QuestionError, SlidefitError
from slidefit.web import records_views, workers
from slidefit.web.workers import Limits, WorkerCrashError, run_apart

SHORT = Limits(1.5, 2 << 30)
PING_SECONDS = 0.3
HANDS = 3  # threads that an answer passes through: the client's, the server's, one of its workers'


def queued_seconds() -> dict[str, float]:
    """Return how long each thread of this process stood in line for a processor: other programs' doing, not ours."""
    found = {}
    for path in Path("/proc/self/task").glob("*/schedstat"):
        with suppress(OSError):  # a thread that has just ended
            found[path.parent.name] = int(path.read_text().split()[1]) / 1e9
    return found


def test_a_job_that_takes_too_long_is_stopped() -> None:
    run_apart(hostile_jobs.hold, 0.0)  # the library is loaded now
    start = time.monotonic()
    with pytest.raises(SlidefitError, match=r"took longer than 2 seconds .* Split it"):
        run_apart(hostile_jobs.burn, limits=SHORT)
    assert time.monotonic() - start < 4.0


def test_a_job_that_wants_too_much_memory_is_stopped() -> None:
    with pytest.raises(SlidefitError, match="needed more memory"):
        run_apart(hostile_jobs.swell, limits=Limits(20.0, 1 << 30))


def test_a_job_that_the_system_ends_is_told_as_memory() -> None:
    with pytest.raises(SlidefitError, match="needed more memory"):
        run_apart(hostile_jobs.die, True)
    with pytest.raises(WorkerCrashError, match="ended with 3"):
        run_apart(hostile_jobs.die, False)


def test_a_jobs_own_fault_comes_back_whole() -> None:
    with pytest.raises(QuestionError) as fault:
        run_apart(hostile_jobs.ask)
    assert (fault.value.where, fault.value.what) == ("a.csv", "can be read in two ways")
    assert fault.value.text() == "a.csv: can be read in two ways. Say which."
    with pytest.raises(WorkerCrashError, match="ZeroDivisionError: inside"):
        run_apart(hostile_jobs.trip)
    with pytest.raises(SlidefitError, match="the disk is full"):
        run_apart(hostile_jobs.fill)


def test_the_book_is_held_for_its_turn_only_and_waiting_costs_no_time() -> None:
    book, steps = threading.Lock(), []
    limits = Limits(2.5, 2 << 30)
    book.acquire()
    with ThreadPoolExecutor(1) as pool:
        job = pool.submit(run_apart, hostile_jobs.hold, 0.6, limits=limits, tell=steps.append, book=book)
        time.sleep(3.0)
        assert not job.done() and steps == ["before"]
        book.release()
        time.sleep(0.3)
        assert book.locked()
        assert job.result(10.0) == "held"
    assert not book.locked()


def test_the_book_is_let_go_when_its_holder_is_stopped() -> None:
    book = threading.Lock()
    with pytest.raises(SlidefitError, match="took longer"):
        run_apart(hostile_jobs.hold, 60.0, limits=SHORT, book=book)
    assert not book.locked()


def test_a_hostile_upload_holds_nobody_up(own_page: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(records_views, "look_at", hostile_jobs.burn)
    usual = workers.run_apart.__kwdefaults__
    monkeypatch.setattr(workers.run_apart, "__kwdefaults__", {**usual, "limits": SHORT})
    with own_page.client() as client:
        token = token_in(client.get("/records").text)
        sent = {"data": {"token": token}, "files": {"files": ("a.csv", b"1" + b" " * 4000 + b"x")}}
        with ThreadPoolExecutor(5) as pool:
            uploads = [pool.submit(client.post, "/records/look", **sent) for _ in range(5)]
            waits = []
            with own_page.client() as other:
                other.get("/enter")
                while not uploads[3].done():
                    start, before = time.monotonic(), queued_seconds()
                    assert other.get("/enter").status_code == 303
                    took, after = time.monotonic() - start, queued_seconds()
                    queued = sorted(after[task] - before.get(task, 0.0) for task in after)
                    waits.append(took - sum(queued[-HANDS:]))
                    time.sleep(0.05)
            answers = [upload.result(60.0) for upload in uploads]
    assert len(waits) > 20 and max(waits) < PING_SECONDS, max(waits)
    assert {answer.status_code for answer in answers} == {400}
    assert all(re.search(r"took longer than 2 seconds", answer.text) for answer in answers)
