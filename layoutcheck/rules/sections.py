"""The sections that growing ice shuts: what lies between plugs, closed valves and closed ends."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from layoutcheck.document.models import Moment, OutletState, SourceKind, ValveState
from layoutcheck.document.named import Named
from layoutcheck.network import Network
from layoutcheck.network.columns import CLOSED, OPEN, valve_columns
from layoutcheck.network.metric import connected_parts
from layoutcheck.network.model import PieceKind
from layoutcheck.physics.trapped import PipeSegment
from layoutcheck.rules.case import Case

# A section of more nodes than this is found anew each time: many of them would fill memory.
_LARGEST_KEPT = 5_000


@dataclass(frozen=True)
class Section:
    """Water that a plug's ice grows into.

    name: made of what bounds it, so that it stays the same when pipes are split or renamed.
    bounds: what bounds it, in order.
    plugs: the plugs whose ice grows into it, each named as often as it does so. reliefs: places
    where pushed water surely gets out. doubtful: places where it may. outlets: outlets in it that
    could be opened. valves: closed valves at its edge.
    """

    name: str
    bounds: tuple[Named, ...]
    plugs: tuple[str, ...]
    segments: tuple[PipeSegment, ...]
    nodes: tuple[int, ...]
    reliefs: tuple[Named, ...]
    doubtful: tuple[Named, ...]
    outlets: tuple[str, ...]
    valves: tuple[str, ...]


def sections_of(case: Case) -> list[Section]:
    """Find every section that a plug's ice grows into, cut at plugs and at valves that may hold.

    A valve counts as shut unless it is stated to be open: that traps the most water.
    """
    if not case.plugs:
        return []
    keep = _passable(case)
    sections = [_section(case, n, faces, keep) for n, faces in _parts(case, keep)]
    sections.sort(key=lambda s: (s.name, _first_junction(case, s), s.nodes))
    alike = Counter(s.name for s in sections)
    placed = [
        s if alike[s.name] == 1 else replace(s, name=f"{s.name} (by {_first_junction(case, s)})")
        for s in sections
    ]
    # On either side of a valve at a junction two sections may still go by one name.
    seen: Counter[str] = Counter()
    numbered = []
    for section in placed:
        seen[section.name] += 1
        count = seen[section.name]
        name = section.name if count == 1 else f"{section.name}, no. {count}"
        numbered.append(replace(section, name=name))
    return numbered


def _first_junction(case: Case, section: Section) -> str:
    junctions = case.network.places.junctions
    named = (junctions[n] for n in section.nodes if n < len(junctions))
    return min(named, default="the plugs' own pipe")


_FREEZING = Moment.FREEZING


@dataclass(frozen=True)
class _Face:
    """One end of a plug: the stretch of pipe from it to the section's first node."""

    plug: str
    piece: int
    start: float
    end: float


def _passable(case: Case) -> np.ndarray:
    """Tell for each piece whether water surely passes it for as long as ice grows.

    Ice still grows while a plug is held. A valve that is closed for the work shuts then, unless the
    work itself, opened, lies in the same part.
    """
    network, valves = case.network, valve_columns(case.network)
    keep = np.ones(len(network.pieces), dtype=bool)
    keep[valves.pieces] = (valves.freezing == OPEN) & ~valves.one_way
    keep[sorted({p.spot.piece for p in case.plugs})] = False
    labels = connected_parts(network, keep)
    opened = np.unique(labels[list(network.work_nodes)])
    near_work = np.isin(labels[network.ends[valves.pieces, 0]], opened)
    keep[valves.pieces] &= (valves.working != CLOSED) | near_work
    return keep


def _parts(case: Case, keep: np.ndarray) -> list[tuple[np.ndarray, list[_Face]]]:
    """Give each connected part that has plug faces, as its nodes (an array) and those faces.

    What lies between two plugs on one piece is a part without nodes.
    """
    network = case.network
    plugged = sorted({p.spot.piece for p in case.plugs})
    labels = connected_parts(network, keep)
    faces: dict[int, list[_Face]] = {}
    between: list[tuple[np.ndarray, list[_Face]]] = []
    for index in plugged:
        piece = network.pieces[index]
        here = sorted((p for p in case.plugs if p.spot.piece == index), key=lambda p: p.spot.offset)
        first, last = here[0], here[-1]
        stop = max(0.0, first.spot.offset - first.jacket / 2)
        faces.setdefault(int(labels[piece.u]), []).append(_Face(first.id, index, 0.0, stop))
        begin = min(piece.length, last.spot.offset + last.jacket / 2)
        end = _Face(last.id, index, begin, piece.length)
        faces.setdefault(int(labels[piece.v]), []).append(end)
        for one, two in pairwise(here):
            low = min(one.spot.offset + one.jacket / 2, two.spot.offset)
            high = max(two.spot.offset - two.jacket / 2, low)
            pair = [_Face(one.id, index, low, high), _Face(two.id, index, high, high)]
            between.append((np.empty(0, dtype=np.int64), pair))
    parts = [(np.flatnonzero(labels == label), found) for label, found in faces.items()]
    return parts + between


