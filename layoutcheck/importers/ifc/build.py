"""Make a layout of parts that meet: pipes between junctions, and everything else at junctions.

A pipe is as long as its own segment, and its stations begin at its own end. A fitting, a valve or a
machine becomes a junction at its middle (a row of them, where it is long); the way from there to
each of its ports is what the pipe that meets it there says of its end: the body of something else.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

from layoutcheck.document.models import EquipmentKind, FittingKind, SourceKind, ValveKind
from layoutcheck.importers.draft import Draft, metres, rounded
from layoutcheck.importers.ifc.hubs import hub_of
from layoutcheck.importers.ifc.joints import centre_line
from layoutcheck.importers.ifc.kinds import IN_LINE, Role, fitting_kind, is_closed_end, valve_kind
from layoutcheck.importers.ifc.naming import words_of
from layoutcheck.importers.ifc.parts import Part, Read
from layoutcheck.importers.ifc.runs import Run, Stretch
from layoutcheck.importers.ifc.shape import Vector, apart, run_of
from layoutcheck.importers.ifc.specs import Spec, contradicts, length_of, spec_of, stated_length
from layoutcheck.quantities import parse_size

_VESSELS = {"EXPANSION", "PRESSUREVESSEL", "FEEDANDEXPANSION"}
# Valves of one port that let water out.
_TAPS = {"DRAWOFFCOCK", "FAUCET", "FLUSHING", "PRESSURERELIEF", "AIRRELEASE", "ANTIVACUUM"}
_DOUBT = "open end"
_SLACK = 5e-3  # what joined ports may lie apart by without a word (m): a gasket
_SHORT = 0.02  # a pipe shorter than this (m) would be asked about


@dataclass
class Spot:
    """A junction: its id, and where it is (m)."""

    own: str
    at: Vector


@dataclass
class Anchor:
    """Where an end is joined: the junction, and the way from it to the end (m)."""

    spot: Spot
    arm: float = 0.0


@dataclass
class Builder:
    """Builds the lists of a draft."""

    read: Read
    draft: Draft
    cluster_of: list[int] = field(default_factory=list)
    members: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    lines: dict[int, list[Vector]] = field(default_factory=dict)
    specs: dict[int, Spec] = field(default_factory=dict)
    spots: dict[int, Spot] = field(default_factory=dict)
    # Ends of devices from the start, ends of pipes once they are joined.
    anchors: dict[int, Anchor] = field(default_factory=dict)
    # Three-way valves: each way is shut by itself, where a pipe leaves the valve.
    ways: dict[str, Part] = field(default_factory=dict)
    schematic: bool = False

    def build(self) -> None:
        """Build junctions, pipes and everything that stands at junctions."""
        self._cluster()
        for part in self.read.parts:
            if part.role is Role.PIPE and len(part.ends) >= 2:
                self.lines[part.index] = centre_line(self.read, part)
                self.specs[part.index] = spec_of(part, self.draft)
        self._to_scale()
        for part in self.read.parts:
            if part.role is not Role.PIPE:
                self._device(part)
        for cluster in sorted(self.members, key=lambda c: self.members[c][0]):
            self._joint(self.members[cluster])
        for part in self.read.parts:
            if part.index in self.lines:
                self._pipe(part)

    def _to_scale(self) -> None:
        """Find whether the model is drawn to scale: most stated lengths are those of the lines."""
        stated = {i: stated_length(self.read.parts[i]) for i in self.lines}
        told = {i: length for i, length in stated.items() if length is not None}
        off = [i for i in told if contradicts(told[i], run_of(tuple(self.lines[i])))]
        self.schematic = 2 * len(off) > len(told)
        if self.schematic:
            says = "Most stated lengths are not those of the bodies: read as drawn not to scale"
            self.draft.assume(says, *(self.read.parts[i].name for i in off))
            self.draft.drawing.pop("scale", None)

    # --- what meets ------------------------------------------------------------------------------

    def _cluster(self) -> None:
        parent = list(range(len(self.read.ends)))

        def root(end: int) -> int:
            while parent[end] != end:
                parent[end] = parent[parent[end]]
                end = parent[end]
            return end

        for one, two in self.read.pairs:
            a, b = root(one), root(two)
            parent[max(a, b)] = min(a, b)
        self.cluster_of = [root(i) for i in range(len(parent))]
        for end, cluster in enumerate(self.cluster_of):
            self.members[cluster].append(end)

    def _met(self, part: Part) -> list[int]:
        """Give those of a part's ends that meet something."""
        return [
            i
            for i in part.ends
            if any(self.read.ends[e].part != part.index for e in self.members[self.cluster_of[i]])
        ]

    def _is_pipe(self, end: int) -> bool:
        return self.read.parts[self.read.ends[end].part].role is Role.PIPE

    def _at(self, end: int) -> Vector:
        return self.read.ends[end].at or (0.0, 0.0, 0.0)

    def _spot(self, wanted: str, at: Vector, **fields: object) -> Spot:
        place = [rounded(at[0]), rounded(at[1])]
        own = self.draft.add("junctions", wanted, elevation=metres(at[2]), at=place, **fields)
        return Spot(own, at)

    # --- elements at junctions -------------------------------------------------------------------

    def _device(self, part: Part) -> None:
        met = self._met(part)
        if not met:
            self.draft.leave_out("Connected to nothing that was read", part.name)
            return
        closes = is_closed_end(part.predefined, part.words)
        if (part.role not in IN_LINE and len(part.ends) > 2) or (closes and len(met) == 1):
            # Gas, power and drain ports of machines lead to nothing that was read, nor does the
            # far side of a cap.
            self._forget_unmet(part, met)
        fields: dict[str, object] = {"ref": part.guid, "name": words_of(part)}
        if part.role in {Role.FITTING, Role.INLINE}:
            fields["fitting"] = self._fitting(part, closes=closes)
        hub = hub_of([self._at(i) for i in part.ends])
        if len(hub.middles) > 1 and "fitting" in fields:
            fields["fitting"] = FittingKind.OTHER.value  # a header: no one tee or cross
        spots = [
            self._spot(part.name if number == hub.main else f"{part.name}/{number + 1}", at)
            for number, at in enumerate(hub.middles)
        ]
        for spot in spots:
            self.draft.fill("junctions", spot.own, **fields)
        self.spots[part.index] = spots[hub.main]
        for end, (number, arm) in zip(part.ends, hub.ports, strict=True):
            self.anchors[end] = Anchor(spots[number], arm)
        for one, two in pairwise(spots):
            self._through(part, one, two)
        self._stand(part, spots[hub.main].own, closes=closes)

    def _through(self, part: Part, one: Spot, two: Spot) -> None:
        """Lead water along the spine of a long element: a way that is all body."""
        half = apart(one.at, two.at) / 2
        self._short_pipe(f"{one.own} - {two.own}", Anchor(one, half), Anchor(two, half), [part])

    def _forget_unmet(self, part: Part, met: list[int]) -> None:
        if len(met) < len(part.ends):
            self.draft.gap("Has ports that are connected to nothing; they are left out", part.name)
            for end in set(part.ends) - set(met):
                del self.members[self.cluster_of[end]]
            part.ends = met

    def _fitting(self, part: Part, *, closes: bool) -> str | None:
        if part.role is Role.INLINE:
            words = part.words.lower()
            meter = "meter" in words or "METER" in part.predefined
            strainer = "strain" in words or part.predefined == "STRAINER"
            kind = FittingKind.METER if meter else FittingKind.OTHER
            return (FittingKind.STRAINER if strainer else kind).value
        if len(part.ends) == 1 and not closes:
            return None
        sizes = {self.specs[p].size for p in self._pipes_near(part.index)} - {None}
        if len(part.ends) == 2 and len(sizes) > 1:
            return FittingKind.REDUCER.value  # a reducing elbow or coupling is one as well
        return fitting_kind(part.predefined, part.words, len(part.ends)).value

    def _stand(self, part: Part, junction: str, *, closes: bool) -> None:
        """Put into its list what stands at a junction."""
        words = words_of(part)
        common: dict[str, object] = {"junction": junction, "ref": part.guid, "name": words}
        ends = len(part.ends)
        match part.role:
            case Role.VALVE:
                self._valve(part, common)
            case Role.PUMP if ends == 2:
                self.draft.add("pumps", part.name, **common)
            case Role.PUMP:
                self.draft.gap("A pump that has not two ports: read as a source", part.name)
                self.draft.add("sources", part.name, kind=SourceKind.PUMP.value, **common)
            case Role.HEATER | Role.COOLER:
                self._heat(part, common)
            case Role.TANK if part.predefined in _VESSELS:
                kind_of = SourceKind.EXPANSION_VESSEL.value
                self.draft.add("sources", part.name, kind=kind_of, **common)
            case Role.TANK:
                tank = EquipmentKind.TANK.value
                self.draft.add("equipment", part.name, kind=tank, **common)
            case Role.TERMINAL:
                self.draft.add("outlets", part.name, **common)
            case Role.FITTING if ends == 1:
                self._end_fitting(part, common, closes=closes)
            case Role.FITTING if ends == 2 and closes:
                says = "Said to close the pipe, and pipe goes on beyond it: read as a valve"
                self.draft.gap(says, part.name)
                self._valve(part, common)
            case Role.INLINE if ends == 1:
                self._doubt(part)

    def _end_fitting(self, part: Part, common: dict[str, object], *, closes: bool) -> None:
        """Say what a fitting of one port is: a way in, a way out, a cap, or not known."""
        if part.predefined == "ENTRY":
            self.draft.add("sources", part.name, kind=SourceKind.MAIN.value, **common)
        elif part.predefined == "EXIT":
            self.draft.add("outlets", part.name, **common)
        elif not closes:
            self._doubt(part)

    def _heat(self, part: Part, common: dict[str, object]) -> None:
        heats = part.role is Role.HEATER
        kind = EquipmentKind.HEATER if heats else EquipmentKind.COOLER
        self.draft.add("equipment", part.name, kind=kind.value, **common)
        if len(part.ends) > 2:
            self.draft.assume("Water is taken to pass between all ports", part.name)
        elif len(part.ends) == 1:
            # What stands in a pipe does not end it: what lies behind is asked at an end of its own.
            behind = self._spot(f"{part.name} {_DOUBT}", self._at(part.ends[0]))
            here = Anchor(self.spots[part.index])
            self._short_pipe(f"{part.name} - {behind.own}", here, Anchor(behind), [part])
            self._doubt(part)

    def _doubt(self, part: Part) -> None:
        """Leave open what lies behind an element that is met at one end only."""
        self.draft.gap("Met at one end only: state what lies behind it", part.name)

    def _valve(self, part: Part, common: dict[str, object]) -> None:
        if len(part.ends) == 1 and part.predefined in _TAPS:
            self.draft.add("outlets", part.name, **common)
            return
        if len(part.ends) == 1:
            self._doubt(part)
            return
        if len(part.ends) > 2:
            self.ways[part.name] = part  # its ways are put down with the pipes that they lead to
            return
        mechanism = str(part.values.get("valvemechanism", ("", ""))[0]).upper()
        kind = valve_kind(part.predefined, mechanism, part.words, self.draft.names)
        body = apart(self._at(part.ends[0]), self._at(part.ends[1]))
        shown = metres(body) if rounded(body) > 0.0 else None
        self.draft.add("valves", part.name, kind=kind.value, body=shown, **common)
        says = "The model does not say how the valve stands: open for water, closed for setbacks"
        self.draft.gap(says, part.name)

    # --- joints ----------------------------------------------------------------------------------

    def _joint(self, ends: list[int]) -> None:
        """Join what meets at one place."""
        pipes = [e for e in ends if self._is_pipe(e) and self.read.ends[e].part in self.lines]
        others = [e for e in ends if not self._is_pipe(e) and self.read.ends[e].part in self.spots]
        devices = {self.read.ends[e].part for e in others}
        if not pipes and not devices:
            return
        if len(pipes) + len(devices) == 1:
            for end in pipes or others:
                self._open(end)
        elif len(devices) == 1 and self._takes(devices.copy().pop(), len(pipes), len(others)):
            for number, end in enumerate(pipes):
                self._fasten(end, others[min(number, len(others) - 1)])
        elif len(others) == 2 and len(devices) == 2 and not pipes:
            self._link(self.anchors[others[0]], self.anchors[others[1]], others)
        else:
            name = " + ".join(self._part(e).name for e in ends[:2])
            anchor = Anchor(self._spot(name, self._at(ends[0])))
            for end in pipes:
                self.anchors[end] = self._near(anchor, self._at(ends[0]), end)
            for end in others:
                self._link(anchor, self.anchors[end], [end])

    def _fasten(self, end: int, other: int) -> None:
        """Join a pipe's end with a port of a device."""
        self.anchors[end] = self._near(self.anchors[other], self._at(other), end)

    def _near(self, anchor: Anchor, at: Vector, end: int) -> Anchor:
        """Give where a pipe's end is joined; where it lies apart, it gets a junction of its own.

        Else the gap would be drawn as a part of the pipe, and its stations lie beside it.
        """
        if self.schematic or apart(at, self._at(end)) <= _SLACK:
            return anchor
        there = Anchor(self._spot(f"{self._part(end).name} end", self._at(end)))
        self._link(anchor, there, [end])
        return there

    def _takes(self, device: int, pipes: int, ends: int) -> bool:
        """Tell whether pipes may end at an element's own junction, by how many of its ends meet.

        A valve or pump stands between two pipes, so it takes one for each of its ends.
        """
        between = self.read.parts[device].role in {Role.VALVE, Role.PUMP}
        return pipes <= ends if between else pipes > 0

    def _part(self, end: int) -> Part:
        return self.read.parts[self.read.ends[end].part]

    def _open(self, end: int) -> None:
        """End the network where nothing more is known: what ends it there is asked."""
        part = self._part(end)
        if self._is_pipe(end):
            self.anchors[end] = Anchor(self._spot(f"{part.name} {_DOUBT}", self._at(end)))
        elif len(part.ends) == 1 or part.role not in IN_LINE:
            return
        elif len(part.ends) > 2 or part.role not in {Role.VALVE, Role.PUMP}:
            spot = self._spot(f"{part.name} {_DOUBT}", self._at(end))
            self._link(self.anchors[end], Anchor(spot), [end])
        self._ask_end(part, beyond=self.read.ends[end].beyond)

    def _ask_end(self, part: Part, *, beyond: bool) -> None:
        """Leave open what ends a pipe: a check asks about it, and takes nothing for granted."""
        says = "An end connected to nothing: state what ends the pipe there"
        if beyond:
            says = "Goes on beyond what was read: state what is beyond, or read that system too"
        self.draft.gap(says, part.name)

    def _link(self, one: Anchor, two: Anchor, ends: list[int]) -> None:
        """Lead water from one element to another that it meets without a pipe."""
        parts = [self._part(e) for e in ends]
        own = self._short_pipe(f"{one.spot.own} - {two.spot.own}", one, two, parts)
        self.draft.assume("A short pipe put between elements that meet without one", own)

    def _short_pipe(self, wanted: str, one: Anchor, two: Anchor, parts: list[Part]) -> str:
        """Put down a way that is all body, with no pipe to be seen; sized as the pipes beside."""
        near = [self.specs[p] for part in parts for p in self._pipes_near(part.index)]
        sized = [s for s in near if s.size is not None]
        spec = max(sized, key=lambda s: _inches(s.size)) if sized else Spec(None, "unknown")
        return self._put_pipe(wanted, (one, two), spec, Stretch.nothing(), {})

    def _pipes_near(self, part: int) -> list[int]:
        """Give the pipes that an element meets, at any of its ends."""
        met = [m for e in self.read.parts[part].ends for m in self.members[self.cluster_of[e]]]
        return [p for m in met if (p := self.read.ends[m].part) in self.specs]

    # --- pipes -----------------------------------------------------------------------------------

    def _pipe(self, part: Part) -> None:
        """Write a pipe, or the lengths of it between its ends and branches."""
        spec = self.specs[part.index]
        run = Run.of(part, self.lines[part.index])
        if run.off_body:
            says = "Its ports do not lie where its body ends; only its body is taken as bare pipe"
            self.draft.assume(says, part.name)
        length = stated_length(part) if self.schematic else None
        if length is None:
            length = length_of(part, run.bare, self.draft)
            run = run.shortened(length)
        else:
            self.draft.origin("length", part.values["length"][1], part.name)
        stations = run.stations([(self._at(e), e) for e in part.ends])
        many = len(stations) > 2
        fields: dict[str, object] = {
            "name": words_of(part),
            "covering": "insulation" if part.insulated else None,
            "room": part.room or None,
            "ref": part.guid,
        }
        for number, ((start, one), (stop, two)) in enumerate(pairwise(stations), start=1):
            wanted = f"{part.name}/{number}" if many else part.name
            stretch = run.stretch(start, stop, length)
            self._put_pipe(wanted, (self.anchors[one], self.anchors[two]), spec, stretch, fields)

    def _put_pipe(
        self,
        wanted: str,
        ends: tuple[Anchor, Anchor],
        spec: Spec,
        stretch: Stretch,
        fields: dict[str, object],
    ) -> str:
        """Write a pipe. What it lacks of the rise between its ends is no pipe that was seen."""
        one, two = ends
        first, last = one.arm + stretch.before, two.arm + stretch.after
        lacks = abs(one.spot.at[2] - two.spot.at[2]) - (first + stretch.length + last)
        if lacks > _SLACK:
            says = "Shorter than the rise between its ends: the rest is taken as body, not as pipe"
            self.draft.assume(says, wanted)
        last += max(lacks, 0.0)
        own = self.draft.add(
            "pipes",
            wanted,
            from_=one.spot.own,
            to=two.spot.own,
            **spec.fields(),
            length=metres(stretch.length),
            # What was measured in the model is no slip of the keyboard.
            meant=["length"] if stretch.length < _SHORT else None,
            from_body=metres(first) if rounded(first) else None,
            to_body=metres(last) if rounded(last) else None,
            via=stretch.corners(one.spot.at, two.spot.at),
            **fields,
        )
        for spot in (one.spot, two.spot):
            if spot.own in self.ways:
                self._way(self.ways[spot.own], own, at_start=spot is one.spot)
        return own

    def _way(self, part: Part, pipe: str, *, at_start: bool) -> None:
        """Put a valve where one way of a three-way valve begins: each way is shut by itself."""
        length = self.draft.lists["pipes"][-1]["length"]
        says = (
            "A valve of more than two ports: each of its ways is a valve by itself, state unknown"
        )
        self.draft.gap(says, part.name)
        self.draft.add(
            "valves",
            f"{part.name} to {pipe}",
            name=words_of(part),
            # Not to be shut at will: what closes one way of such a valve opens another.
            kind=ValveKind.CONTROL.value,
            pipe=pipe,
            station="0.0 m" if at_start else length,
            ref=part.guid,
        )


def _inches(size: str | None) -> float:
    return 0.0 if size is None else parse_size(size).inches
