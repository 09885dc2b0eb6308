"""The chunks of a fit on a Dask cluster: each is read where it lies if all machines see it, and is sent otherwise."""

from __future__ import annotations

import socket
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from uuid import uuid4

from threadpoolctl import threadpool_limits

from slidefit.errors import EngineError
from slidefit.facts import Setting, Text
from slidefit.market.fit.lots import Lots, LotSource, Span, SpooledLots

if TYPE_CHECKING:
    from distributed import Client, Future


Told = TypeVar("Told", contravariant=True)
Found = TypeVar("Found")

CONNECT_SECONDS = 10.0
LOOK_SECONDS = 5.0
ALONE_SECONDS = 30.0
AHEAD_PER_THREAD = 3
_OPTION = Text(Setting("scheduler"))


@contextmanager
def dask_engine(address: str) -> Iterator[DaskEngine]:
    """Give an engine that works on the cluster whose scheduler listens at ``address``, such as tcp://10.0.0.5:8786.

    Raises
    ------
    EngineError
        Dask is not installed, no scheduler answers there, it has no worker, or a worker can't run this slidefit.
    """
    try:
        from distributed import Client
    except ImportError as fault:
        raise EngineError(
            "Dask is not installed",
            where=Text(Setting("engine", "dask")),
            remedy="Install it: pip install 'slidefit[dask]'",
        ) from fault
    _check_listening(address)
    try:
        client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as fault:
        raise _no_scheduler(address, fault) from fault
    try:
        _check_workers(client, address)
        yield DaskEngine(client, address)
    finally:
        client.close()


def _check_listening(address: str) -> None:
    """Refuse an address that nothing listens at, before a client is made that would wait for it."""
    from distributed.comm import get_address_host_port, parse_address

    try:
        scheme, _ = parse_address(address)
        host, port = get_address_host_port(address)
        if scheme in ("tcp", "tls"):
            socket.create_connection((host, port), timeout=CONNECT_SECONDS).close()
    except (OSError, ValueError) as fault:
        raise _no_scheduler(address, fault) from fault


def _no_scheduler(address: str, fault: Exception) -> EngineError:
    return EngineError(
        f"no Dask scheduler answers at {address} ({fault})",
        where=_OPTION,
        remedy="Start one (dask scheduler) and give the address that it prints, such as tcp://10.0.0.5:8786.",
    )


def _check_workers(client: Client, address: str) -> None:
    """Refuse a cluster without workers, or whose workers run another slidefit or none."""
    from slidefit import __version__

    try:
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
    except TimeoutError as fault:
        raise EngineError(
            f"the Dask scheduler at {address} has no worker",
            where=_OPTION,
            remedy=f"Start some: dask worker {address}",
        ) from fault
    try:
        found = client.run(_version)
    except (ImportError, AttributeError) as fault:
        raise EngineError(
            f"a worker of {address} can't run slidefit ({fault})",
            where=_OPTION,
            remedy=f"Install slidefit {__version__} on every worker, in its own environment.",
        ) from fault
    other = sorted({version for version in found.values() if version != __version__})
    if other:
        raise EngineError(
            f"a worker of {address} has slidefit {', '.join(other)}; this is {__version__}",
            where=_OPTION,
            remedy="Install the same version on every worker.",
        )


def _version() -> str:
    from slidefit import __version__

    return __version__


def _work_on(work: Callable[[Lots, Told], Found], lots: Lots, told: Told) -> Found:
    with threadpool_limits(limits=1):
        return work(lots, told)


def _work_on_disk(work: Callable[[Lots, Told], Found], part: SpooledLots, told: Told) -> Found:
    (span,) = part.spans(rows=max(len(part), 1))
    return _work_on(work, part.read(span), told)


class DaskEngine:
    """Maps work over chunks on a Dask cluster, a few chunks ahead of what was taken.

    Parameters
    ----------
    client : distributed.Client
    address : str. Of the scheduler, for what is said of it.

    Notes
    -----
    Lots that lie in a folder which every worker sees are read there by the workers; any others are sent, each chunk
    with its task. A chunk whose worker dies is worked on again by another.
    """

    def __init__(self, client: Client, address: str) -> None:
        self._client = client
        self._address = address
        self._seen: dict[Path, bool] = {}

    def run(
        self, work: Callable[[Lots, Told], Found], source: LotSource, told: Callable[[Span], Told]
    ) -> Iterator[Found]:
        """Yield what ``work`` makes of each chunk, in order of the chunks.

        Raises
        ------
        EngineError. The scheduler or all workers are gone, or a chunk's worker died again and again.
        """
        ahead = AHEAD_PER_THREAD * max(sum(self._client.nthreads().values()), 1)
        waiting: deque[tuple[Span, Future]] = deque()
        for span in source.spans():
            waiting.append((span, self._submit(work, source, span, told(span))))
            if len(waiting) >= ahead:
                yield self._taken(work, source, told, *waiting.popleft())
        while waiting:
            yield self._taken(work, source, told, *waiting.popleft())

    def _submit(self, work: Any, source: LotSource, span: Span, told: Any, *, send: bool = False) -> Future:
        if isinstance(source, SpooledLots) and not send and self._all_see(source.folder):
            return self._client.submit(_work_on_disk, work, source.part(span), told, pure=False)
        return self._client.submit(_work_on, work, source.read(span), told, pure=False)

    def _all_see(self, folder: Path) -> bool:
        """Return whether every worker sees a folder of ours, by a file that only we can have put there."""
        if folder not in self._seen:
            token = folder / f"seen-{uuid4().hex}"
            token.touch()
            self._seen[folder] = all(self._client.run(Path.exists, token).values())
            token.unlink()
        return self._seen[folder]

    def _taken(
        self, work: Any, source: LotSource, told: Callable[[Span], Any], span: Span, future: Future
    ) -> Any:
        """Return a chunk's result; a chunk that a late worker didn't find on its disk is sent."""
        try:
            return self._result(future)
        except FileNotFoundError:
            return self._result(self._submit(work, source, span, told(span), send=True))

    def _result(self, future: Future) -> Any:
        from concurrent.futures import CancelledError

        from distributed import KilledWorker
        from distributed.comm import CommClosedError

        alone = 0.0
        while True:
            try:
                return future.result(timeout=LOOK_SECONDS)
            except TimeoutError:
                alone = 0.0 if self._client.nthreads() else alone + LOOK_SECONDS
                if alone >= ALONE_SECONDS:
                    raise self._fault("has lost its last worker") from None
            except KilledWorker as fault:
                raise self._fault("lost worker after worker on one chunk of the lots") from fault
            except (CancelledError, CommClosedError) as fault:
                raise self._fault("broke off") from fault

    def _fault(self, what: str) -> EngineError:
        return EngineError(
            f"the Dask cluster at {self._address} {what}",
            where=Text(Setting("engine", "dask")),
            remedy="Look at the workers' logs (often they lack memory), or fit here, on this machine alone.",
        )
