"""Where tasks run: a dask cluster, of this machine's own or one that is there already."""

from __future__ import annotations

import contextlib
import logging
import queue
import signal
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from multiprocessing import resource_tracker
from typing import Any

from distributed import Client, Future, LocalCluster

from layoutcheck.survey.run import Done
from layoutcheck.survey.tasks import OtherVersion, Task, run_task

# s without any worker, or without the scheduler, after which a survey gives up.
PATIENCE = 60.0

# s between two looks at the workers, and at whether a key was struck.
_GLANCE = 0.5
_COUNT_EVERY = 5.0

_GONE = "the cluster is gone, or has no workers left; what is finished is kept"


class ClusterLost(Exception):
    """Raised when there is nobody to work. message: one line for people."""


@contextlib.contextmanager
def pool_at(address: str | None, workers: int | None) -> Iterator[DaskPool]:
    """Give a pool on a cluster by its address, or on processes of this machine.

    workers: processes of this machine; one for each core if None. Raises ClusterLost.
    """
    for name in ("distributed", "tornado"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    warnings.filterwarnings("ignore", module="distributed")  # a large document is meant to be sent
    with contextlib.ExitStack() as stack:
        if address is None:
            with _deaf_to_ctrl_c():
                local = LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,  # the search is Python: threads would take turns
                    processes=True,
                    dashboard_address="127.0.0.1:0",  # else it complains of a busy port
                    silence_logs=logging.CRITICAL,
                )
            stack.enter_context(local)
            client = stack.enter_context(Client(local))
        else:
            client = stack.enter_context(_connected(address))
        yield DaskPool(client)


@contextlib.contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Let what is started here not hear Ctrl-C: we do, and end it in good order.

    A terminal sends it to every process. Blocked signals are handed down to threads and processes.
    """
    if sys.platform == "win32":
        yield
        return
    resource_tracker.ensure_running()  # else a process started later starts it, and hears again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _connected(address: str) -> Client:
    try:
        client = Client(address, timeout=f"{PATIENCE / 2:.0f}s", set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterLost(f"no scheduler answers at {address}: {_said(error)}") from None
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except TimeoutError:
        client.close()
        raise ClusterLost(f"the scheduler at {address} has no workers") from None
    return client


class DaskPool:
    """Tasks on a dask cluster.

    dask hands a task out again when its worker dies, and gives it up when several workers died
    with it: then it is taken for the task's own fault, and comes back without a result.
    """

    def __init__(self, client: Client) -> None:
        """Take a client; it stays the caller's to close."""
        self._client = client
        self._done: queue.SimpleQueue[Future[Any]] = queue.SimpleQueue()
        self._tasks: dict[object, tuple[Task, Future[Any]]] = {}
        self._counted = 0.0
        self._width = 1

    @property
    def width(self) -> int:
        """Give how many tasks run at a time; workers may come and go."""
        if time.monotonic() - self._counted > _COUNT_EVERY:
            self._counted = time.monotonic()
            self._width = max(1, sum(int(w["nthreads"]) for w in self._workers().values()))
        return self._width

    def on_each(self, function: Callable[..., Any], *given: object) -> dict[str, Any]:
        """Call a function on every worker; give what each gives, by its address."""
        return dict(self._client.run(function, *given))

    def submit(self, task: Task) -> None:
        """Take a task."""
        if self._client.status == "closed":
            raise ClusterLost(_GONE)
        future = self._client.submit(run_task, task, pure=False)
        self._tasks[future.key] = (task, future)
        future.add_done_callback(self._done.put)

    def next(self) -> Done:
        """Wait until a task is done, and give it. Raises ClusterLost, OtherVersion."""
        future = self._wait()
        task, _ = self._tasks.pop(future.key)
        try:
            return Done(task, future.result())
        except OtherVersion:
            raise
        except (Exception, CancelledError) as error:
            # When the scheduler goes, every task is lost at once, and none of them is at fault.
            self._wait_for_scheduler()
            return Done(task, trouble=f"lost with its worker: {_said(error)}")

    def _wait(self) -> Future[Any]:
        """Wait for a future; in short steps, so that Ctrl-C is heard and a lost cluster seen."""
        last_seen = time.monotonic()
        while True:
            try:
                return self._done.get(timeout=_GLANCE)
            except queue.Empty:
                if self._client.status == "running" and self._workers():
                    last_seen = time.monotonic()
                elif time.monotonic() - last_seen > PATIENCE:
                    raise ClusterLost(_GONE) from None

    def _wait_for_scheduler(self) -> None:
        """Wait until the scheduler answers; it may only have been started anew."""
        end = time.monotonic() + PATIENCE
        while self._client.status != "running":
            if self._client.status == "closed" or time.monotonic() > end:
                raise ClusterLost(_GONE)
            time.sleep(_GLANCE)

    def _workers(self) -> dict[str, Any]:
        known: dict[str, Any] = dict(self._client.scheduler_info(n_workers=-1).get("workers", {}))
        return known


def _said(error: BaseException) -> str:
    """Give an error's first line, shortened, after its type."""
    first = (str(error).splitlines() or [""])[0][:160]
    return f"{type(error).__name__}: {first}" if first else type(error).__name__
