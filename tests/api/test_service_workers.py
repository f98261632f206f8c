"""Work that is given up frees its process: killed, gone and replaced, proven by process ids.

That a process is gone within a second is a promise; it takes some hundredths. That another stands
ready takes a fork, and longer only where the machine has other things to do.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import socket
import time
from collections.abc import AsyncIterator, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from layoutcheck.report import check_document
from layoutcheck.report.portions import portions_json
from layoutcheck_service.limits import Limits
from layoutcheck_service.problems import Kind, ProblemError
from layoutcheck_service.work.engine import InnerFault
from layoutcheck_service.work.job import Job, name_of
from layoutcheck_service.work.pool import Pool, Size
from tests.api import slow_work
from tests.api.running import BYTES, JSON, Running, eventually, is_there, running

LIMITS = Limits(entries=1000, nesting=50, string=1000)
MEGABYTE = 1024 * 1024
SOON = 60.0


@asynccontextmanager
async def pool_of(folder: Path, **given: Any) -> AsyncIterator[Pool]:
    sizes = {"workers": 1, "most_waiting": 8, "most_each": 8, "wait_seconds": 20.0}
    limits = {"work_seconds": 20.0, "memory": 1024 * MEGABYTE}
    pool = Pool(LIMITS, Size(**{**sizes, **limits, **given}), folder=lambda: folder)
    await pool.start()
    try:
        yield pool
    finally:
        await pool.stop(0)


def job(function: Any, *args: Any, held: bytes = b"") -> Job:
    return Job(name_of(function), args, held)


async def until(true: Any, *, within: float = SOON) -> None:
    start = time.monotonic()
    while not true():
        assert time.monotonic() - start < within
        await asyncio.sleep(0.01)


async def check_replaced(pool: Pool, before: int, folder: Path) -> None:
    """The process is gone within a second, another takes its place, and its files are gone."""
    await until(lambda: not is_there(before))
    await until(lambda: pool.state().free == 1, within=SOON)
    answer = await pool.run(job(slow_work.echoed, held=b"still there"))
    assert answer.body == b"still there"
    assert before not in pool.pids()
    assert len(list(folder.iterdir())) == 1  # the new worker's own folder


def test_a_job_s_answer_comes_back_byte_for_byte(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path) as pool:
            for size in (0, 1, 70_000, 3 * MEGABYTE):
                body = os.urandom(size)
                assert (await pool.run(job(slow_work.echoed, held=body))).body == body

    asyncio.run(ask())


def test_work_that_takes_too_long_frees_its_process(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path, work_seconds=0.3) as pool:
            (before,) = pool.pids()
            with pytest.raises(ProblemError) as told:
                await pool.run(job(slow_work.burned, 600.0))
            assert told.value.kind is Kind.TOO_HEAVY
            await check_replaced(pool, before, tmp_path)

    asyncio.run(ask())


def test_work_that_is_given_up_frees_its_process(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path) as pool:
            (before,) = pool.pids()
            task = asyncio.ensure_future(pool.run(job(slow_work.burned, 600.0)))
            await asyncio.sleep(0.2)
            task.cancel()
            with pytest.raises(asyncio.CancelledError):
                await task
            await check_replaced(pool, before, tmp_path)

    asyncio.run(ask())


def test_a_greedy_job_is_refused_and_its_process_replaced(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path, memory=256 * MEGABYTE) as pool:
            (before,) = pool.pids()
            answer = await pool.run(job(slow_work.devoured))
            assert answer.status == 413
            assert json.loads(answer.body)["type"] == "urn:layoutcheck:problem:too-heavy"
            await check_replaced(pool, before, tmp_path)

    asyncio.run(ask())


def test_a_process_that_dies_is_an_inner_fault_and_replaced(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path) as pool:
            (before,) = pool.pids()
            with pytest.raises(InnerFault):
                await pool.run(job(slow_work.died))
            await check_replaced(pool, before, tmp_path)

    asyncio.run(ask())


def test_a_process_that_dies_idle_costs_no_answer(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path) as pool:
            (before,) = pool.pids()
            os.kill(before, signal.SIGKILL)
            await until(lambda: not is_there(before))
            await asyncio.sleep(0.05)  # the loop learns of it
            await check_replaced(pool, before, tmp_path)

    asyncio.run(ask())


def test_an_error_keeps_the_process_and_tells_where_it_arose(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path) as pool:
            before = pool.pids()
            with pytest.raises(InnerFault) as told:
                await pool.run(job(slow_work.failed))
            assert told.value.kind == "KeyError"
            assert "slow_work.py" in told.value.told[-1]
            assert "secret" not in str(told.value)
            assert pool.pids() == before

    asyncio.run(ask())


def test_the_row_is_bounded_and_each_owner_has_a_share(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path, most_waiting=2, most_each=2) as pool:
            slow = job(slow_work.slept, 0.5)
            both = [asyncio.ensure_future(pool.run(slow, owner="A")) for _ in range(2)]
            await asyncio.sleep(0.1)
            with pytest.raises(ProblemError) as told:
                await pool.run(slow, owner="A")
            assert told.value.kind is Kind.SHARE_USED
            assert int((told.value.headers or {})["Retry-After"]) >= 1
            third = asyncio.ensure_future(pool.run(slow, owner="B"))
            await asyncio.sleep(0.1)
            with pytest.raises(ProblemError) as told:
                await pool.run(slow, owner="C")
            assert told.value.kind is Kind.BUSY
            assert int((told.value.headers or {})["Retry-After"]) >= 1
            await asyncio.gather(*both, third)
            assert (await pool.run(slow, owner="A")).status == 200  # its share is free again

    asyncio.run(ask())


def test_long_jobs_never_hold_every_worker(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path, workers=2) as pool:
            long = Job(name_of(slow_work.slept), (1.0,), long=True)
            held = [asyncio.ensure_future(pool.run(long)) for _ in range(3)]
            await asyncio.sleep(0.1)
            assert pool.state().free == 1  # the other long ones wait all the same
            assert pool.state().waiting == 2
            assert (await pool.run(job(slow_work.echoed))).status == 200
            assert not held[0].done()
            held[1].cancel()  # one that waits gives up; the row goes on
            assert [a.status for a in await asyncio.gather(held[0], held[2])] == [200, 200]
            assert pool.state().free == 2
            both = (pool.run(job(slow_work.slept, 0.5)) for _ in range(2))
            assert [a.status for a in await asyncio.gather(*both)] == [200, 200]

    asyncio.run(ask())


def test_a_long_job_that_is_killed_makes_room_for_the_next(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path, work_seconds=0.3) as pool:
            for _ in range(2):
                with pytest.raises(ProblemError):
                    await pool.run(Job(name_of(slow_work.burned), (600.0,), long=True))
            done = await pool.run(Job(name_of(slow_work.echoed), (), b"x", long=True))
            assert done.body == b"x"

    asyncio.run(ask())


def test_one_that_waits_too_long_is_told_and_leaves_the_row(tmp_path: Path) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path, wait_seconds=0.2) as pool:
            slow = asyncio.ensure_future(pool.run(job(slow_work.slept, 0.6)))
            await asyncio.sleep(0.05)
            with pytest.raises(ProblemError) as told:
                await pool.run(job(slow_work.echoed))
            assert told.value.kind is Kind.BUSY
            assert pool.state().waiting == 0
            assert (await slow).status == 200
            assert (await pool.run(job(slow_work.echoed))).status == 200

    asyncio.run(ask())


@pytest.mark.parametrize("grace", [5.0, 0.2])
def test_a_stop_finishes_or_refuses_what_is_in_flight(tmp_path: Path, grace: float) -> None:
    async def ask() -> None:
        async with pool_of(tmp_path) as pool:
            pids = pool.pids()
            runs = asyncio.ensure_future(pool.run(job(slow_work.slept, 1.0, held=b"whole")))
            waits = asyncio.ensure_future(pool.run(job(slow_work.echoed)))
            await asyncio.sleep(0.1)
            await pool.stop(grace)
            ends = await asyncio.gather(runs, waits, return_exceptions=True)
            if grace > 1:
                assert getattr(ends[0], "body", None) == b"whole"
            else:
                assert getattr(ends[0], "kind", None) is Kind.STOPPING
            assert getattr(ends[1], "kind", None) is Kind.STOPPING
            with pytest.raises(ProblemError):
                await pool.run(job(slow_work.echoed))
            await until(lambda: not any(is_there(pid) for pid in pids))

    asyncio.run(ask())


# --- the same over HTTP, in a service of its own --------------------------------------------------


@pytest.fixture(scope="module")
def service() -> Iterator[Running]:
    settings = {"workers": 2, "work_seconds": 3, "send_seconds": 1, "head_seconds": 1}
    with running("-m", "tests.api.slow_service", **settings) as made:
        yield made


def connect(service: Running) -> socket.socket:
    host, port = service.address.removeprefix("http://").split(":")
    return socket.create_connection((host, int(port)), timeout=20)


def pids_of(service: Running) -> set[int]:
    return set(httpx.get(f"{service.address}/pids", timeout=20).json())


def busy(service: Running) -> float:
    """How many workers are at work, from the service's own numbers."""
    text = httpx.get(f"{service.address}/metrics", timeout=20).text
    numbers = dict(line.rsplit(" ", 1) for line in text.splitlines() if line[0] != "#")
    return float(numbers["layoutcheck_workers"]) - float(numbers["layoutcheck_workers_free"])


