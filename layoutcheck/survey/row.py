"""The answer to one item, as it is kept in the journal and put in the table."""

from __future__ import annotations

from enum import StrEnum

from layoutcheck.report.model import Part
from layoutcheck.survey.items import WorkKind


class Answer(StrEnum):
    """Whether a work can be isolated.

    compliant: a plan was found, and passed every rule when it was judged afresh. none: every set
    of closures and plugs was ruled out, and nothing is in doubt. undecided: neither. failed: the
    question was not answered at all.
    """

    COMPLIANT = "compliant"
    UNDECIDED = "undecided"
    NONE = "none"
    FAILED = "failed"


class Stopped(StrEnum):
    """What cut a search short, if anything."""

    NOT = ""
    STEPS = "steps"
    TIME = "time"


class PlugRow(Part):
    """One plug of a plan. station is to the jacket's centre, from the pipe's 'from' end."""

    id: str
    pipe: str
    station_m: float
    jacket_m: float
    size: str
    coolant: str


class OutletRow(Part):
    """What a plan does with an outlet."""

    id: str
    action: str


class CountRow(Part):
    """How many of something."""

    what: str
    number: int


class PlanRow(Part):
    """The best plan found. A None stands for what can not be worked out; missing says why."""

    points: float
    plugs: tuple[PlugRow, ...]
    plugs_by_size: tuple[CountRow, ...]
    valves_to_close: tuple[str, ...]
    valves_to_prove: tuple[str, ...]
    outlets: tuple[OutletRow, ...]
    machines_to_lock: tuple[str, ...]
    carbon_dioxide_kg: float | None
    nitrogen_kg: float | None
    until_open_s: float | None
    outlets_out_of_service: tuple[str, ...]
    drained_m3: float | None
    missing: tuple[str, ...]


class Row(Part):
    """The answer to one item.

    found: how sure the search is ('optimal', 'best found', 'no plan', 'none found in time').
    bound: no plan costs less (points). hindrances: how often each rule stood against a set that
    was tried. to_settle: what to state or prove for a surer answer. faults: why it failed.
    """

    kind: WorkKind | None
    id: str
    layout: str = ""
    name: str = ""
    of_kind: str = ""
    size: str = ""
    inches: float | None = None
    duration_s: float | None = None
    duration_assumed: bool = False
    answer: Answer
    found: str = ""
    stopped: Stopped = Stopped.NOT
    reason: str = ""
    bound: float | None = None
    tried: int = 0
    hindrances: tuple[CountRow, ...] = ()
    to_settle: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    plan: PlanRow | None = None


def failed(reason: str, *, kind: WorkKind | None = None, own: str = "") -> Row:
    """Give the row of an item (or of a whole site) that has no answer."""
    return Row(kind=kind, id=own, answer=Answer.FAILED, reason=reason, faults=(reason,))
