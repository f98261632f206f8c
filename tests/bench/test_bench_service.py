"""The service's speed as ratios in one run: a check, and an endpoint that only validates its body.

Both go the same way in one service with the same settings: HTTP, row, worker process, strict JSON,
every fault of the layout looked for. Only what comes after differs, so the ratio says what the
check itself costs, and nothing that the service adds can hide in it.
"""

from __future__ import annotations

import hashlib
import json
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from http.client import HTTPConnection

import pytest

from layoutcheck.report import check_document
from layoutcheck.report.portions import portions_json
from layoutcheck_service.routes.checks import _checked
from layoutcheck_service.settings import Settings
from layoutcheck_service.work.job import Job, name_of
from tests.api.load import Load, Seen, put_load
from tests.api.riser import riser
from tests.api.running import JSON, Running, running

# Each is measured in turns, so that what else the machine does falls on all alike.
TURNS = 3
SECONDS = 4.0
CLIENTS = 4


@pytest.fixture(scope="module")
def service() -> Iterator[Running]:
    with running("-m", "tests.api.slow_service", max_waiting=64) as made:
        yield made


def load_of(service: Running, path: str, expected: bytes) -> Load:
    body = json.dumps({"layout": riser("A")})
    digest = hashlib.sha256(expected).hexdigest()
    return Load(service.address, path, [body], [digest], CLIENTS, SECONDS)


def asked(load: Load) -> Seen:
    seen = put_load(load)
    assert (seen.wrong, seen.failed, seen.refused) == (0, {}, 0)
    return seen


@pytest.fixture(scope="module")
def check(service: Running) -> Load:
    return load_of(service, "/v1/checks", portions_json(check_document(riser("A"))).encode())


@pytest.fixture(scope="module")
def validate(service: Running) -> Load:
    return load_of(service, "/validated", b'{"valid": true}\n')


@pytest.mark.bench
@pytest.mark.xfail(
    strict=False,
    reason="the check itself costs several times the validation; the service adds next to nothing",
)
def test_a_check_runs_at_a_third_of_the_rate_of_a_validation(check: Load, validate: Load) -> None:
    turns = [(asked(check), asked(validate)) for _ in range(TURNS)]
    checks = statistics.median(one.rate for one, _ in turns)
    validations = statistics.median(other.rate for _, other in turns)
    ratio = statistics.median(one.rate / other.rate for one, other in turns)
    print(f"\n{checks:.0f} checks, {validations:.0f} validations a second: ratio {ratio:.3f}")
    assert ratio >= 0.35


@pytest.mark.bench
def test_the_slowest_hundredth_takes_less_than_three_times_the_usual(check: Load) -> None:
    top = asked(check).rate
    check.clients, check.rate, check.seconds = 16, 0.8 * top, 5 * SECONDS
    seen = asked(check)
    ratio = seen.at(0.99) / seen.at(0.5)
    print(
        f"\nat 80 % of {top:.0f} a second: half within {seen.at(0.5) * 1000:.1f} ms, 99 % within "
        f"{seen.at(0.99) * 1000:.1f} ms: ratio {ratio:.2f}"
    )
    assert ratio < 3


@pytest.mark.bench
def test_two_workers_do_nearly_twice_the_work_of_one() -> None:
    """In turns, since what else the machine does falls on both; two processors are needed."""
    expected = portions_json(check_document(riser("A"))).encode()
    with running(workers=1, max_waiting=64) as one, running(workers=2, max_waiting=64) as two:
        loads = load_of(one, "/v1/checks", expected), load_of(two, "/v1/checks", expected)
        pairs = [(asked(loads[0]).rate, asked(loads[1]).rate) for _ in range(TURNS)]
    ratio = statistics.median(more / less for less, more in pairs)
    print(f"\ntwo workers do {ratio:.2f} times the checks of one")
    assert ratio >= 1.8


@pytest.mark.bench
def test_what_the_service_adds_to_a_check_is_little(service: Running, check: Load) -> None:
    """One at a time and in turns: over HTTP, and the same work in this process."""
    body = check.bodies[0].encode()
    job = Job(name_of(_checked), ("",), body)
    limits = Settings().limits()
    with closing(HTTPConnection(service.address.removeprefix("http://"))) as connection:
        pairs = [
            (_timed(lambda: _posted(connection, body)), _timed(lambda: job.done(limits)))
            for _ in range(40)
        ][5:]
    ratio = statistics.median(over for over, _ in pairs) / statistics.median(
        own for _, own in pairs
    )
    print(f"\na check over HTTP takes {ratio:.2f} times what its work takes in process")
    # Another process has other caches, so a part of this is no cost of the service's.
    assert ratio < 1.25


def _posted(connection: HTTPConnection, body: bytes) -> bytes:
    connection.request("POST", "/v1/checks", body, JSON)
    return connection.getresponse().read()


def _timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start
