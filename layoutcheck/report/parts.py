"""Turn what the rules and the search found into the parts of a report."""

from __future__ import annotations

import hashlib
import math
from collections import defaultdict

import numpy as np

from layoutcheck.document import Layout, canonical_json, digest_of
from layoutcheck.document.named import Named
from layoutcheck.document.paths import Positions
from layoutcheck.network import Trust
from layoutcheck.network.drain import Drained, drained_water
from layoutcheck.network.model import PieceKind
from layoutcheck.network.once import Once
from layoutcheck.network.stretches import TOLERANCE, Interval
from layoutcheck.placement import (
    ClearStretch,
    Placing,
    Proposal,
    Reading,
    ShutOut,
    away_from,
    read_into,
)
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.freeze_part import freeze_part
from layoutcheck.report.model import (
    AddedPart,
    At,
    DrainPart,
    Finding,
    FlowPart,
    FreezePart,
    LayoutPart,
    LoosenedPart,
    Measure,
    Move,
    NamedPart,
    PackPart,
    PlaceStatus,
    PlugPart,
    Remaining,
    ShutStretch,
    Stretch,
    SubjectPart,
    WaivedBy,
    WorkPart,
)
from layoutcheck.report.refs import Refs
from layoutcheck.rules.amounts import show_amount
from layoutcheck.rules.both import wanted
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.estimates import coolant_plans, freeze_of
from layoutcheck.rules.facts import field_of
from layoutcheck.rules.outcome import Amount, Dimension, Judgement, Outcome, Subject
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.reasons import flow_in_words
from layoutcheck.rules.registry import all_rules

# Numbers in a report are rounded to a nanometre (and likewise): what differs by less is noise of
# the machine's arithmetic and must not show in the bytes.
_DIGITS = 9


def finding_id(judgement: Judgement) -> str:
    """Make a finding's id from its content: rule, subject and reason."""
    parts = (judgement.rule, judgement.subject.kind, judgement.subject.id, judgement.reason)
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:12]


def remaining_part(judgement: Judgement) -> Remaining:
    """Write what still does not hold once a plug stands elsewhere."""
    return Remaining(
        id=finding_id(judgement),
        rule=judgement.rule,
        outcome=judgement.outcome,
        says=judgement.says,
        missing=judgement.missing,
    )


def layout_part(layout: Layout) -> LayoutPart:
    """Write which layout was judged."""
    digest = digest_of(canonical_json(layout))
    return LayoutPart(name=layout.name, note=layout.note, digest=digest)


def pack_part(pack: Pack) -> PackPart:
    """Write which rule pack was used, and what in it is looser than the built-in figures."""
    loosened = tuple(
        LoosenedPart(rule=x.rule, figure=x.figure, built_in=x.built_in, set_to=x.set_to)
        for x in pack.loosened
    )
    return PackPart(name=pack.name, digest=pack.digest, loosened=loosened)


def measure(amount: Amount, units: UnitSystem) -> Measure:
    """Write an amount, with its text in some units."""
    value = round(amount.value, _DIGITS) + 0.0
    shown = show_amount(amount, units)
    return Measure(value=value, unit=amount.dimension.value, shown=shown)


def is_well_placed(placing: Placing) -> bool:
    """Tell whether a plug may stay where it is marked."""
    return placing.nearest is not None and placing.nearest.travel <= TOLERANCE


def _hangs_on(case: Case, drained: Drained) -> tuple[str, ...]:
    """Say which lengths and sizes of pipe the drained water hangs on."""
    longest = case.longest
    if longest is None:
        return ()
    plugs = [(p.spot, p.jacket / 2) for p in longest.plugs]
    other = drained_water(longest.worlds.working(Trust.STATED), plugs)
    if other.counted == drained.counted:
        return ()
    return wanted([u for facts in case.unstated.values() for u in facts])


def _stated_at(judgement: Judgement) -> tuple[str, ...]:
    fields = tuple(map(field_of, judgement.missing))
    return fields if any(fields) else ()