def test_a_request_over_its_time_is_told_so_and_frees_its_process(service: Running) -> None:
    before = pids_of(service)
    answer = httpx.post(f"{service.address}/burn?seconds=600", headers=BYTES, timeout=20)
    assert answer.status_code == 413
    assert answer.json()["type"] == "urn:layoutcheck:problem:too-heavy"
    eventually(lambda: sum(is_there(pid) for pid in before) == 1, within=SOON)
    eventually(lambda: len(pids_of(service) - before) == 1, within=SOON)


def test_a_client_that_leaves_frees_its_process(service: Running) -> None:
    before = pids_of(service)
    with connect(service) as left:
        head = b"POST /burn?seconds=600 HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n"
        left.sendall(head + b"Content-Type: application/octet-stream\r\n\r\n")
        eventually(lambda: busy(service) == 1, within=SOON)
    eventually(lambda: sum(is_there(pid) for pid in before) == 1, within=SOON)
    eventually(lambda: len(pids_of(service)) == 2, within=SOON)
    assert busy(service) == 0


def test_a_client_that_does_not_take_its_answer_is_cut_off(service: Running) -> None:
    size = 24 * MEGABYTE  # far more than the kernel keeps for a connection
    with connect(service) as slow:
        head = f"POST /echo HTTP/1.1\r\nHost: x\r\nContent-Length: {size}\r\n"
        slow.sendall(head.encode() + b"Content-Type: application/octet-stream\r\n\r\n")
        slow.sendall(b"x" * size)
        time.sleep(3)
        got = 0
        with contextlib.suppress(ConnectionError):
            while part := slow.recv(MEGABYTE):
                got += len(part)
    assert got < size
    answer = httpx.post(f"{service.address}/echo", content=b"x" * size, headers=BYTES, timeout=20)
    assert answer.content == b"x" * size


