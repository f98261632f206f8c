"""The report: one result as a pydantic model, with a JSON Schema of its own.

Numbers are SI with their unit beside, and a text for people in the document's preferred units.
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.document.faults import Fault
from layoutcheck.report.handy import ById, Handy
from layoutcheck.report.portions import Portion, of, optional_portions
from layoutcheck.rules.outcome import Gravity, Outcome, Severity

REPORT_FORMAT = "layoutcheck report 1"
REFUSAL_FORMAT = "layoutcheck refusal 1"


class Part(BaseModel):
    """What every part of a report shares."""

    model_config = ConfigDict(frozen=True, extra="forbid", json_schema_extra=optional_portions)


class Refusal(Part):
    """Why something given can not be used: every fault, in the order of their places.

    given: what the places are in, for people ("layout riser.json").
    """

    format: str = REFUSAL_FORMAT
    given: str
    faults: tuple[Fault, ...]

    def to_json(self) -> str:
        """Write the refusal as JSON."""
        return self.model_dump_json(indent=2) + "\n"


class Verdict(StrEnum):
    """The whole, in one word."""

    COMPLIANT = "compliant"
    NOT_COMPLIANT = "not compliant"
    UNDECIDED = "undecided"
    FAULT = "fault"


class Measure(Part):
    """A number in SI, its unit, and how it is written for people."""

    value: float
    unit: str
    shown: str


def is_empty(value: object) -> bool:
    """Tell whether a list of a report has nothing in it, so that it is left out."""
    return not value


def _is_none(value: object) -> bool:
    return value is None


# What stands in a report only where the caller's document gave it.
Ref = Annotated[
    str | None,
    Field(
        None,
        exclude_if=_is_none,
        description="The element's id in the caller's own model: its 'ref' in the layout.",
    ),
]


class NamedPart(Part):
    """One element of the layout: what it is, its id there, and its id in the caller's model."""

    kind: str
    id: str
    ref: Ref = None


class At(Part):
    """A place: a junction, or a station on a pipe; with its drawn position where there is one.

    from_junction: what its station is measured from: a junction, or the face of what is there.
    """

    junction: str | None = None
    pipe: str | None = None
    station: Measure | None = None
    from_junction: str | None = None
    element: str | None = None
    junction_ref: Ref = None
    pipe_ref: Ref = None
    element_ref: Ref = None
    point: tuple[float, float] | None = None


class WaivedBy(Part):
    """Who waived a finding, why, and until when."""

    reason: str
    by: str
    until: date


class AddedPart(Part):
    """What must be done besides moving: a valve to close, an outlet or machine to see to.

    kind: what is done. id: of what it is done to. ref: its id in the caller's model.
    """

    kind: str
    id: str
    ref: Ref = None


class SubjectPart(NamedPart):
    """The thing judged.

    elements: what it is made of, where it is no single element of its kind: the plugs of a pair,
    the ends of a shut section, the plugs of a room without a name.
    """

    elements: tuple[NamedPart, ...] = ()


class Finding(Part):
    """The outcome of one rule on one subject.

    id is made from rule, subject and reason alone: it stays the same when the layout is
    reordered, redrawn or moved. gravity: what comes of it on site. changes: what could be done to
    things that are there, each of which alone would mend it. gives: what others miss only for as
    long as this does not hold. action: the number of the first of the report's actions that has to
    do with it.
    """

    id: str
    rule: str
    severity: Severity
    gravity: Gravity
    subject: SubjectPart
    outcome: Outcome
    reason: str
    says: str
    measured: Measure | None = None
    required: Measure | None = None
    where: At | None = None
    way: tuple[At, ...] = ()
    concerns: tuple[NamedPart, ...] = ()
    missing: tuple[str, ...] = ()
    stated_at: tuple[str, ...] = Field(
        (),
        exclude_if=is_empty,
        description="For each that is missing: the field of the layout that states it, as --set "
        "takes it; empty where it has to be proven on site.",
    )
    assumed: tuple[str, ...] = ()
    todo: str = ""
    changes: tuple[AddedPart, ...] = ()
    gives: tuple[str, ...] = ()
    action: int | None = None
    waiver: WaivedBy | None = None


