"""Make a layout of parts that meet: pipes between junctions, and everything else at junctions.

A fitting, a valve or a machine becomes a junction at its centre. What lies between its centre and
its port (the arm) is counted as pipe. A two-port element is crossed in a straight line: for a bend
that is a little short, and short distances are the unsafe side.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from layoutcheck.document.models import EquipmentKind, FittingKind, SourceKind
from layoutcheck.importers.draft import Draft, metres, rounded
from layoutcheck.importers.ifc.joints import centre_line, station_on
from layoutcheck.importers.ifc.kinds import IN_LINE, Role, fitting_kind, valve_kind
from layoutcheck.importers.ifc.parts import Part, Read
from layoutcheck.importers.ifc.shape import Vector, apart, run_of
from layoutcheck.importers.ifc.specs import Spec, length_of, spec_of
from layoutcheck.importers.sizing import larger
from layoutcheck.quantities import parse_size

_STRAIGHT = 1e-3  # a corner nearer to the straight line than this (m) is none
_BEND = math.radians(10.0)
_VESSELS = {"EXPANSION", "PRESSUREVESSEL", "FEEDANDEXPANSION"}
# Valves of one port that let water out.
_TAPS = {"DRAWOFFCOCK", "FAUCET", "FLUSHING", "PRESSURERELIEF", "AIRRELEASE", "ANTIVACUUM"}
_DOUBT = "open end"


@dataclass
class Spot:
    """A junction: its id, where it is drawn (m), how high it lies (m)."""

    own: str
    at: Vector
    height: float


@dataclass
class Anchor:
    """Where an end of a pipe is joined: the junction, and how much pipe lies in the element (m)."""

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
    anchors: dict[int, Anchor] = field(default_factory=dict)
    largest: str | None = None

    def build(self) -> None:
        """Build junctions, pipes and everything that stands at junctions."""
        self._cluster()
        for part in self.read.parts:
            if part.role is Role.PIPE and len(part.ends) >= 2:
                self.lines[part.index] = centre_line(self.read, part)
                self.specs[part.index] = spec_of(part, self.draft)
        known = [s.size for s in self.specs.values() if s.size is not None]
        for size in sorted(set(known)):
            self.largest = size if self.largest is None else larger(self.largest, size)
        for part in self.read.parts:
            if part.role is not Role.PIPE:
                self._device(part)
        for cluster in sorted(self.members, key=lambda c: self.members[c][0]):
            self._joint(self.members[cluster])
        for part in self.read.parts:
            if part.index in self.lines:
                self._pipe(part)

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

    def _spot(self, wanted: str, at: Vector, height: float, **fields: object) -> Spot:
        own = self.draft.add(
            "junctions",
            wanted,
            elevation=metres(height),
            at=[rounded(at[0]), rounded(at[1])],
            **fields,
        )
        return Spot(own, at, height)

    # --- elements at junctions -------------------------------------------------------------------

    def _device(self, part: Part) -> None:
        met = self._met(part)
        if not met:
            self.draft.leave_out("Connected to nothing that was read", part.name)
            return
        if part.role not in IN_LINE and len(part.ends) > 2:
            # Gas, power and drain ports of machines and basins lead to nothing that was read.
            self._forget_unmet(part, met)
        at, height = self._centre(part)
        fields: dict[str, object] = {"ref": part.guid}
        if part.role in {Role.FITTING, Role.INLINE}:
            fields["fitting"] = self._fitting(part)
        self.spots[part.index] = self._spot(part.name, at, height, **fields)
        self._stand(part, self.spots[part.index].own)

    def _forget_unmet(self, part: Part, met: list[int]) -> None:
        if len(met) < len(part.ends):
            self.draft.gap("Has ports that are connected to nothing; they are left out", part.name)
            for end in set(part.ends) - set(met):
                del self.members[self.cluster_of[end]]
            part.ends = met

    def _fitting(self, part: Part) -> str | None:
        if part.role is Role.INLINE:
            words = part.words.lower()
            meter = "meter" in words or "METER" in part.predefined
            strainer = "strain" in words or part.predefined == "STRAINER"
            kind = FittingKind.METER if meter else FittingKind.OTHER
            return (FittingKind.STRAINER if strainer else kind).value
        if len(part.ends) == 1 and not _ends_pipe(part):
            return None
        return fitting_kind(part.predefined, part.words, len(part.ends)).value

    def _stand(self, part: Part, junction: str) -> None:
        """Put into its list what stands at a junction."""
        common: dict[str, object] = {"junction": junction, "ref": part.guid}
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
                self._end_fitting(part, common)
            case Role.INLINE if ends == 1:
                self._doubt(part, common)

    def _end_fitting(self, part: Part, common: dict[str, object]) -> None:
        """Say what a fitting of one port is: a way in, a way out, a cap, or not known."""
        if part.predefined == "ENTRY":
            self.draft.add("sources", part.name, kind=SourceKind.MAIN.value, **common)
        elif part.predefined == "EXIT":
            self.draft.add("outlets", part.name, **common)
        elif not _ends_pipe(part):
            self._doubt(part, common)

    def _heat(self, part: Part, common: dict[str, object]) -> None:
        heats = part.role is Role.HEATER
        kind = EquipmentKind.HEATER if heats else EquipmentKind.COOLER
        self.draft.add("equipment", part.name, kind=kind.value, **common)
        if len(part.ends) > 2:
            self.draft.assume("Water is taken to pass between all ports", part.name)
        elif len(part.ends) == 1:
            self._doubt(part, common)

    def _doubt(self, part: Part, common: dict[str, object]) -> None:
        """Take what is met at one end only as a source: what lies behind it is not known."""
        says = "Met at one end only, and not said to close it: taken as a source until it is stated"
        self.draft.gap(says, part.name)
        self.draft.add("sources", part.name, kind=SourceKind.MAIN.value, **common)

    def _valve(self, part: Part, common: dict[str, object]) -> None:
        if len(part.ends) == 1 and part.predefined in _TAPS:
            self.draft.add("outlets", part.name, **common)
            return
        if len(part.ends) == 1:
            self._doubt(part, common)
            return
        if len(part.ends) > 2:
            says = "A valve of more than two ports: read as open between all of them"
            self.draft.gap(says, part.name)
            return
        mechanism = str(part.values.get("valvemechanism", ("", ""))[0]).upper()
        kind = valve_kind(part.predefined, mechanism, part.words)
        body = apart(self._at(part.ends[0]), self._at(part.ends[1]))
        shown = metres(body) if rounded(body) > 0.0 else None
        self.draft.add("valves", part.name, kind=kind.value, body=shown, **common)
        says = "The model does not say how the valve stands: open for water, closed for setbacks"
        self.draft.gap(says, part.name)

    def _centre(self, part: Part) -> tuple[Vector, float]:
        """Give where an element is drawn (m), and how high its centre lies (m)."""
        spots = [self._at(i) for i in part.ends]
        if len(spots) == 2:
            middle = _mean(spots)
            return self._corner(part) or middle, middle[2]
        if len(spots) > 2:
            centre = _crossing(spots)
            return centre, centre[2]
        return spots[0], spots[0][2]

    def _corner(self, part: Part) -> Vector | None:
        """Give where the axes of the pipes on both sides of an element meet; None if in line."""
        rays = []
        for end in part.ends:
            pipe = next((i for i in self.members[self.cluster_of[end]] if self._is_pipe(i)), None)
            line = None if pipe is None else self.lines.get(self.read.ends[pipe].part)
            if line is None:
                return None
            at = self._at(end)
            near = line if apart(line[0], at) <= apart(line[-1], at) else line[::-1]
            if apart(near[0], near[1]) == 0.0:
                return None
            rays.append((np.array(near[0]), _unit(near[0], near[1])))
        return _meeting(rays[0], rays[1])

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
                self.anchors[end] = self._anchor(others[min(number, len(others) - 1)])
        elif len(others) == 2 and len(devices) == 2 and not pipes:
            self._link(self._anchor(others[0]), self._anchor(others[1]), others)
        else:
            name = " + ".join(self.read.parts[self.read.ends[e].part].name for e in ends[:2])
            at = self._at(ends[0])
            anchor = Anchor(self._spot(name, at, at[2]))
            for end in pipes:
                self.anchors[end] = anchor
            for end in others:
                self._link(anchor, self._anchor(end), [end])

    def _takes(self, device: int, pipes: int, ends: int) -> bool:
        """Tell whether pipes may end at an element's own junction, by how many of its ends meet.

        A valve or pump stands between two pipes, so it takes one for each of its ends.
        """
        between = self.read.parts[device].role in {Role.VALVE, Role.PUMP}
        return pipes <= ends if between else pipes > 0

    def _anchor(self, end: int) -> Anchor:
        """Give the junction of an element, and the arm between its centre and one of its ends."""
        part = self.read.parts[self.read.ends[end].part]
        spot, at = self.spots[part.index], self._at(end)
        if len(part.ends) == 2:
            one, two = part.ends
            return Anchor(spot, apart(self._at(one), self._at(two)) / 2)
        return Anchor(spot, apart(spot.at, at) if len(part.ends) > 2 else 0.0)

    def _open(self, end: int) -> None:
        """End the network where nothing more is known: water may come in from there."""
        part = self.read.parts[self.read.ends[end].part]
        beyond = self.read.ends[end].beyond
        if self._is_pipe(end):
            at = self._at(end)
            self.anchors[end] = Anchor(self._spot(f"{part.name} {_DOUBT}", at, at[2]))
            junction = self.anchors[end].spot.own
        elif len(part.ends) == 1 or part.role not in IN_LINE:
            return
        elif len(part.ends) == 2 and part.role in {Role.VALVE, Role.PUMP}:
            junction = self.spots[part.index].own
        else:
            at = self._at(end)
            spot = self._spot(f"{part.name} {_DOUBT}", at, at[2])
            self._link(self._anchor(end), Anchor(spot), [end])
            junction = spot.own
        self.draft.add(
            "sources", f"{part.name} {_DOUBT}", junction=junction, kind=SourceKind.MAIN.value
        )
        says = (
            "Goes on beyond what was read: taken as a source until it is stated otherwise"
            if beyond
            else "An end connected to nothing: taken as a source until it is stated otherwise"
        )
        self.draft.gap(says, part.name)

    def _link(self, one: Anchor, two: Anchor, ends: list[int]) -> None:
        """Put a short pipe between two elements that meet without one."""
        parts = [self.read.ends[e].part for e in ends]
        near = [self.specs[p] for e in parts for p in self._pipes_near(e)]
        sized = [s for s in near if s.size is not None]
        spec = max(sized, key=lambda s: _inches(s.size)) if sized else Spec(None, "unknown")
        length = max(one.arm + two.arm, abs(one.spot.height - two.spot.height))
        own = self.draft.add(
            "pipes",
            f"{one.spot.own} - {two.spot.own}",
            from_=one.spot.own,
            to=two.spot.own,
            length=metres(length),
            **spec.fields(self._size_or_largest(spec)),
        )
        self.draft.assume("A short pipe put between elements that meet without one", own)

    def _pipes_near(self, part: int) -> list[int]:
        """Give the pipes that an element meets, at any of its ends."""
        met = [m for e in self.read.parts[part].ends for m in self.members[self.cluster_of[e]]]
        return [p for m in met if (p := self.read.ends[m].part) in self.specs]

    def _size_or_largest(self, spec: Spec) -> str:
        """Give a pipe's size; the largest of the model where it is not known."""
        return spec.size or self.largest or "NPS 24"

    # --- pipes -----------------------------------------------------------------------------------

    def _pipe(self, part: Part) -> None:
        """Write a pipe, or the lengths of it between its ends and branches."""
        line, spec = self.lines[part.index], self.specs[part.index]
        if spec.size is None:
            says = "Taken as the largest size of the model, for its own is not known"
            self.draft.assume(says, part.name)
        run = run_of(tuple(line))
        length = length_of(part, run, self.draft)
        stations = self._stations(part, line, run)
        many = len(stations) > 2
        corners = _corner_stations(line)
        for number, ((start, one), (stop, two)) in enumerate(pairwise(stations), start=1):
            share = (stop - start) / run if run > 0.0 else 1.0 / (len(stations) - 1)
            inner = [p for s, p in corners if start + _STRAIGHT < s < stop - _STRAIGHT]
            self._piece(
                part,
                f"{part.name}/{number}" if many else part.name,
                (one, two),
                length * share,
                inner,
            )

    def _stations(self, part: Part, line: list[Vector], run: float) -> list[tuple[float, int]]:
        """Give a pipe's ends in their order along it, with their stations on its line (m)."""
        if len(part.ends) == 2:
            one, two = part.ends if self._at(part.ends[0]) == line[0] else part.ends[::-1]
            return [(0.0, one), (run, two)]
        stations = sorted((station_on(line, self._at(e)), e) for e in part.ends)
        stations[0], stations[-1] = (0.0, stations[0][1]), (run, stations[-1][1])
        return stations

    def _piece(
        self, part: Part, wanted: str, ends: tuple[int, int], length: float, inner: list[Vector]
    ) -> None:
        one, two = (self.anchors[e] for e in ends)
        total = length + one.arm + two.arm
        rise = abs(one.spot.height - two.spot.height)
        if rise > total + _STRAIGHT:
            says = "Shorter than the rise between its ends: the rise is taken as its length"
            self.draft.assume(says, part.name)
        spec = self.specs[part.index]
        drawn = [one.spot.at, self._at(ends[0]), *inner, self._at(ends[1]), two.spot.at]
        self.draft.add(
            "pipes",
            wanted,
            name=f"on {part.storey}" if part.storey else None,
            from_=one.spot.own,
            to=two.spot.own,
            **spec.fields(self._size_or_largest(spec)),
            length=metres(max(total, rise)),
            via=_via(drawn),
            covering="insulation" if part.insulated else None,
            room=part.room or None,
            ref=part.guid,
        )


