"""What a worker is sent: a document by its content, and what to do with it.

A worker may be on another machine, so nothing here is a path. A task stops after a slice of time
and gives back what it has: a survey that is killed loses a slice of each worker, no more, and a
task is long enough that sending it costs nothing.
"""

from __future__ import annotations

import json
import time
from collections import OrderedDict
from dataclasses import dataclass, field
from functools import lru_cache

from layoutcheck import __version__
from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.document.overlay import laid_over
from layoutcheck.document.short import long_form
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import company_pack, default_pack
from layoutcheck.survey.ask import Known, ask
from layoutcheck.survey.items import Item, Settings, items_of
from layoutcheck.survey.row import Row
from layoutcheck.survey.sites import Content

# s of work after which a task gives back what it has.
SLICE = 2.0

# Layouts that a worker keeps as they were read; a survey works on a few sites at a time.
_KEPT = 3
_known: OrderedDict[tuple[str, str, Settings], Known] = OrderedDict()


class OtherVersion(Exception):
    """Raised on a worker whose layoutcheck is not the version that asks."""


@dataclass(frozen=True)
class Listing:
    """What can be asked of a site, or the faults for which it can not be read."""

    items: tuple[Item, ...] = ()
    faults: tuple[str, ...] = ()


@dataclass(frozen=True)
class ListItems:
    """Find out what can be asked of a document."""

    content: Content
    over: str | None = None
    version: str = __version__

    def run(self) -> Listing:
        """Read the document. A document that is not sound gives its faults."""
        _same(self.version)
        try:
            return Listing(items_of(_read(self.content, Settings(over=self.over)).layout))
        except LayoutFaults as error:
            told = tuple(f"{f.pointer or 'the document'}: {f.problem}" for f in error.faults)
            return Listing(faults=told)
        except Exception as error:
            return Listing(faults=(f"a fault of layoutcheck itself ({type(error).__name__})",))


@dataclass(frozen=True)
class Answered:
    """The row of one item, the time (s) it took, and whether asking again gives the same."""

    item: Item
    row: Row
    seconds: float
    settled: bool = True


@dataclass(frozen=True)
class AskItems:
    """Ask items of a document, in order, for a slice of time; at least one is asked."""

    content: Content
    items: tuple[Item, ...]
    settings: Settings
    version: str = field(default=__version__)

    def run(self) -> tuple[Answered, ...]:
        """Ask as many as the slice holds."""
        _same(self.version)
        known = _read(self.content, self.settings)
        answers = []
        end = time.monotonic() + SLICE
        for item in self.items:
            start = time.perf_counter()
            asked = ask(known, item)
            took = time.perf_counter() - start
            answers.append(Answered(item, asked.row, took, asked.settled))
            if time.monotonic() > end:
                break
        return tuple(answers)


Task = ListItems | AskItems


def run_task(task: Task) -> Listing | tuple[Answered, ...]:
    """Run a task; this is what a worker calls."""
    return task.run()


def _same(version: str) -> None:
    if version != __version__:
        raise OtherVersion(f"the worker has layoutcheck {__version__}, the survey is {version}")


def _read(content: Content, settings: Settings) -> Known:
    """Read a document, or take it as it was read for the task before."""
    key = (content.digest, content.suffix, settings)
    if key not in _known:
        given = read_text(content.data, suffix=content.suffix)
        if settings.over is not None and isinstance(given, dict):
            given = laid_over(given, json.loads(settings.over))
        layout, data = parse_layout(given), long_form(given).data
        assert isinstance(data, dict), "what parses as a layout is an object"
        _known[key] = Known(layout, data, _pack(settings.pack), settings)
        while len(_known) > _KEPT:
            _known.popitem(last=False)
    _known.move_to_end(key)
    return _known[key]


@lru_cache(maxsize=2)
def _pack(text: str | None) -> Pack:
    return default_pack() if text is None else company_pack(text)