class Writer:
    """Writes the parts of one case's report."""

    def __init__(self, case: Case) -> None:
        """Look up what many parts need."""
        self.case = case
        self._positions = Positions(case.layout)
        self._plans = coolant_plans(case)
        self._drawn = {p.id: p.point for p in case.layout.plugs if p.point is not None}
        self.sizes = {p.id: p.size.text for p in case.layout.pipes}
        self.refs = Refs(case.layout)
        self.points = {j.id: j.at for j in case.layout.junctions}
        # The same lengths and places stand in many findings, ways and stretches.
        self._written = Once()
        # Where each plug that is well placed may stand, so that its station is read into it.
        self.stands: dict[str, ClearStretch] = {}

    def ref(self, kind: str, name: str) -> str | None:
        """Give the id of an element in the caller's model."""
        return self.refs.ref(kind, name)

    def named(self, name: Named) -> NamedPart:
        """Write an element."""
        return NamedPart(kind=name.kind, id=name.id, ref=self.ref(name.kind, name.id))

    def subject(self, subject: Subject) -> SubjectPart:
        """Write what was judged."""
        elements = tuple(self.named(n) for n in subject.parts)
        ref = self.ref(subject.kind, subject.id)
        return SubjectPart(kind=subject.kind, id=subject.id, ref=ref, elements=elements)

    def done_to(self, kind: str, name: str) -> AddedPart:
        """Write a thing to be done."""
        return AddedPart(kind=kind, id=name, ref=self.refs.done_to(kind, name))

    def amount(self, amount: Amount) -> Measure:
        """Write an amount."""
        return self._written(amount, lambda: measure(amount, self.case.layout.units))

    def length(self, metres: float) -> Measure:
        """Write a length."""
        return self.amount(Amount(metres, Dimension.LENGTH))

    def reading(self, found: Reading) -> Measure:
        """Write a length as it was read off a tape."""
        unit = Dimension.LENGTH.value
        return Measure(value=round(found.value, _DIGITS) + 0.0, unit=unit, shown=found.shown)

    def into(self, metres: float, span: Interval) -> Measure:
        """Write a length, its texts read into a span (m)."""
        found = read_into(metres, span, self.case.layout.units)
        return self.length(metres).model_copy(update={"shown": found.shown})

    def away(self, metres: float, limit: float) -> Measure:
        """Write a length, its texts on the side of it where a limit (m; inf, -inf) lies."""
        found = away_from(metres, limit, self.case.layout.units)
        return self.length(metres).model_copy(update={"shown": found.shown})

    def volume(self, cubic_metres: float) -> Measure:
        """Write a volume."""
        return self.amount(Amount(cubic_metres, Dimension.VOLUME))

    def at_station(self, pipe: str, station: float) -> At:
        """Write a place on a pipe."""
        return At(
            pipe=pipe,
            pipe_ref=self.ref("pipe", pipe),
            station=self.length(station),
            from_junction=self.from_junction(pipe),
            point=self.point(pipe, station),
        )

    def mark(self, plug: PlacedPlug) -> At:
        """Write where a plug is marked; where it is well placed, its texts are so too.

        On a pipe of unknown length a drawn point has no station.
        """
        found, clear = self.at_station(plug.pipe, plug.station), self.stands.get(plug.id)
        drawn = self._drawn.get(plug.id)
        if drawn is not None and self.case.lacks_length(plug.pipe):
            return found.model_copy(update={"station": None, "point": drawn})
        if clear is None:
            return found
        station = self.into(plug.station, (clear.start, clear.end))
        return found.model_copy(update={"station": station})

    def from_junction(self, pipe: str) -> str:
        """Name what stations on a pipe are measured from."""
        return self.case.network.pipes[pipe].tape_from

    def point(self, pipe: str, station: float) -> tuple[float, float] | None:
        """Give the drawn position of a station."""
        path = self._positions.path(self.case.network.pipes[pipe])
        length = self.case.network.pipe_length[pipe]
        if path is None:
            return None
        x, y = path.at(station / length if length else 0.0)
        return round(x, _DIGITS), round(y, _DIGITS)

    def at_node(self, node: int) -> At:
        """Write the place of a node."""
        return self._written(("node", node), lambda: self._at_node(node))

    def _at_node(self, node: int) -> At:
        place = self.case.network.places[node]
        if place.junction is not None:
            return At(
                junction=place.junction,
                junction_ref=self.ref("junction", place.junction),
                element=place.element,
                element_ref=self.refs.of(place.element),
                point=self.points[place.junction],
            )
        pipe, station = place.pipe or "", place.station or 0.0
        told = {"element": place.element, "element_ref": self.refs.of(place.element)}
        return self.at_station(pipe, station).model_copy(update=told)

    def finding(self, judgement: Judgement) -> Finding:
        """Write one stored outcome."""
        rule = all_rules()[judgement.rule]
        measured, required = judgement.measured, judgement.required
        return Finding(
            id=finding_id(judgement),
            rule=judgement.rule,
            severity=rule.severity,
            gravity=rule.gravity,
            subject=self.subject(judgement.subject),
            outcome=judgement.outcome,
            reason=judgement.reason,
            says=judgement.says,
            measured=None if measured is None else self.amount(measured),
            required=None if required is None else self.amount(required),
            where=self._where(judgement),
            way=tuple(self.at_node(n) for n in judgement.way),
            concerns=tuple(self.named(c) for c in judgement.concerns),
            missing=tuple(map(str, judgement.missing)),
            stated_at=_stated_at(judgement),
            assumed=judgement.assumed,
            todo=judgement.todo,
            changes=tuple(self.done_to(c.kind, c.id) for c in judgement.changes),
            gives=judgement.gives,
            waiver=self._waiver(judgement),
        )

    def _where(self, judgement: Judgement) -> At | None:
        if judgement.subject.kind == "plug":
            plug = self.case.plug(judgement.subject.id)
            return self.mark(plug)
        return None if judgement.where is None else self.at_node(judgement.where)

    def _waiver(self, judgement: Judgement) -> WaivedBy | None:
        if judgement.outcome is not Outcome.WAIVED:
            return None
        found = [
            w
            for w in self.case.layout.waivers
            if w.rule == judgement.rule and w.subject == judgement.subject.id
        ]
        waiver = max(found, key=lambda w: (w.until, w.by, w.reason))
        return WaivedBy(reason=waiver.reason, by=waiver.by, until=waiver.until)

    def plug(self, plug: PlacedPlug, placing: Placing, own: list[Judgement]) -> PlugPart:
        """Write one plug, its clear stretches and its nearest place."""
        nearest = placing.nearest
        well_placed = is_well_placed(placing)
        shown = None if well_placed else self._known_move(plug, nearest)
        return PlugPart(
            id=plug.id,
            ref=self.ref("plug", plug.id),
            at=self.mark(plug),
            jacket=self.length(plug.jacket),
            size=self.sizes[plug.pipe],
            coolant=plug.coolant.value,
            place=self._status(placing, shown),
            well_placed=well_placed,
            clear_by=self._clear_by(own),
            nearest=shown,
            keeping=self._known_move(plug, placing.keeping),
            holds_back=placing.holds_back,
            # Not known where a pipe's length or size is not: no place on it was tried.
            no_place=nearest is None and not self.case.unstated,
            isolates=placing.isolates,
            freeze=self._freeze(plug, own),
            clear=tuple(self._stretch(c) for c in placing.clear),
            shut_out=tuple(self._shut(s) for s in placing.shut_out),
        )

    def _status(self, placing: Placing, shown: Move | None) -> PlaceStatus:
        if is_well_placed(placing):
            return PlaceStatus.STAYS
        if shown is not None:
            return PlaceStatus.MOVES
        unknown = placing.nearest is not None or self.case.unstated
        return PlaceStatus.NOT_KNOWN if unknown else PlaceStatus.NONE

    def _freeze(self, plug: PlacedPlug, own: list[Judgement]) -> FreezePart:
        """Write the estimate of a plug's freeze, with what makes it of no use at its mark."""
        rules = all_rules()
        broken = {
            j.rule
            for j in own
            if j.outcome is Outcome.BROKEN and j.rule in rules and rules[j.rule].voids_estimate
        }
        part = freeze_part(freeze_of(self.case, plug), self._plans[plug.id], self.amount)
        return part.model_copy(update={"left_out": tuple(sorted(broken))})

    def _stretch(self, clear: ClearStretch) -> Stretch:
        span = (clear.start, clear.end)
        return Stretch(
            pipe=clear.pipe,
            from_junction=self.from_junction(clear.pipe),
            start=self._written((clear.start, span), lambda: self.into(clear.start, span)),
            end=self._written((clear.end, span), lambda: self.into(clear.end, span)),
            room=self.room(clear.room),
        )

    def room(self, room: float) -> Measure:
        """Write a length (m) of which there is no more than that."""
        return self._written(("room", room), lambda: self.into(room, (0.0, room)))

    def _shut(self, shut: ShutOut) -> ShutStretch:
        start, end = shut.start, shut.end
        return ShutStretch(
            pipe=shut.pipe,
            from_junction=self.from_junction(shut.pipe),
            start=self._written(("from", start), lambda: self.away(start, -math.inf)),
            end=self._written(("to", end), lambda: self.away(end, math.inf)),
            rules=shut.rules,
        )

    def _known_move(self, plug: PlacedPlug, proposal: Proposal | None) -> Move | None:
        """Write a move, unless how far it is hangs on what is not stated."""
        if proposal is None or not self._travel_known(plug, proposal):
            return None
        return self._move(plug, proposal)

    def _travel_known(self, plug: PlacedPlug, proposal: Proposal) -> bool:
        """Tell whether the way to a place is as long in both readings of what is not stated."""
        longest = self.case.longest
        if longest is None:
            return True
        there = longest.network.spot(proposal.pipe, proposal.station)
        mark = longest.plug(plug.id).spot
        travel = longest.worlds.along(mark).at(longest.network, there)
        return abs(travel - proposal.travel) <= TOLERANCE

    def _move(self, plug: PlacedPlug, proposal: Proposal) -> Move:
        drain = self.drain(self.case.moved(plug, proposal.spot))
        return Move(
            pipe=proposal.pipe,
            pipe_ref=self.ref("pipe", proposal.pipe),
            from_junction=self.from_junction(proposal.pipe),
            station=self.into(proposal.station, (proposal.clear.start, proposal.clear.end)),
            tape=self.reading(proposal.tape),
            travel=self.away(proposal.travel, math.inf),
            room=self.room(proposal.clear.room),
            point=self.point(proposal.pipe, proposal.station),
            remaining=tuple(remaining_part(j) for j in proposal.remaining),
            drain=None if drain is None else drain.volume,
        )

    def work(self) -> WorkPart | None:
        """Write what will be opened, and for how long."""
        work = self.case.layout.work
        if work is None:
            return None
        opened = tuple(place.label for place in self.case.network.work)
        duration = self.amount(Amount(work.duration, Dimension.DURATION))
        return WorkPart(opened=opened, duration=duration)

    def drain(self, case: Case) -> DrainPart | None:
        """Write the water that drains at the work with the plugs as they stand in a case."""
        if not case.network.work:
            return None
        plugs = [(p.spot, p.jacket / 2) for p in case.plugs]
        drained = drained_water(case.worlds.working(Trust.STATED), plugs)
        missing = (*drained.missing, *_hangs_on(case, drained))
        if not missing and drained.volume is not None:
            return DrainPart(volume=self.volume(drained.volume), missing=())
        # What is counted takes all the water where heights are missing: then it is no least.
        least = None if drained.volume is None else self.volume(drained.volume)
        return DrainPart(volume=None, at_least=least, missing=missing)

    def _clear_by(self, own: list[Judgement]) -> Measure | None:
        """Give the least margin over the lengths a plug keeps; None if it breaks one."""
        margins = []
        for judgement in own:
            rule = all_rules().get(judgement.rule)
            if rule is None or not rule.keeps_distance:
                continue
            if judgement.outcome in {Outcome.BROKEN, Outcome.UNDECIDED}:
                return None
            if judgement.measured is not None and judgement.required is not None:
                margins.append(judgement.measured.value - judgement.required.value)
        return self.room(max(0.0, min(margins))) if margins else None

    def flowing(self) -> tuple[FlowPart, ...]:
        """Write which pipes can flow while freezing and why, a line for each reason."""
        network = self.case.network
        sure, worst = (self.case.worlds.freezing(t) for t in (Trust.BEST, Trust.PROVEN))
        groups: dict[tuple[str, bool], set[str]] = defaultdict(set)
        seen: dict[tuple[int, int, bool], str] = {}
        for index in np.flatnonzero(worst.flowing & (network.kind == PieceKind.PIPE)).tolist():
            certain = bool(sure.flowing[index])
            world = sure if certain else worst
            key = (int(world.blocks[index]), int(world.loops[index]), certain)
            if key not in seen:
                reason = world.why_flowing(index)
                seen[key] = "" if reason is None else flow_in_words(self.case, reason)
            groups[seen[key], certain].add(network.pieces[index].element)
        rows = [
            FlowPart(pipes=tuple(sorted(pipes)), why=why, certain=certain)
            for (why, certain), pipes in groups.items()
        ]
        return tuple(sorted(rows, key=lambda r: (not r.certain, r.pipes)))