def speaks_of(finding: Finding, kind: str, name: str) -> bool:
    """Tell whether a finding concerns an element that is not its subject."""
    return any(c.kind == kind and c.id == name for c in finding.concerns)


class Stretch(Part):
    """A stretch of a pipe where a plug passes every rule; room is its length."""

    pipe: str
    from_junction: str
    start: Measure
    end: Measure
    room: Measure


class ShutStretch(Part):
    """A stretch of a pipe and the rules that shut a plug out of it."""

    pipe: str
    from_junction: str
    start: Measure
    end: Measure
    rules: tuple[str, ...]


class Remaining(Part):
    """What still does not hold of a plug once it stands at a proposed place."""

    id: str
    rule: str
    outcome: Outcome
    says: str
    missing: tuple[str, ...]


class Move(Part):
    """A proposed place. Never written over the input; judged afresh by every rule.

    station is exact; tape is the reading to mark with a tape, rounded into the clear stretch;
    both are measured from from_junction. room is the length of the clear stretch. drain is the
    water that drains at the work with the plug there; None where heights are missing.
    """

    pipe: str
    pipe_ref: Ref = None
    from_junction: str
    station: Measure
    tape: Measure
    travel: Measure
    room: Measure
    point: tuple[float, float] | None = None
    remaining: tuple[Remaining, ...] = ()
    drain: Measure | None = None


class Span(Part):
    """An estimate as low, likely and high; never one bare number."""

    low: Measure
    likely: Measure
    high: Measure


class StepPart(Part):
    """One line of the injection schedule; start is from the first injection."""

    start: Measure
    duration: Measure
    kind: str
    mass: Measure
    instruction: str


class CoolantPart(Part):
    """What one plug takes, as liquid drawn from cylinders. on_hand: what must be on site for it.

    cylinder: what one holds, a mass of carbon dioxide or a volume of liquid nitrogen. comes_in: how
    many of what, for people.
    """

    fill: Span
    freeze: Span
    hold: Span
    reserve: Span
    total: Span
    on_hand: Measure
    cylinder: Measure
    cylinders: int
    comes_in: str
    nozzles: int
    top_up_interval: Measure
    steps: Annotated[tuple[StepPart, ...], of(Portion.COURSES)]


class CoursePart(Part):
    """One case of a freeze over time, for what can be seen of it: bare numbers in SI.

    times: s from the first injection, with the model's own error in them. frost: m of frosted bare
    pipe beyond a jacket end, the narrower side; wider: the other. surface: K of the bare pipe 2 in
    beyond the jacket, the warmer side.
    """

    case: str
    times: tuple[float, ...]
    frost: tuple[float, ...]
    wider: tuple[float, ...]
    surface: tuple[float, ...]


class SignPart(Part):
    """How much frost shows beside the jacket at a time since the first injection.

    frost: on the side that shows less, the lower one where the pipe rises. wider: on the other.
    """

    time: Measure
    frost: Span
    wider: Span


class FreezePart(Part):
    """The estimate of one plug's freeze. It is an estimate, not a measured freeze time.

    outcome: 'closes', 'undecided', 'does not close', or 'not known' with what is missing.
    hold: from the plug being due to the end of the work. left_out: the rules of flow and place that
    are broken where the plug is marked; as long as there are any, no text prints the estimate: it
    is one for still water in a place fit for a plug.
    """

    outcome: str
    reason: str
    missing: tuple[str, ...] = ()
    needed_solid_length: Measure | None = None
    time_to_neck_closed: Span | None = None
    time_to_plug: Span | None = None
    frost_band: Span | None = None
    time_to_thaw: Span | None = None
    time_to_release: Span | None = None
    due: Measure | None = None
    hold: Measure | None = None
    coolant: CoolantPart | None = None
    signs: Annotated[tuple[SignPart, ...], of(Portion.COURSES)] = ()
    courses: Annotated[tuple[CoursePart, ...], of(Portion.COURSES)] = Field(
        (), description="The low, likely and high case."
    )
    grounds: tuple[str, ...] = Field(
        (), description="What decides the range, and how far the answer is extrapolated."
    )
    assumptions: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


