"""A load generator in a process of its own: many clients, each with one connection that stays open.

A client asks at moments drawn at random beforehand (so a slow service does not slow the asking more
than one connection must), compares each body with the one the library gives, and counts the rest.
Run as a program it reads a plan as JSON on standard input and writes what it saw as JSON.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import random
import subprocess
import sys
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
# A connection that was not used for longer (s) may be closed while we ask: the service's
# keep_alive is 5 s.
IDLE = 3.0


@dataclass
class Load:
    """What to do: rate 0 asks again as soon as an answer has come."""

    address: str
    path: str
    bodies: list[str]  # asked in turn, drawn at random
    expected: list[str]  # SHA-256 of each body's right answer
    clients: int
    seconds: float = 0.0
    each: int = 0  # how often each client asks; 0: for so many seconds
    rate: float = 0.0  # requests in a second, of all clients together
    seed: int = 1


@dataclass
class Seen:
    """What came of it."""

    seconds: float = 0.0
    right: int = 0
    wrong: int = 0
    refused: int = 0  # 429 or 503, a problem, with Retry-After
    failed: dict[str, int] = field(default_factory=dict)  # anything else, by what
    took: list[float] = field(default_factory=list)  # s, of right answers
    refusals_took: list[float] = field(default_factory=list)

    def at(self, share: float) -> float:
        """The time that a share of the right answers took at most (s)."""
        ordered = sorted(self.took)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))]

    @property
    def rate(self) -> float:
        """Right answers in a second."""
        return self.right / self.seconds


def put_load(load: Load) -> Seen:
    """Run the generator in another process, and wait for it."""
    ran = subprocess.run(
        [sys.executable, "-m", "tests.api.load"],
        input=json.dumps(asdict(load)),
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=load.seconds + 120,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    return Seen(**json.loads(ran.stdout))


async def _run(load: Load) -> Seen:
    seen = Seen()
    start = time.perf_counter()
    rolls = random.Random(load.seed)
    seeds = [rolls.random() for _ in range(load.clients)]
    await asyncio.gather(*(_client(load, seen, start + load.seconds, s) for s in seeds))
    seen.seconds = time.perf_counter() - start
    return seen


async def _client(load: Load, seen: Seen, end: float, seed: float) -> None:
    rolls = random.Random(seed)
    pause = load.clients / load.rate if load.rate else 0.0
    due = used = time.perf_counter()
    asked = 0
    connection: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
    while True:
        due += rolls.expovariate(1 / pause) if pause else 0.0
        now = time.perf_counter()
        if asked >= load.each if load.each else max(due, now) >= end:
            break
        asked += 1
        await asyncio.sleep(max(0.0, due - now))
        number = rolls.randrange(len(load.bodies))
        try:
            if connection is not None and time.perf_counter() - used > IDLE:
                connection[1].close()
                connection = None
            if connection is None:
                host, port = load.address.removeprefix("http://").split(":")
                connection = await asyncio.open_connection(host, int(port))
            await _ask(load, seen, connection, number)
            used = time.perf_counter()
        except (OSError, EOFError) as error:
            _count(seen.failed, type(error).__name__)
            connection = None
    if connection is not None:
        connection[1].close()


async def _ask(
    load: Load,
    seen: Seen,
    connection: tuple[asyncio.StreamReader, asyncio.StreamWriter],
    number: int,
) -> None:
    reader, writer = connection
    body = load.bodies[number].encode()
    start = time.perf_counter()
    writer.write(
        f"POST {load.path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n".encode()
        + body
    )
    head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
    headers = dict(line.lower().split(": ", 1) for line in head[1:] if line)
    answer = await reader.readexactly(int(headers["content-length"]))
    took = time.perf_counter() - start
    status = int(head[0].split()[1])
    if status == 200:
        if hashlib.sha256(answer).hexdigest() == load.expected[number]:
            seen.right += 1
            seen.took.append(took)
        else:
            seen.wrong += 1
    elif status in {429, 503} and _is_sound_refusal(headers, answer):
        seen.refused += 1
        seen.refusals_took.append(took)
    else:
        _count(seen.failed, f"status {status}")


def _count(counts: dict[str, int], what: str) -> None:
    counts[what] = counts.get(what, 0) + 1


def _is_sound_refusal(headers: dict[str, str], answer: bytes) -> bool:
    problem: Any = json.loads(answer)
    return (
        headers["content-type"] == "application/problem+json"
        and 1 <= int(headers["retry-after"]) <= 60
        and problem["type"].startswith("urn:layoutcheck:problem:")
    )


if __name__ == "__main__":
    print(json.dumps(asdict(asyncio.run(_run(Load(**json.load(sys.stdin)))))))