def _section(case: Case, nodes: np.ndarray, faces: list[_Face], keep: np.ndarray) -> Section:
    """Give the section of some nodes: once, as long as the same bounds it."""
    touching = case.network.at_nodes(nodes)
    kinds = case.network.kind[touching]
    closed = touching[(kinds == PieceKind.VALVE) & ~keep[touching]]
    whole = np.isin(touching, list(case.plugged), invert=True)
    pipes = touching[(kinds == PieceKind.PIPE) & (case.network.length[touching] > 0.0) & whole]

    def find() -> Section:
        return _find_section(case, nodes.tolist(), faces, closed.tolist(), pipes.tolist())

    if len(nodes) > _LARGEST_KEPT:
        return find()
    key = (nodes.tobytes(), tuple(faces), closed.tobytes(), pipes.tobytes())
    return case.worlds.sections(key, find)


def _find_section(
    case: Case, nodes: list[int], faces: list[_Face], closed: list[int], pipes: list[int]
) -> Section:
    """Give a section. closed: the valves at its edge. pipes: the pieces that lie whole in it."""
    network = case.network
    segments = [_segment(network, f.piece, f.end - f.start) for f in faces if f.end > f.start]
    shut = [network.pieces.elements[index] for index in closed]
    segments += [_whole_segment(case, index) for index in pipes]
    reliefs, doubtful, outlets = _ways_out(case, nodes)
    ends = [network.dead_ends[n] for n in network.dead_ends.keys() & set(nodes)]
    bounds = {Named("plug", f.plug) for f in faces} | {Named("valve", v) for v in shut} | set(ends)
    bounds |= {Named("outlet", o) for o in outlets}
    bounds |= {r for r in reliefs if r.kind != "outlet"}
    doubtful += [Named("valve", v) for v in sorted(set(shut)) if _may_pass(case, v)]
    return Section(
        name=" + ".join(sorted(bounds)),
        bounds=tuple(sorted(bounds)),
        plugs=tuple(sorted(f.plug for f in faces)),
        segments=tuple(segments),
        nodes=tuple(nodes),
        reliefs=tuple(sorted(reliefs)),
        doubtful=tuple(sorted(doubtful)),
        outlets=tuple(sorted(outlets)),
        valves=tuple(sorted(set(shut))),
    )


def _whole_segment(case: Case, index: int) -> PipeSegment:
    """Give the segment that a whole piece is, made once: sections are found for each move."""
    length = float(case.network.length[index])
    return case.worlds.once(("segment", index), lambda: _segment(case.network, index, length))


def _segment(network: Network, index: int, length: float) -> PipeSegment:
    element = network.pieces.elements[index]
    pipe, dimensions = network.pipes[element], network.dimensions[element]
    return PipeSegment(
        bore=dimensions.inside_diameter,
        wall=dimensions.wall,
        length=length,
        material=pipe.material,
        rating=pipe.pressure_rating or None,
    )


def _ways_out(case: Case, nodes: list[int]) -> tuple[list[Named], list[Named], list[str]]:
    """Find where pushed water gets out for sure, where it may, and the outlets that are shut."""
    network, layout = case.network, case.network.layout
    taps = network.own("taps", lambda: {o.id: o for o in layout.outlets})
    gear = network.own("gear", lambda: {g.id: g for g in layout.equipment})
    kinds = network.own("kinds of sources", lambda: {s.id: s.kind for s in layout.sources})
    inside = set(nodes)
    opened = not inside.isdisjoint(network.work_nodes)
    sure: list[Named] = []
    maybe: list[Named] = []
    shut: list[str] = []
    for node in inside & (network.sources.keys() | network.tanks.keys() | network.outlets.keys()):
        for name in network.sources.get(node, ()):
            # Pump sets nearly always have a check valve, which takes no water back; what feeds a
            # pipe that goes on beyond the document may have one too.
            takes = kinds.get(name, SourceKind.PUMP) is not SourceKind.PUMP
            (sure if takes else maybe).append(Named("source", name))
        open_tanks = (t for t in network.tanks.get(node, ()) if not gear[t].is_locked(_FREEZING))
        sure += [Named("tank", n) for n in open_tanks]
        for name in network.outlets.get(node, ()):
            state = taps[name].at(Moment.FREEZING)
            shuts = taps[name].at(Moment.WORKING) is OutletState.LOCKED_OFF and not opened
            if state in {OutletState.KEPT_OPEN, OutletState.BLEED}:
                (maybe if shuts else sure).append(Named("outlet", name))
            elif state is OutletState.LOCKED_OFF:
                shut.append(name)
            elif not taps[name].leaks:  # a leak is no way out to count on, and no bleed
                maybe.append(Named("outlet", name))
                shut.append(name)
    return sure, maybe, shut


def _may_pass(case: Case, valve_id: str) -> bool:
    """Tell whether a valve that is not surely open may still let pushed water by."""
    valve = case.network.valves[valve_id]
    return valve.at(Moment.FREEZING) is not ValveState.CLOSED
