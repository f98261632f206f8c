"""What a rule declares of itself, so that nobody else need know it by name."""

from __future__ import annotations

from enum import StrEnum


class Cure(StrEnum):
    """A kind of change that could mend what a rule found."""

    MOVE = "move"
    CLOSE = "close"
    PROVE = "prove"
    OPEN = "open"
    VENT = "vent"
    LOCK_OFF = "lock off"
    WAIT = "wait"
    BRING = "bring more"


ALL_CURES = frozenset(Cure)
# What is done to a valve, an outlet or a machine that is there.
CLOSURES = frozenset({Cure.CLOSE, Cure.PROVE, Cure.OPEN, Cure.VENT, Cure.LOCK_OFF})
# What parts the water, so that it neither flows nor presses.
CUTS = frozenset({Cure.CLOSE, Cure.PROVE, Cure.LOCK_OFF})


class RestsOn(StrEnum):
    """What a finding rests on: as long as that stays as it is, so does the finding.

    PIPE: the pipe itself and what stands on it. FLOW: that water can flow. HEAD: the head at a
    plug, and else nothing that a closure changes. SHUT_END: an outlet that is shut. SECTION: what
    ice shuts in. LOOP: a loop that may turn by itself. ANYTHING: more than one of these.
    """

    PIPE = "pipe"
    FLOW = "flow"
    HEAD = "head"
    SHUT_END = "shut end"
    SECTION = "section"
    LOOP = "loop"
    ANYTHING = "anything"


class Reach(StrEnum):
    """How far a finding reaches: no plug can stand there as long as it lasts."""

    PLUG = "plug"
    PIPE = "pipe"
    SITE = "site"


class Role(StrEnum):
    """The part that a rule plays in what people are handed, for those who must find that one."""

    CUTS_OFF = "cuts off the work"
    KEEPS_APART = "keeps plugs apart"
    STRAIGHT_PIPE = "asks for straight bare pipe"
    HOLDS_BACK = "tells what a plug holds back"
    IF_LOST = "tells what comes if a plug goes"
    AIR = "tells what the air comes to"
    STORED_COLD = "asks for cool cylinders"
    STARTS_COLD = "asks for cool water"


class Blank(StrEnum):
    """A fact that a document may leave out, by its place in it ('*' for an element's id)."""

    MATERIAL = "site.material"
    WATER = "site.water_temperature"
    FLUID = "site.fluid"
    CLEAR_SPACE = "site.clear_space"
    ROOMS = "site.rooms.*"
    IN_ROOM = "site.room"
    STOCK = "site.stock"
    WORK = "work"
    SOURCES = "sources.main"
    PRESSURE = "sources.*.pressure"
    VALVE_STATE = "valves.*.state"
    TIGHTNESS = "valves.*.tightness"
    PUMP_LOCK = "pumps.*.locked_off"
    END = "junctions.*.goes_on"
    LENGTH = "pipes.*.length"
    SIZE = "pipes.*.size"
    HEIGHT = "junctions.*.elevation"
    LEVEL = "equipment.*.level"
    OUTLET_STATE = "outlets.*.state"
    PLUGS = "plugs.A"
