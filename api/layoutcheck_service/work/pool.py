"""Worker processes that are killed and replaced when a request is given up or takes too long.

Written here and not taken from a library: each worker has a socket of its own, so that killing one
harms no lock or pipe that others share, and the event loop waits for it without a thread.
"""

from __future__ import annotations

import asyncio
import atexit
import logging
import multiprocessing
import os
import shutil
import socket
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.context import BaseContext
from pathlib import Path
from typing import Any

from layoutcheck_service.limits import Limits
from layoutcheck_service.problems import Kind, ProblemError, refusal
from layoutcheck_service.work import wire
from layoutcheck_service.work.engine import InnerFault, NotReadyError, State
from layoutcheck_service.work.job import Answer, Job
from layoutcheck_service.work.queue import Queue
from layoutcheck_service.work.worker import run as run_worker

_LOG = logging.getLogger("layoutcheck_service")

_READ_AHEAD = 1 << 20
# Until a worker must be ready (s); the first one of all waits until everything is loaded.
_START = 300.0
# Between tries to start a worker where none will start (s).
_PAUSE = 1.0
# Many processes that each use every processor get in each other's way. Set before any is started,
# because the libraries read it while they are loaded.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


@dataclass(frozen=True)
class Size:
    """How large a pool is and what one job may take: processes, requests, seconds, bytes."""

    workers: int
    most_waiting: int
    most_each: int
    wait_seconds: float
    work_seconds: float
    memory: int


@dataclass(eq=False)
class Worker:
    """One process, our end of its socket, and the folder for the files it needs for a while."""

    process: Any  # multiprocessing's processes of a context share no useful public type
    folder: Path
    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter

    @property
    def pid(self) -> int:
        """Its process id."""
        return int(self.process.pid)

    async def ask(self, job: Job) -> tuple[dict[str, Any], bytes]:
        """Send a job and wait for its frame. Raises OSError, EOFError where the process dies."""
        head = {"function": job.function, "args": job.args, "file": job.file}
        before, after = wire.packed(head, job.held)
        self.writer.write(before)
        if after:
            self.writer.write(after)
        await self.writer.drain()
        return await wire.receive_soon(self.reader)

    def kill(self) -> None:
        """End it now, whatever it does."""
        if self.process.is_alive():
            self.process.kill()
        self.writer.close()


