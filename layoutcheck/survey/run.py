"""Run a survey: hand out tasks, write down what comes back, and end with every item answered.

The order in which answers come back is chance; nothing that is kept depends on it. What is in the
journal is never asked again; what is not there was not finished, whatever a worker had done.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from layoutcheck.survey.items import (
    Item,
    Settings,
    WorkKind,
    chosen,
    item_key,
    site_key,
)
from layoutcheck.survey.journal import Entry, Journal
from layoutcheck.survey.row import Row, failed
from layoutcheck.survey.sites import Content, Site, Unreadable
from layoutcheck.survey.tasks import Answered, AskItems, Listing, ListItems, Task

# Items in one task at most. A task ends with its slice of time anyway.
_MOST = 16

# A task that was lost with its worker is handed out again this many times.
_TRIES = 3


@dataclass(frozen=True)
class Done:
    """A task that came back: with its result, or with why it has none."""

    task: Task
    result: Listing | tuple[Answered, ...] | None = None
    trouble: str = ""


class Pool(Protocol):
    """Something that runs tasks, several at a time, in any order."""

    @property
    def width(self) -> int:
        """Give how many tasks run at a time, as far as is known now."""

    def submit(self, task: Task) -> None:
        """Take a task."""

    def next(self) -> Done:
        """Wait until a task is done, and give it."""


@dataclass
class Standing:
    """How far a survey is. asked: items asked in this run; seconds: s of work on them."""

    sites: int
    opened: int = 0
    items: int = 0
    done: int = 0
    asked: int = 0
    troubled: int = 0
    seconds: float = 0.0
    width: int = 0


Watch = Callable[[Standing], None]


@dataclass
class Opened:
    """A site as the survey knows it: the keys of its items in order, or why it has none."""

    name: str
    items: tuple[tuple[Item, str], ...] = ()
    trouble: Row | None = None


@dataclass
class Survey:
    """One run of a survey.

    passing: rows that are not written down, because asking again may give another answer (a
    worker was killed, a file could not be read): the next run asks again.
    """

    sites: Sequence[Site]
    choices: frozenset[str]
    settings: Settings
    journal: Journal
    watch: Watch = lambda _: None
    passing: dict[str, Row] = field(default_factory=dict)
    opened: dict[str, Opened] = field(default_factory=dict)

    def run(self, pool: Pool) -> None:
        """Ask everything that is not in the journal yet."""
        self._standing = Standing(len(self.sites))
        self._claimed: set[str] = set()
        self._waiting: dict[str, list[Site]] = {}
        self._lost: dict[Task, int] = {}
        self._queue: deque[Task] = deque()
        source, flying = self._tasks(), 0
        while True:
            self._standing.width = pool.width
            # Twice as many as run at a time: no worker waits, and few are lost with a kill.
            while flying < 2 * pool.width + 2:
                task = self._queue.popleft() if self._queue else next(source, None)
                if task is None:
                    break
                pool.submit(task)
                flying += 1
            self.watch(self._standing)
            if not flying:
                return
            self._take(pool.next(), pool.width)
            flying -= 1

    def _tasks(self) -> Iterator[Task]:
        """Give the tasks of one site after the other; documents are read as they are needed."""
        for site in self.sites:
            try:
                content = site.read()
            except Unreadable as error:
                self._open(site.name, Opened(site.name, trouble=failed(str(error))))
                continue
            key = site_key(content, self.settings.over)
            if key in self.journal:
                self._queue.extend(self._listed([site], content))
            elif key in self._waiting:
                self._waiting[key].append(site)
            else:
                self._waiting[key] = [site]
                self._queue.append(ListItems(content, self.settings.over))
            while self._queue:
                yield self._queue.popleft()

    def _take(self, done: Done, width: int) -> None:
        task = done.task
        if done.result is None:
            self._troubled(task, done.trouble)
        elif isinstance(task, ListItems):
            assert isinstance(done.result, Listing), "a listing was asked for"
            holds = _written(done.result)
            self.journal.add([Entry(site_key(task.content, self.settings.over), holds)])
            sites = self._waiting.pop(site_key(task.content, self.settings.over))
            self._queue.extend(self._listed(sites, task.content))
        else:
            assert isinstance(done.result, tuple), "answers were asked for"
            self._answered(task, done.result, width)

    def _listed(self, sites: Sequence[Site], content: Content) -> Iterator[Task]:
        """Note what a site holds, and give tasks for what is not in the journal."""
        holds = self.journal.read(site_key(content, self.settings.over))
        items = chosen((Item(WorkKind(k), *names) for k, *names in holds["items"]), self.choices)
        keyed = tuple((i, item_key(content, self.settings, i)) for i in items)
        trouble = failed(_summed(holds["faults"])) if holds["faults"] else None
        if trouble is not None:
            trouble = trouble.model_copy(update={"faults": tuple(holds["faults"])})
        for site in sites:
            self._open(site.name, Opened(site.name, keyed, trouble))
        left = []
        for item, key in keyed:
            if key in self.journal:
                self._standing.done += len(sites)
            elif key in self._claimed:
                self._standing.done += len(sites)  # a twin of this site asks it
            else:
                self._claimed.add(key)
                left.append(item)
                self._standing.done += len(sites) - 1
        yield from _in_parts(content, tuple(left), self.settings, _MOST)

    def _open(self, name: str, opened: Opened) -> None:
        self.opened[name] = opened
        self._standing.opened += 1
        self._standing.items += len(opened.items)
        self._standing.troubled += opened.trouble is not None

    def _answered(self, task: AskItems, answers: tuple[Answered, ...], width: int) -> None:
        entries = []
        for answer in answers:
            key = item_key(task.content, self.settings, answer.item)
            if answer.settled:
                holds = {"seconds": answer.seconds, "row": answer.row.model_dump(mode="json")}
                entries.append(Entry(key, holds))
            else:
                self.passing[key] = answer.row
                self._standing.troubled += 1
            self._standing.seconds += answer.seconds
        self.journal.add(entries)
        self._standing.done += len(answers)
        self._standing.asked += len(answers)
        rest = task.items[len(answers) :]
        # Towards the end every worker gets a share of what is left.
        most = _MOST if self._queue else max(1, -(-len(rest) // max(1, width)))
        self._queue.extendleft(_in_parts(task.content, rest, self.settings, most))

    def _troubled(self, task: Task, trouble: str) -> None:
        """Hand a lost task out again, item by item; give up an item that is lost each time."""
        if isinstance(task, AskItems) and len(task.items) > 1:
            self._queue.extendleft(_in_parts(task.content, task.items, self.settings, 1))
            return
        self._lost[task] = self._lost.get(task, 0) + 1
        if self._lost[task] < _TRIES:
            self._queue.appendleft(task)
        elif isinstance(task, AskItems):
            item = task.items[0]
            key = item_key(task.content, self.settings, item)
            self.passing[key] = failed(trouble, kind=item.kind, own=item.id)
            self._standing.done += 1
            self._standing.troubled += 1
        else:
            for site in self._waiting.pop(site_key(task.content, self.settings.over)):
                self._open(site.name, Opened(site.name, trouble=failed(trouble)))

    def rows(self) -> Iterator[tuple[str, Row]]:
        """Give the name of the site and the row of each item, in the order of names and items."""
        for name in sorted(self.opened):
            opened = self.opened[name]
            if opened.trouble is not None:
                yield name, opened.trouble
            for _, key in opened.items:
                if key in self.passing:
                    yield name, self.passing[key]
                else:
                    yield name, Row.model_validate(self.journal.read(key)["row"])

    @property
    def standing(self) -> Standing:
        """Give how far the last run came."""
        return replace(self._standing)


def _in_parts(
    content: Content, items: tuple[Item, ...], settings: Settings, most: int
) -> Iterator[Task]:
    for start in range(0, len(items), most):
        yield AskItems(content, items[start : start + most], settings)


def _written(listing: Listing) -> dict[str, object]:
    return {
        "items": [[i.kind.value, i.id, i.ref] for i in listing.items],
        "faults": list(listing.faults),
    }


def _summed(faults: Sequence[str]) -> str:
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    return f"can not be used: {faults[0]}{more}"
