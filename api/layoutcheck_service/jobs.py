"""Work that a caller does not wait for: asked for once, looked at later, or given up.

It is kept in this process: a copy of the service has its own, and a stop ends them all.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from layoutcheck_service.problems import (
    Kind,
    ProblemError,
    problem_of,
    problem_response,
    refusal,
)
from layoutcheck_service.work.engine import Engine, InnerFault
from layoutcheck_service.work.job import Answer, Job

_LOG = logging.getLogger("layoutcheck_service")

# What a service that is busy is asked again after (s).
PAUSE = 0.5
_LATER = {Kind.BUSY, Kind.SHARE_USED}

State = Literal["working", "done", "cancelled"]


@dataclass(frozen=True)
class JobLimits:
    """How many jobs are kept, done or not; bytes of all results; how long one is kept (s)."""

    jobs: int
    bytes: int
    seconds: float


@dataclass(eq=False)
class Later:
    """One job: whose it is, how far it is, and what came of it."""

    owner: str | None
    held: contextlib.AsyncExitStack
    began: float
    state: State = "working"
    answer: Answer | None = None
    task: asyncio.Task[None] | None = field(default=None, repr=False)


class Jobs:
    """The jobs that are kept."""

    def __init__(self, limits: JobLimits, clock: Callable[[], float] = time.monotonic) -> None:
        """clock: seconds that only go on."""
        self._limits = limits
        self._clock = clock
        self._kept: dict[str, Later] = {}

    def begin(
        self, engine: Engine, job: Job, owner: str | None, held: contextlib.AsyncExitStack
    ) -> str:
        """Have a job done, whoever waits for it; give its name. held: its body, let go at the end.

        Raises ProblemError where too many are kept already.
        """
        self._forget()
        if len(self._kept) >= self._limits.jobs:
            detail = "As many jobs are kept as may be; take results, or cancel some."
            raise refusal(Kind.BUSY, detail, seconds=5)
        name, later = secrets.token_hex(16), Later(owner, held, self._clock())
        later.task = asyncio.ensure_future(self._run(engine, job, later))
        self._kept[name] = later
        return name

    def get(self, name: str, owner: str | None) -> Later | None:
        """Give a job; None where it is not kept, or another's."""
        self._forget()
        found = self._kept.get(name)
        return found if found is not None and found.owner == owner else None

    def cancel(self, later: Later) -> None:
        """End the work of a job, or forget what came of it."""
        later.state = "cancelled"
        later.answer = None
        if later.task is not None:
            later.task.cancel()

    async def stop(self) -> None:
        """End them all."""
        tasks = [j.task for j in self._kept.values() if j.task is not None and not j.task.done()]
        for task in tasks:
            task.cancel()
        if tasks:
            await asyncio.wait(tasks)

    async def _run(self, engine: Engine, job: Job, later: Later) -> None:
        async with later.held:
            later.answer = await patient(engine, job, later.owner)
            later.state = "done"

    def _forget(self) -> None:
        """Let go of what is too old, and of the oldest results past the most bytes."""
        oldest = self._clock() - self._limits.seconds
        done = [n for n, j in self._kept.items() if j.task is None or j.task.done()]
        for name in done:
            if self._kept[name].began < oldest or self._kept[name].state == "cancelled":
                del self._kept[name]
        used = 0
        for name in reversed([n for n in done if n in self._kept]):
            answer = self._kept[name].answer
            used += 0 if answer is None else len(answer.body)
            if used > self._limits.bytes:
                del self._kept[name]


async def patient(engine: Engine, job: Job, owner: str | None) -> Answer:
    """Do a job, asking a busy service again; whatever comes of it is an answer."""
    while True:
        try:
            return await engine.run(job, owner=owner)
        except ProblemError as error:
            if error.kind not in _LATER:
                return Answer.of(problem_response(error.problem, error.headers))
            await asyncio.sleep(PAUSE)
        except InnerFault as error:
            _LOG.error("internal fault in a job", extra={"kind": error.kind, "told": error.told})
            detail = "The request was not judged. Nothing in it counts as checked."
            return Answer.of(problem_response(problem_of(Kind.INTERNAL, detail)))