class Pool:
    """An engine of worker processes."""

    def __init__(
        self,
        limits: Limits,
        size: Size,
        *,
        folder: Callable[[], Path],
        lost: Callable[[str], None] = lambda why: None,
    ) -> None:
        """folder: gives one for the workers' files. lost: told why a worker is replaced."""
        self._limits = limits
        self._size = size
        self._folder = folder
        self._lost = lost
        self._queue: Queue[Worker] = Queue(
            places=size.workers,
            most_waiting=size.most_waiting,
            most_each=size.most_each,
            patience=size.wait_seconds,
        )
        self._workers: set[Worker] = set()
        self._running: set[asyncio.Task[Answer]] = set()
        self._starting: set[asyncio.Task[None]] = set()
        self._serving = False
        self._cut = False

    async def start(self) -> None:
        """Start every worker, once. Raises NotReadyError where one does not get ready."""
        if self._serving:
            return
        prepare()
        # Before multiprocessing waits for its processes at the end, which these would not heed.
        atexit.register(self._kill_all)
        # One after the other: the first waits for the process that the others are forked from.
        for _ in range(self._size.workers):
            self._put(await self._started())
        self._serving = True
        self._queue.open()

    async def stop(self, seconds: float) -> None:
        """Refuse who waits, let running work go on for so long (s), then end it."""
        self._serving = False
        self._queue.close()
        if self._running and seconds > 0:
            await asyncio.wait(set(self._running), timeout=seconds)
        self._cut = True
        for task in list(self._running):
            task.cancel()
        for start in self._starting:
            start.cancel()
        self._kill_all()
        atexit.unregister(self._kill_all)

    def _kill_all(self) -> None:
        for worker in self._workers:
            worker.kill()
        self._workers.clear()

    def refuse_early(self, owner: str | None, *, long: bool = False) -> None:
        """Raise ProblemError where a request of this owner would find no place just now."""
        self._queue.check(owner, long=long)

    async def run(self, job: Job, *, owner: str | None = None) -> Answer:
        """Do a job in a worker. If this is cancelled, that process is killed and replaced."""
        with self._queue.counted(owner, long=job.long):
            worker = await self._living(long=job.long)
            # In a task of its own, so that a stop can end the work and still have it answered.
            task = asyncio.ensure_future(self._done_by(worker, job))
            self._running.add(task)
            try:
                return await task
            except asyncio.CancelledError:
                if self._cut and not _is_cancelled():
                    detail = "The service stopped before the work was done. Nothing was judged."
                    raise refusal(Kind.STOPPING, detail, seconds=1) from None
                raise
            finally:
                self._running.discard(task)

    async def _living(self, *, long: bool) -> Worker:
        """Take a free worker; one that died while it was idle costs nobody an answer."""
        while True:
            worker = await self._queue.take(long=long)
            if not worker.reader.at_eof():
                return worker
            if long:
                self._queue.end_long()
            self._replace(worker, "died")

    async def _done_by(self, worker: Worker, job: Job) -> Answer:
        start = time.perf_counter()
        why = "given up"
        try:
            async with asyncio.timeout(self._size.work_seconds):
                head, body = await worker.ask(job)
            why = "too heavy" if head.get("spent") else ""
        except TimeoutError:
            why = "too long"
            detail = f"The work takes longer than the {self._size.work_seconds:g} s that one may."
            raise ProblemError(Kind.TOO_HEAVY, detail) from None
        except (OSError, EOFError):
            why = "died"
            raise InnerFault("the worker process died") from None
        finally:
            self._queue.measured(time.perf_counter() - start)
            if job.long:
                self._queue.end_long()
            if why:
                self._replace(worker, why)
            else:
                self._put(worker)
        return _answer(head, body)

    def state(self) -> State:
        """Tell how the pool stands."""
        return State(
            wanted=self._size.workers,
            workers=len(self._workers),
            free=self._queue.free,
            waiting=self._queue.waiting,
            serving=self._serving,
        )

    def pids(self) -> set[int]:
        """Give the ids of the processes that are there now."""
        return {worker.pid for worker in self._workers}

    def _put(self, worker: Worker) -> None:
        self._workers.add(worker)
        self._queue.put(worker)

    def _replace(self, worker: Worker, why: str) -> None:
        worker.kill()
        self._workers.discard(worker)
        if self._cut:
            return
        self._lost(why)
        _LOG.info("worker replaced", extra={"pid": worker.pid, "why": why})
        task = asyncio.ensure_future(self._another(worker.folder))
        self._starting.add(task)
        task.add_done_callback(self._starting.discard)

    async def _another(self, gone: Path) -> None:
        await asyncio.to_thread(shutil.rmtree, gone, ignore_errors=True)
        while True:
            try:
                self._put(await self._started())
                return
            except (NotReadyError, OSError, EOFError):
                _LOG.exception("no worker could be started")
                await asyncio.sleep(_PAUSE)

    async def _started(self) -> Worker:
        ours, theirs = socket.socketpair()
        folder = Path(tempfile.mkdtemp(prefix="worker-", dir=self._folder()))
        arguments = (theirs, self._limits, self._size.memory, str(folder))
        process: Any = _context().Process(  # type: ignore[attr-defined]
            target=run_worker, args=arguments, name="layoutcheck worker", daemon=True
        )
        try:
            with theirs:
                await asyncio.to_thread(process.start)
            ours.settimeout(0)
            reader, writer = await asyncio.open_connection(sock=ours, limit=_READ_AHEAD)
        except BaseException:
            ours.close()
            raise
        worker = Worker(process, folder, reader, writer)
        try:
            async with asyncio.timeout(_START):
                head, _ = await wire.receive_soon(reader)
            refuse_faulty(head["fault"])
        except BaseException as error:
            worker.kill()
            if isinstance(error, OSError | EOFError):  # TimeoutError is one
                raise NotReadyError("a worker process ended while it started.") from None
            raise
        return worker


def refuse_faulty(fault: str | None) -> None:
    """Raise NotReadyError where a worker names the fault that its warming up ended in."""
    if fault is not None:
        raise NotReadyError(
            f"a fault of layoutcheck itself ({fault}): it can not judge its own example, so it "
            "does not start."
        )


def prepare() -> None:
    """Begin to load what workers need, in the process they will be forked from; does not wait."""
    for name in _ONE_THREAD:
        os.environ.setdefault(name, "1")
    if _context().get_start_method() == "forkserver":
        from multiprocessing import forkserver  # noqa: PLC0415 - not on every system

        forkserver.ensure_running()


def _context() -> BaseContext:
    """Fork workers from a process of its own that has loaded everything, where there is such."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["layoutcheck_service.work.warm"])
    return context


def _is_cancelled() -> bool:
    """Tell whether the task that runs this was itself told to stop."""
    task = asyncio.current_task()
    return task is not None and task.cancelling() > 0


def _answer(head: dict[str, Any], body: bytes) -> Answer:
    if "fault" in head:
        raise InnerFault(head["fault"], tuple(head["told"]), head["text"])
    headers = tuple((k.encode("latin-1"), v.encode("latin-1")) for k, v in head["headers"])
    return Answer(head["status"], headers, body)
