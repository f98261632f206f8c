"""What is asked of a site: one item for each thing that may be opened, and how it is asked."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from enum import StrEnum

from layoutcheck import __version__
from layoutcheck.document import Layout
from layoutcheck.survey.sites import Content


class Choice(StrEnum):
    """Which works are asked about."""

    EVERY_VALVE = "every-valve"
    EVERY_PUMP = "every-pump"
    STATED = "stated"


class WorkKind(StrEnum):
    """What is opened: a valve or a pump to be replaced, or the work that the layout states."""

    VALVE = "valve"
    PUMP = "pump"
    STATED = "stated"


_KIND_OF = {
    Choice.EVERY_VALVE: WorkKind.VALVE,
    Choice.EVERY_PUMP: WorkKind.PUMP,
    Choice.STATED: WorkKind.STATED,
}


@dataclass(frozen=True, order=True)
class Item:
    """One work on one site. id, ref: the valve's or pump's; empty for the stated work."""

    kind: WorkKind
    id: str = ""
    ref: str = field(default="", compare=False)


@dataclass(frozen=True)
class Settings:
    """How every item is asked.

    pack: a company's figures (TOML text), None for the built-in ones. steps: steps of the search
    after which the best so far is taken; the same on every machine. time_limit: s for one item.
    duration and if_a_plug_goes: the work, where a layout states none, as a layout would state it.
    over: statements laid over each layout, as the JSON text of a list of overlays.
    """

    pack: str | None = None
    steps: int = 300
    time_limit: float = 120.0
    duration: str = "4 h"
    if_a_plug_goes: str | None = None
    over: str | None = None

    @property
    def hard_limit(self) -> float:
        """Give the time (s) after which an item is broken off wherever it is."""
        return 2 * self.time_limit + 30.0


def items_of(layout: Layout) -> tuple[Item, ...]:
    """Give every item that can be asked of a layout, in order."""
    found = [Item(WorkKind.VALVE, v.id, v.ref or "") for v in layout.valves]
    found += [Item(WorkKind.PUMP, p.id, p.ref or "") for p in layout.pumps]
    found += [Item(WorkKind.STATED)] if layout.work else []
    return tuple(sorted(found))


def chosen(items: Iterable[Item], choices: Iterable[str]) -> tuple[Item, ...]:
    """Give the items of the kinds that were chosen, and those chosen by their id or ref."""
    named = frozenset(choices)
    kinds = {kind for choice, kind in _KIND_OF.items() if choice in named}
    return tuple(i for i in items if i.kind in kinds or named & ({i.id, i.ref} - {""}))


def site_key(content: Content, over: str | None) -> str:
    """Name what a document holds: the same content, read by the same version, has one key."""
    return _key("site", content, over)


def item_key(content: Content, settings: Settings, item: Item) -> str:
    """Name an item by all that its answer depends on, and by nothing else (not by its path)."""
    return _key("item", content, item.kind.value, item.id, asdict(settings))


def _key(what: str, content: Content, *more: object) -> str:
    parts = [what, __version__, content.suffix, content.digest, *more]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()[:32]
