"""The row before the workers, driven at random: nothing handed out is lost or handed out twice."""

from __future__ import annotations

import asyncio
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck_service.problems import Kind, ProblemError
from layoutcheck_service.work.queue import Queue
from tests.sizes import some


class Crowd:
    """Forty requests of two owners, some of them long, some given up."""

    def __init__(self, places: int, waiting: int, each: int, seed: int) -> None:
        self.places, self.waiting, self.each = places, waiting, each
        self.rolls = Random(seed)
        self.queue: Queue[int] = Queue(
            places=places, most_waiting=waiting, most_each=each, patience=60
        )
        self.held: dict[int, bool] = {}  # what is handed out -> whether for a long job
        self.owners: list[str] = []
        self.refused: set[Kind] = set()

    async def ask(self, owner: str, *, long: bool) -> None:
        try:
            with self.queue.counted(owner, long=long):
                self.owners.append(owner)
                try:
                    await self.work(long=long)
                finally:
                    self.owners.remove(owner)
        except ProblemError as error:
            self.refused.add(error.kind)

    async def work(self, *, long: bool) -> None:
        item = await self.queue.take(long=long)
        try:
            assert item not in self.held
            self.held[item] = long
            self.look()
            await asyncio.sleep(self.rolls.choice([0, 0, 0.001]))
        finally:
            del self.held[item]
            if long:
                self.queue.end_long()
            self.queue.put(item)

    def look(self) -> None:
        assert sum(self.held.values()) <= max(1, self.places - 1)
        assert all(self.owners.count(owner) <= self.each for owner in "AB")
        assert self.queue.waiting <= self.waiting

    async def come(self) -> None:
        self.queue.open()
        for item in range(self.places):
            self.queue.put(item)
        tasks: list[asyncio.Task[None]] = []
        for _ in range(40):
            asked = self.ask(self.rolls.choice("AB"), long=self.rolls.random() < 0.4)
            tasks.append(asyncio.ensure_future(asked))
            if self.rolls.random() < 0.5:
                await asyncio.sleep(0)
            if self.rolls.random() < 0.3:
                self.rolls.choice(tasks).cancel()
            self.look()
        ends = await asyncio.gather(*tasks, return_exceptions=True)
        assert {type(e) for e in ends} <= {type(None), asyncio.CancelledError}


@settings(max_examples=some(60))
@given(
    places=st.integers(1, 4),
    waiting=st.integers(0, 6),
    each=st.integers(1, 6),
    seed=st.integers(0, 2**32),
)
def test_nothing_is_lost_and_no_bound_is_passed(
    places: int, waiting: int, each: int, seed: int
) -> None:
    crowd = Crowd(places, waiting, each, seed)

    async def run() -> None:
        await crowd.come()
        assert (crowd.queue.free, crowd.queue.waiting, crowd.held) == (places, 0, {})
        async with asyncio.timeout(5):  # every one can be taken again
            assert {await crowd.queue.take() for _ in range(places)} == set(range(places))

    asyncio.run(run())
    assert crowd.refused <= {Kind.BUSY, Kind.SHARE_USED}
