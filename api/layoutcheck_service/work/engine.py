"""Where the work of requests is done: what the routes know of it, and the plain way for tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import anyio
import anyio.to_thread

from layoutcheck_service.limits import Limits
from layoutcheck_service.work.job import Answer, Job


class NotReadyError(Exception):
    """Raised when the service can not judge its own example. The message is one plain line."""


class InnerFault(Exception):
    """An unforeseen error where the work was done.

    kind: the error's class. told: where it arose, without any text of a document.
    """

    def __init__(self, kind: str, told: tuple[str, ...] = (), text: str = "") -> None:
        """Keep what the log says; text is written only where the operator asked for it."""
        super().__init__(kind)
        self.kind = kind
        self.told = told
        self.text = text


@dataclass(frozen=True)
class State:
    """How an engine stands: how many workers it should have, has, has free; who waits."""

    wanted: int
    workers: int
    free: int
    waiting: int
    serving: bool


class Engine(Protocol):
    """Does jobs."""

    async def start(self) -> None:
        """Get ready. Raises NotReadyError where that fails."""

    async def stop(self, seconds: float) -> None:
        """Refuse who waits, let what runs go on for so long (s), then end it."""

    def refuse_early(self, owner: str | None, *, long: bool = False) -> None:
        """Raise ProblemError where a request of this owner would find no place just now."""

    async def run(self, job: Job, *, owner: str | None = None) -> Answer:
        """Do a job. Cancelling this ends the work. Raises ProblemError and InnerFault."""

    def state(self) -> State:
        """Tell how it stands."""


class InThread:
    """Does each job in a thread of this process. For tests: a thread can not be ended."""

    def __init__(self, limits: Limits, *, at_once: int = 2) -> None:
        """at_once: jobs that run at the same time; others wait."""
        self._limits = limits
        self._at_once = at_once
        self._limiter = anyio.CapacityLimiter(at_once)

    async def start(self) -> None:
        """Nothing is to be got ready."""

    async def stop(self, seconds: float) -> None:
        """Nothing can be ended."""

    def refuse_early(self, owner: str | None, *, long: bool = False) -> None:
        """Nobody is refused."""

    async def run(self, job: Job, *, owner: str | None = None) -> Answer:
        """Do a job in a thread."""
        answer = await anyio.to_thread.run_sync(job.done, self._limits, limiter=self._limiter)
        return Answer.of(answer)

    def state(self) -> State:
        """Tell how it stands."""
        used = int(self._limiter.borrowed_tokens)
        return State(self._at_once, self._at_once, self._at_once - used, 0, serving=True)