def _ends_pipe(part: Part) -> bool:
    """Tell whether a fitting of one port is said to close the pipe."""
    if part.predefined in {"ENTRY", "EXIT"}:
        return False
    named = re.search(r"\b(?:cap|blind|plug|stop end)\b", part.words.lower())
    return part.predefined == "OBSTRUCTION" or named is not None


def _inches(size: str | None) -> float:
    return 0.0 if size is None else parse_size(size).inches


def _mean(spots: list[Vector]) -> Vector:
    n = len(spots)
    return (
        sum(s[0] for s in spots) / n,
        sum(s[1] for s in spots) / n,
        sum(s[2] for s in spots) / n,
    )


def _crossing(spots: list[Vector]) -> Vector:
    """Give the centre of a tee or cross: where the branches meet the line of the longest run."""
    rows = [(apart(a, b), n, m) for n, a in enumerate(spots) for m, b in enumerate(spots) if n < m]
    size, n, m = max(rows)
    if size == 0.0:
        return spots[0]
    rest = _mean([s for i, s in enumerate(spots) if i not in {n, m}])
    start, way = np.array(spots[n]), _unit(spots[n], spots[m])
    centre = start + way * float(np.clip(np.dot(np.array(rest) - start, way), 0.0, size))
    return (float(centre[0]), float(centre[1]), float(centre[2]))


