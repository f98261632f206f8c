"""The crew's sheet as values: what it says, before it becomes a page."""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.report.model import CoolantPart, Finding, FreezePart, Report


@dataclass(frozen=True)
class Turn:
    """An outlet or valve that a step opens or shuts."""

    name: str
    opens: bool


@dataclass(frozen=True)
class Tick:
    """Something to do or see, with a box to tick; why: the reason, or who asks for it.

    turns: what the step opens and shuts, in order. watch: it holds all along, or only if something
    happens, so that nobody writes a time beside it.
    """

    text: str
    why: str = ""
    turns: tuple[Turn, ...] = ()
    watch: bool = False


@dataclass(frozen=True)
class Group:
    """Ticks under a heading; empty: what to write where there are none."""

    title: str
    ticks: tuple[Tick, ...]


@dataclass(frozen=True)
class Landmark:
    """Something to hold the tape to, with the readings to the jacket's near end and its centre."""

    name: str
    to_jacket: str
    to_centre: str


@dataclass(frozen=True)
class Cycle:
    """One injection with its wait. Times are h:mm:ss from the first injection.

    further: told of injections that are only made while the plug is not proven.
    """

    number: int
    begin: str
    inject: str
    stop: str
    mass: str
    until: str
    further: bool


@dataclass(frozen=True)
class TopUp:
    """One top-up, at a time from the first injection."""

    number: int
    begin: str


@dataclass(frozen=True)
class Times:
    """A plug's schedule: cycles until it is due, then top-ups until the hold ends.

    give_up: when to stop, if it is still not proven.
    """

    cycles: tuple[Cycle, ...]
    expected: str
    due: str
    give_up: str
    top_ups: tuple[TopUp, ...]
    each_top_up: str
    ends: str


@dataclass(frozen=True)
class PlugCard:
    """All that the crew needs of one plug. of: its coolant's name."""

    id: str
    name: str
    pipe: str
    pipe_facts: str
    room: str
    lies: str
    jacket: str
    landmarks: tuple[Landmark, ...]
    strip: str
    clear_by: str
    holds_back: str
    loss: str
    bleeds: tuple[str, ...]
    freeze: FreezePart
    coolant: CoolantPart | None
    times: Times | None
    of: str


@dataclass(frozen=True)
class Budget:
    """The coolant of one kind: what to have on site, and what is stated to be there."""

    coolant: str
    on_hand: str
    comes_in: str
    stock: str


@dataclass(frozen=True)
class Sheet:
    """The whole sheet. may_freeze is False unless every rule that applies holds."""

    report: Report
    may_freeze: bool
    headline: str
    work: tuple[str, ...]
    duration: str
    before: tuple[Group, ...]
    plugs: tuple[PlugCard, ...]
    order: tuple[Group, ...]
    budget: tuple[Budget, ...]
    granted: tuple[Tick, ...]
    if_a_plug_goes: str
    not_before: str
    closed_by: str
    waived: tuple[Finding, ...]
