"""Work shared with other processes of this machine."""

import os
import sys
import time

import pytest

from slidefit import shared_work
from slidefit.errors import FitError
from slidefit.shared_work import Crew, processors


def plus(told, item):
    return told + item


def early_late(told, item):
    """The first items are done last."""
    time.sleep(max(0.0, 0.2 - 0.1 * item))
    return item


def who(told, item):
    return os.getpid()


def fussy(told, item):
    if item == 3:
        raise FitError("three", remedy="Use four.")
    return item


def mortal(told, item):
    """Other processes are lost at their first item."""
    if os.getpid() != told:
        os._exit(1)
    return item


def test_items_come_in_order_whoever_did_them():
    with Crew(100, jobs=2) as crew:
        assert list(crew.map(plus, range(50))) == list(range(100, 150))
        assert list(crew.map(plus, [1])) == [101]
    with Crew(None, jobs=3) as crew:
        list(crew.map(who, range(200)))
        assert list(crew.map(early_late, range(9))) == list(range(9))


def test_others_work_too_and_are_gone_at_the_end():
    with Crew(None, jobs=2) as crew:
        pids = set()
        while len(pids) < 2:
            pids |= set(crew.map(who, range(200)))
        (other,) = crew.others
        assert pids == {os.getpid(), other.pid}
    assert other.returncode is not None


def test_what_another_process_can_not_do_is_done_by_this_one():
    with Crew(os.getpid(), jobs=2) as crew:
        other = crew.others[0]
        assert list(crew.map(mortal, range(20))) == list(range(20))
        other.kill()
        assert list(crew.map(mortal, range(20))) == list(range(20))
    with Crew(1, jobs=2) as crew:
        assert list(crew.map(lambda told, item: told + item, range(20))) == list(
            range(1, 21)
        )  # can't be sent


@pytest.mark.parametrize("jobs", [1, 2])
def test_a_fault_comes_back_as_it_was(jobs):
    with Crew(None, jobs=jobs) as crew, pytest.raises(FitError, match="three") as fault:
        list(crew.map(fussy, range(10)))
    assert fault.value.remedy == "Use four."


def test_without_a_program_to_start_all_is_done_here(monkeypatch):
    monkeypatch.setattr(sys, "executable", "")
    with Crew(1, jobs=3) as crew:
        assert crew.others == [] and list(crew.map(plus, [1, 2])) == [2, 3]
    monkeypatch.setattr(shared_work.os, "cpu_count", lambda: None)
    assert processors() >= 1