class PlaceStatus(StrEnum):
    """Where one plug may stand, the others staying.

    STAYS: where it is marked. MOVES: nearest says where. NONE: no place passes every rule.
    NOT_KNOWN: it hangs on a length or a size that is not stated.
    """

    STAYS = "stays"
    MOVES = "moves"
    NONE = "no place"
    NOT_KNOWN = "not known"


class PlugPart(Part):
    """One plug: where it stands, how it fares, and where it may go.

    well_placed: the mark lies in a clear stretch. clear_by: the least margin over all setbacks it
    keeps; None where it breaks one. nearest: None where the plug is well placed, or where no place
    passes. keeping: where the nearest place lets over a bucket more water drain at the work, the
    nearest one that does not; None where there is none. holds_back: whether the plug keeps any
    pressure or water from the work that the others do not. isolates: whether the clear stretches
    also cut the work off; where no place of this plug alone can, they keep out what the plug keeps
    out now.
    """

    id: str
    ref: Ref = None
    at: At
    jacket: Measure
    size: str
    coolant: str
    place: PlaceStatus
    well_placed: bool
    clear_by: Measure | None
    nearest: Move | None
    keeping: Move | None = None
    holds_back: bool = True
    no_place: bool = Field(description="True where no place on the network passes every rule.")
    isolates: bool
    freeze: FreezePart
    clear: Annotated[tuple[Stretch, ...], of(Portion.STRETCHES)]
    shut_out: Annotated[tuple[ShutStretch, ...], of(Portion.STRETCHES)]


class FlowPart(Part):
    """A group of pipes that can flow while freezing, and why."""

    pipes: tuple[str, ...]
    why: str
    certain: bool


class DrainPart(Part):
    """The water that still drains by gravity at the work; None where a fact is missing for it.

    at_least: what drains however short the pipes are of which no length is stated.
    """

    volume: Measure | None
    at_least: Measure | None = None
    missing: tuple[str, ...] = ()


class LoosenedPart(Part):
    """A figure of the pack that is looser than the built-in one."""

    rule: str
    figure: str
    built_in: str
    set_to: str


class PackPart(Part):
    """The rule pack used."""

    name: str
    digest: str
    loosened: tuple[LoosenedPart, ...]


class LayoutPart(Part):
    """The layout judged."""

    name: str
    note: str
    digest: str


class Counts(Part):
    """How many outcomes of each kind were stored."""

    holds: int
    broken: int
    undecided: int
    does_not_apply: int
    waived: int
    fault: int


class Outcomes(Part):
    """The verdict alone, with how many outcomes of each kind there are."""

    verdict: Verdict
    counts: Counts


class TogetherMove(Part):
    """Where one plug goes in the joint mending; added is True for a plug that is not marked.

    station is exact; tape is the reading to mark with a tape, from from_junction.
    """

    plug: str
    plug_ref: Ref = None
    pipe_ref: Ref = None
    added: bool
    pipe: str
    jacket: Measure
    size: str
    coolant: str
    from_junction: str
    station: Measure
    tape: Measure
    travel: Measure
    point: tuple[float, float] | None = None


class ShutPipePart(Part):
    """A pipe on a way in, and the rules that shut plugs out of it."""

    pipe: str
    rules: tuple[str, ...]


class ShutWayPart(Part):
    """A way in on which no plug may stand: the proof that no moves will do."""

    source: str
    way: tuple[At, ...]
    pipes: tuple[ShutPipePart, ...]


class MendingPart(Part):
    """How all plugs can pass together: what mends one plug changes the room for another.

    status: 'moves', 'addition' (something is done besides, or one plug more is frozen),
    'impossible' (with the ways that prove it), or 'not settled' (none found in so
    many steps, or what is not stated may decide).
    exact: nothing costs less, by what is frozen, cut off and drained more than with the marks, then
    by plugs that go round a corner, then by what is done, then by travel. steps: how many the
    search took. why: why this and nothing else. actions: what is done besides; a valve among them
    is to be proven tight before any cylinder is opened. document: the layout with all of it done,
    each station as it is printed.
    """

    status: str
    says: str
    why: tuple[str, ...] = ()
    exact: bool
    steps: int = 0
    total: Measure | None
    moves: tuple[TogetherMove, ...]
    actions: tuple[AddedPart, ...] = ()
    drain_before: Measure | None = Field(
        None, description="Water that drains at the work with the marks; None if not known."
    )
    drain_after: Measure | None = Field(None, description="The same with the proposal.")
    cut_off: tuple[str, ...] = Field(
        (), description="Outlets and machines that no source reaches then, but by the marks would."
    )
    remaining: tuple[Remaining, ...] = Field(
        (), description="What still does not hold with the plugs there, judged afresh."
    )
    ways: tuple[ShutWayPart, ...]
    document: Annotated[dict[str, Any] | None, of(Portion.PROPOSAL)] = None