def _unit(a: Vector, b: Vector) -> np.ndarray:
    way = np.array(b) - np.array(a)
    unit: np.ndarray = way / np.linalg.norm(way)
    return unit


def _meeting(
    one: tuple[np.ndarray, np.ndarray], two: tuple[np.ndarray, np.ndarray]
) -> Vector | None:
    """Give the point where two axes meet, or pass nearest; None where they are in line."""
    (p, u), (q, v) = one, two
    cross = np.cross(u, v)
    sine = float(np.linalg.norm(cross))
    if sine < math.sin(_BEND):
        return None
    gap = q - p
    t = float(np.dot(np.cross(gap, v), cross)) / sine**2
    s = float(np.dot(np.cross(gap, u), cross)) / sine**2
    middle = ((p + t * u) + (q + s * v)) / 2
    reach = 3 * float(np.linalg.norm(gap))
    if float(np.linalg.norm(middle - p)) > reach:
        return None
    return (float(middle[0]), float(middle[1]), float(middle[2]))


def _corner_stations(line: list[Vector]) -> list[tuple[float, Vector]]:
    """Give the inner corners of a centre line with how far along it they lie (m)."""
    found, along = [], 0.0
    for a, b in pairwise(line):
        along += apart(a, b)
        found.append((along, b))
    return found[:-1]


def _via(drawn: list[Vector]) -> list[object] | None:
    """Give the corners of a drawn path between its two ends; what lies in line is left out."""
    kept = [drawn[0]]
    for here, after in pairwise(drawn[1:]):
        if _off(kept[-1], after, here) > _STRAIGHT:
            kept.append(here)
    corners: list[object] = [
        {"at": [rounded(p[0]), rounded(p[1])], "elevation": metres(p[2])} for p in kept[1:]
    ]
    return corners or None


def _off(a: Vector, b: Vector, spot: Vector) -> float:
    """Give how far a point lies from the stretch between two others (m)."""
    way = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
    to = (spot[0] - a[0], spot[1] - a[1], spot[2] - a[2])
    size = way[0] * way[0] + way[1] * way[1] + way[2] * way[2]
    share = (to[0] * way[0] + to[1] * way[1] + to[2] * way[2]) / size if size else 0.0
    share = min(1.0, max(0.0, share))
    return math.hypot(*(t - share * w for t, w in zip(to, way, strict=True)))
