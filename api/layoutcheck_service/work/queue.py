"""The bounded queue before the workers: first come, first served, and a share for each owner."""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Generic, TypeVar

from layoutcheck_service.problems import Kind, ProblemError, refusal

T = TypeVar("T")

# How fast the estimate of a job's time follows what is measured.
_FOLLOW = 0.1


@dataclass(eq=False)
class _Waiter(Generic[T]):
    """One who waits: what it will get, and whether its job is a long one."""

    turn: asyncio.Future[T]
    long: bool


class Queue(Generic[T]):
    """Hands out what is free, keeps a bounded row of those who wait, and refuses the others.

    Long jobs never hold everything: one place is left for those that a person waits for, who pass
    the long ones in the row. All in one event loop: nothing here needs a lock.
    """

    def __init__(self, *, places: int, most_waiting: int, most_each: int, patience: float) -> None:
        """Start closed, with nothing to hand out.

        places: how many are handed out at once. most_each: requests, running or waiting, of one
        owner. patience: longest wait (s).
        """
        self._places = places
        self._most_waiting = most_waiting
        self._most_each = most_each
        self._patience = patience
        self._free: list[T] = []
        self._row: deque[_Waiter[T]] = deque()
        self._most_long = max(1, places - 1)
        self._long = 0
        self._each: Counter[str] = Counter()
        self._usual = 0.1  # s, of one job; an estimate for Retry-After
        self._closed = True

    @property
    def waiting(self) -> int:
        """How many wait."""
        return len(self._row)

    @property
    def free(self) -> int:
        """How many stand ready."""
        return len(self._free)

    def open(self) -> None:
        """Let requests in."""
        self._closed = False

    def close(self) -> None:
        """Let nobody in any more, and send away those who wait."""
        self._closed = True
        while self._row:
            waiter = self._row.popleft()
            if not waiter.turn.done():
                waiter.turn.set_exception(_not_serving())

    def check(self, owner: str | None, *, long: bool = False) -> None:
        """Refuse a request that would find no place, before its body is read: ProblemError."""
        if self._closed:
            raise _not_serving()
        if owner is not None and self._each[owner] >= self._most_each:
            detail = f"This key's owner has {self._most_each} requests in hand already."
            raise refusal(Kind.SHARE_USED, detail, seconds=self._until_free())
        if not (self._free and self._may_start(long=long)) and len(self._row) >= self._most_waiting:
            raise self._busy()

    @contextmanager
    def counted(self, owner: str | None, *, long: bool = False) -> Iterator[None]:
        """Count a request among its owner's, after a last check. Raises ProblemError."""
        self.check(owner, long=long)
        if owner is not None:
            self._each[owner] += 1
        try:
            yield
        finally:
            if owner is not None:
                self._each[owner] -= 1
                self._each += Counter()  # drops those at nothing

    async def take(self, *, long: bool = False) -> T:
        """Take what is free, or wait for it. Raises ProblemError: stopping, or too long a wait.

        long: whether it is for a long job; then `end_long` must be called when that has ended.
        """
        if self._free and self._may_start(long=long):
            self._long += long
            return self._free.pop()
        waiter = _Waiter[T](asyncio.get_running_loop().create_future(), long)
        self._row.append(waiter)
        try:
            async with asyncio.timeout(self._patience):
                return await waiter.turn
        except BaseException as error:
            self._leave(waiter)
            if isinstance(error, TimeoutError):
                raise self._busy() from None
            raise

    def _leave(self, waiter: _Waiter[T]) -> None:
        """Take out of the row one whose request was given up."""
        turn = waiter.turn
        if turn.done() and not turn.cancelled() and turn.exception() is None:
            self._long -= waiter.long
            self.put(turn.result())  # its turn had come in that very moment
        elif waiter in self._row:
            self._row.remove(waiter)

    def put(self, item: T) -> None:
        """Give one back, or a new one: to the first in the row who may start, if there is one."""
        for waiter in self._row:
            if not waiter.turn.done() and self._may_start(long=waiter.long):
                self._row.remove(waiter)
                self._long += waiter.long
                waiter.turn.set_result(item)
                return
        self._free.append(item)

    def end_long(self) -> None:
        """Tell that a long job has ended; another may start."""
        self._long -= 1
        if self._free:
            self.put(self._free.pop())

    def _may_start(self, *, long: bool) -> bool:
        return not long or self._long < self._most_long

    def measured(self, seconds: float) -> None:
        """Take in how long a job took, for the estimate that refused ones are given."""
        self._usual += _FOLLOW * (seconds - self._usual)

    def _until_free(self) -> float:
        return self._usual * (len(self._row) + 1) / self._places

    def _busy(self) -> ProblemError:
        detail = "Everyone who works here is busy, and enough wait already. Nothing was judged."
        return refusal(Kind.BUSY, detail, seconds=self._until_free())


def _not_serving() -> ProblemError:
    detail = "The service is starting or stopping. Nothing was judged; ask again."
    return refusal(Kind.STOPPING, detail, seconds=1)