class WorkPart(Part):
    """What will be opened to air, and for how long."""

    opened: tuple[str, ...]
    duration: Measure


class InModelPart(NamedPart):
    """An element as the model that the layout was read from has it: its own words and its id."""

    name: str


class ActionPart(Part):
    """One thing to do before the layout is checked again; they come in order, the gravest first.

    kind and on: what is done, and the ids of what it is done to, or the facts that are not known.
    elements: what it is done to, or what is wrong with what it settles.
    known: False where all that it settles is not known yet. what: one sentence, what to do. why:
    one, with figures. settles: ids of the findings that it settles, or has a part in settling.
    not_stated: fields of the layout in which a fact that is not known may go; '*' for any id.
    """

    number: int
    gravity: Gravity
    kind: str
    on: tuple[str, ...]
    elements: tuple[NamedPart, ...] = ()
    known: bool
    what: str
    why: str
    settles: tuple[str, ...]
    not_stated: tuple[str, ...] = ()


class FindingMoved(Part):
    """A finding with the same id in two reports, of which something else differs."""

    before: Finding = Field(description="As it was.")
    after: Finding = Field(description="As it is now.")


class Changed(Part):
    """What came of a change: findings against those of the layout before it."""

    verdict_before: Verdict = Field(description="The whole in one word, before the change.")
    new: tuple[Finding, ...] = Field(description="Findings that were not there.")
    gone: tuple[Finding, ...] = Field(description="Findings that are not there any more.")
    moved: tuple[FindingMoved, ...] = Field(
        description="Findings with another outcome, measure or place than before."
    )


class Report(Handy, Part):
    """The answer to one layout. findings hold every stored outcome, not only the bad ones."""

    format: str = REPORT_FORMAT
    version: str
    verdict: Verdict
    layout: LayoutPart
    pack: PackPart
    units: str
    basis: str
    judged_on: date | None
    counts: Counts
    work: WorkPart | None = None
    actions: Annotated[tuple[ActionPart, ...], of(Portion.ACTIONS)] = Field(
        (), description="What to do, the gravest first. A number means the same everywhere."
    )
    findings: Annotated[tuple[Finding, ...], of(Portion.FINDINGS)]
    plugs: Annotated[ById[PlugPart], of(Portion.PLUGS)]
    mending: Annotated[MendingPart | None, of(Portion.MENDING)] = Field(
        None, description="How all plugs can pass together; None where all are well placed."
    )
    flowing: Annotated[tuple[FlowPart, ...], of(Portion.FLOWING)]
    drain: DrainPart | None
    in_model: tuple[InModelPart, ...] = Field(
        (), exclude_if=is_empty, description="What the source model calls what is spoken of."
    )
    assumptions: Annotated[tuple[str, ...], of(Portion.ASSUMPTIONS)]
    cautions: Annotated[tuple[str, ...], of(Portion.CAUTIONS)]
    deference: str
    changed: Changed | None = Field(
        None,
        exclude_if=_is_none,
        description="What differs from the report of the layout before the changes; only in an "
        "answer to changes.",
    )
    left_out: tuple[str, ...] = Field(
        (),
        exclude_if=is_empty,
        description="Portions of the report that the caller did not ask for; only in an answer "
        "that is not whole.",
    )

    @property
    def exit_code(self) -> int:
        """Give the exit code of the command line: 0, 1, 3 or 4."""
        codes = {
            Verdict.COMPLIANT: 0,
            Verdict.NOT_COMPLIANT: 1,
            Verdict.UNDECIDED: 3,
            Verdict.FAULT: 4,
        }
        return codes[self.verdict]

    def to_json(self) -> str:
        """Write the report as JSON: the same bytes for the same report."""
        return self.model_dump_json(indent=2) + "\n"
