"""Pools without a cluster: tasks run here, in any order, and a kill is an exception."""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Callable

from layoutcheck.survey.items import Item
from layoutcheck.survey.row import Answer, Row
from layoutcheck.survey.run import Done
from layoutcheck.survey.tasks import Answered, AskItems, Listing, ListItems, Task, run_task


class Killed(BaseException):
    """Stands for SIGKILL: nothing after it runs, but what is on the disk."""


class Deadly:
    """A task that no process survives."""

    def run(self) -> Listing:
        os._exit(1)


Work = Callable[[Task], Listing | tuple[Answered, ...]]


class HerePool:
    """Runs tasks in this process, in an order of its own, and dies after so many."""

    def __init__(
        self, seed: int = 0, *, dies_after: int | None = None, work: Work = run_task, width: int = 2
    ) -> None:
        self._draw = random.Random(seed)
        self._left = dies_after
        self._work = work
        self.width = width
        self._waiting: list[Task] = []
        self.asked: Counter[tuple[str, Item]] = Counter()

    def submit(self, task: Task) -> None:
        self._waiting.append(task)

    def next(self) -> Done:
        if self._left == 0:
            raise Killed
        if self._left is not None:
            self._left -= 1
        task = self._waiting.pop(self._draw.randrange(len(self._waiting)))
        try:
            result = self._work(task)
        except RuntimeError as error:
            return Done(task, trouble=str(error))
        if isinstance(task, AskItems) and isinstance(result, tuple):
            self.asked.update((task.content.digest, a.item) for a in result)
        return Done(task, result)


def quick_work(seed: int) -> Work:
    """Give work that reads documents but makes its answers up, a few of each task."""
    draw = random.Random(seed)

    def work(task: Task) -> Listing | tuple[Answered, ...]:
        if isinstance(task, ListItems):
            return task.run()
        most = draw.randint(1, len(task.items))
        return tuple(Answered(i, made_up(task.content.digest, i), 0.1) for i in task.items[:most])

    return work


def made_up(digest: str, item: Item) -> Row:
    """Make an answer up that depends on the document and the item alone."""
    draw = random.Random(digest + item.kind + item.id)
    answer = draw.choice([Answer.UNDECIDED, Answer.NONE])
    return Row(kind=item.kind, id=item.id, answer=answer, tried=draw.randrange(1000))