def test_a_body_that_nobody_waits_for_does_not_hold_the_connection(service: Running) -> None:
    with connect(service) as slow:
        slow.sendall(b"POST /nowhere HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n")
        assert slow.recv(65536).startswith(b"HTTP/1.1 404")
        with pytest.raises(ConnectionError):
            for _ in range(999):  # the body's length is never reached
                slow.sendall(b"x")
                time.sleep(0.05)


def test_a_health_check_is_answered_while_all_work(service: Running) -> None:
    with ThreadPoolExecutor() as apart:
        asked = f"{service.address}/slow?seconds=1"
        work = [apart.submit(httpx.post, asked, headers=BYTES, timeout=20) for _ in range(4)]
        eventually(lambda: busy(service) == 2, within=SOON)
        assert httpx.get(f"{service.address}/health", timeout=1).status_code == 200
        assert httpx.get(f"{service.address}/ready", timeout=1).status_code == 200
        assert {w.result().status_code for w in work} == {200}


def test_sigterm_finishes_what_ends_soon_and_refuses_the_rest() -> None:
    settings = {"workers": 2, "stop_seconds": 2.5, "log_level": "info"}
    with running("-m", "tests.api.slow_service", **settings) as service:
        pids = pids_of(service)
        with ThreadPoolExecutor() as apart:

            def ask(path: str) -> Future[httpx.Response]:
                address = service.address + path
                return apart.submit(httpx.post, address, content=b"all", headers=BYTES, timeout=20)

            ends, endless = ask("/slow?seconds=1.5"), ask("/burn?seconds=600")
            eventually(lambda: busy(service) == 2, within=SOON)
            waits = ask("/slow?seconds=0")
            time.sleep(0.3)
            said = service.stopped(within=60)
    assert (ends.result().status_code, ends.result().content) == (200, b"all")
    for refused in (endless.result(), waits.result()):
        assert refused.status_code == 503
        assert refused.json()["type"] == "urn:layoutcheck:problem:not-serving"
        assert refused.headers["retry-after"] == "1"
    assert service.process.returncode == 0
    assert not any(is_there(pid) for pid in pids)
    assert "Traceback" not in said


def test_killed_workers_cost_an_answer_at_most_and_a_killed_service_leaves_none(
    layout: dict[str, Any],
) -> None:
    expected = portions_json(check_document(layout)).encode()
    body = json.dumps({"layout": layout})
    with running("-m", "tests.api.slow_service", workers=2) as service:
        before = pids_of(service)
        for pid in before:
            os.kill(pid, signal.SIGKILL)
        statuses = []
        for _ in range(6):
            address = f"{service.address}/v1/checks"
            answer = httpx.post(address, content=body, headers=JSON, timeout=20)
            statuses.append(answer.status_code)
            assert answer.status_code == 500 or answer.content == expected
        assert statuses.count(500) <= 2
        assert statuses[-2:] == [200, 200]
        after = pids_of(service)
        assert not before & after
        service.stopped(signal.SIGKILL)
        eventually(lambda: not any(is_there(pid) for pid in after), within=SOON)
