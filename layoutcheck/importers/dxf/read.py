"""The way in for drawings: lines, polylines and blocks by layer, as a map says."""

from __future__ import annotations

import logging
from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property, reduce
from pathlib import Path
from typing import Any

import shapely

from layoutcheck.document.faults import LayoutFaults
from layoutcheck.document.models import DrawingKind
from layoutcheck.importers.draft import (
    Document,
    Draft,
    Imported,
    Source,
    metres,
    one_fault,
    plain,
    reason_of,
    rounded,
)
from layoutcheck.importers.dxf.lines import (
    Drawn,
    Edge,
    Line,
    Spot,
    most_pairs,
    network_of,
    too_many,
)
from layoutcheck.importers.dxf.mapping import (
    BlockKind,
    BlockMap,
    DrawingMap,
    Heights,
    LayerKind,
    LayerMap,
    read_map,
)
from layoutcheck.importers.dxf.propose import looked_through, proposed_map, text_height
from layoutcheck.importers.dxf.said import Said, said_by
from layoutcheck.importers.sizing import larger
from layoutcheck.quantities import parse_elevation, parse_length
from layoutcheck.quantities.names import NO_NAMES, Names, small

_EXAMPLE = "a DXF drawing (R12 or later) with pipes as lines and valves as blocks"
_LINES = {"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "SPLINE"}
# Arcs are drawn as chords that leave them by no more than this share of the snap.
_CHORD = 0.1
# ... nor less than this share of how large the curve is.
_LEAST_CHORD = 1e-6
# Corners of all lines together: more than any drawing of pipes has.
_MOST_CORNERS = 2_000_000
# Coordinates of a layout end here (drawing units).
_FARTHEST = 1e9
# A text belongs to a pipe within so many times its own height, unless the map says how far.
_HEIGHTS_AWAY = 3.0
# So many snaps a marked point may lie off its pipe, where the map says no more of it.
_SNAPS = 10.0
# Blocks that stand at the end of a line, or make a joint where they are.
_ENDS = {BlockKind.SOURCE, BlockKind.OUTLET, BlockKind.TANK}


@dataclass(frozen=True)
class Block:
    """One placed block."""

    name: str
    means: BlockMap
    at: Spot
    tag: str


@dataclass(frozen=True)
class Label:
    """One text on the drawing."""

    text: str
    at: tuple[float, float]
    high: float


@dataclass
class Sheet:
    """What was found on a drawing."""

    lines: list[Line] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)


def read_dxf(path: Path, *, name: str, mapping: str | None, names: Names = NO_NAMES) -> Imported:
    """Read a drawing by its map (TOML). names: a user's own, of sizes.

    Raises LayoutFaults where either can not be used.
    """
    means = None if mapping is None else read_map(mapping)
    drawing = open_drawing(path)
    try:
        taken = read_map(_proposed(drawing)) if means is None else means
        return _read(drawing, taken, Draft(name=name, names=names), given=means is not None)
    except (ArithmeticError, AttributeError, TypeError, ValueError, LookupError) as error:
        if isinstance(error, LayoutFaults):
            raise
        # ezdxf opens drawings whose entities lack what their kind asks for.
        problem = f"has an entity that can not be used: {reason_of(error, path)}"
        raise one_fault(found=name, problem=problem, example=_EXAMPLE) from error


def propose_map(path: Path) -> str:
    """Write a map (TOML) for a drawing. Raises LayoutFaults where it can not be read."""
    return _proposed(open_drawing(path))


def _proposed(drawing: Any) -> str:  # noqa: ANN401 - see below
    made = proposed_map(looked_through(drawing))
    if made is None:
        raise one_fault(found="the drawing", problem="holds no line", example=_EXAMPLE)
    return made


def _read(
    drawing: Any,  # noqa: ANN401 - see below
    means: DrawingMap,
    draft: Draft,
    *,
    given: bool,
) -> Imported:
    name = draft.name
    draft.units, draft.note = means.units.value, f"Read from {plain(name)}."
    draft.drawing = {
        "kind": means.kind.value,
        "snap_within": max(means.snap, means.text_reach or _SNAPS * means.snap),
    }
    if not given:
        pipes = sorted(n for n, layer in means.layers.items() if layer.kind is LayerKind.PIPE)
        says = (
            "No map was given: these layers are taken as pipe. --map-out writes the map to correct"
        )
        draft.assume(says, *pipes)
        draft.assume(
            "No map was given: what blocks are is guessed from their names",
            *sorted(f"{n}: {b.kind.value}" for n, b in means.blocks.items()),
        )
    if means.scale is not None:
        draft.drawing["scale"] = metres(means.scale)
    sheet = _sheet(drawing, means, draft)
    if not sheet.lines:
        layers = {plain(e.dxf.get("layer", "0"), 40) for e in drawing.modelspace()}
        raise one_fault(
            found=f"layers {', '.join(sorted(layers)[:8])}",
            problem="holds no line on a layer that the map names as pipe",
            example='[layers.PIPES]\nkind = "pipe"',
        )
    lines = _bridged(sheet, means)
    ends = [b.at for b in sheet.blocks if b.means.kind in _ENDS]
    drawn = network_of(lines, ends, means.snap)
    if not drawn.edges:
        found, problem = f"{len(lines)} lines of no length", "holds no line that can be a pipe"
        raise one_fault(found=found, problem=problem, example="pipes longer than the snap")
    # On a pipe of unknown length no station can be told: what stands there cuts the pipe in two.
    cutting = _Writer(Draft(name=name, names=draft.names), means, drawn).without_station(sheet)
    drawn = network_of(lines, [*ends, *cutting], means.snap) if cutting else drawn
    _told(drawn, draft)
    _Writer(draft, means, drawn).write(sheet)
    return draft.finished(Source(name=plain(name), kind="DXF", detail=f"{drawing.acad_release}"))


def open_drawing(path: Path) -> Any:  # noqa: ANN401 - an optional extra, loaded here only
    """Open a drawing. Raises LayoutFaults with one clear error where it can not be read."""
    try:
        from ezdxf.filemanagement import readfile  # noqa: PLC0415 - slow to load
    except ImportError:
        raise one_fault(
            found="a drawing (.dxf)",
            problem="needs the optional part that reads drawings",
            example="pip install 'layoutcheck[dxf]'",
        ) from None
    told = logging.getLogger("ezdxf")
    level = told.level
    try:
        told.setLevel(logging.CRITICAL)  # what it passes over is of no use to our users
        return readfile(str(path))
    except Exception as error:  # the reader raises many kinds
        problem = f"can not be read as DXF: {reason_of(error, path)}"
        raise one_fault(found=path.name, problem=problem, example=_EXAMPLE) from None
    finally:
        told.setLevel(level)


def _sheet(drawing: Any, means: DrawingMap, draft: Draft) -> Sheet:  # noqa: ANN401 - see above
    sheet, corners = Sheet(), 0
    layers = {name.upper(): layer for name, layer in means.layers.items()}
    blocks = {name.upper(): block for name, block in means.blocks.items()}
    unread: Counter[str] = Counter()
    for entity in drawing.modelspace():
        kind, layer = entity.dxftype(), str(entity.dxf.get("layer", "0"))
        draft.read[kind] += 1
        known = layers.get(layer.upper())
        if kind == "INSERT" and str(entity.dxf.get("name", "")).upper() in blocks:
            sheet.blocks.append(_block(entity, blocks[str(entity.dxf.name).upper()], means))
        elif kind in _LINES and known is not None and known.kind is LayerKind.PIPE:
            points = _points(entity, means)
            if not points:
                unread[f"{kind} without points on layer {plain(layer, 40)}"] += 1
                continue
            sheet.lines.append(Line(layer.upper(), points))
            corners += len(points)
            if corners > _MOST_CORNERS:
                raise too_many(f"lines of more than {_MOST_CORNERS} corners")
        elif kind in {"TEXT", "MTEXT"} and known is not None and known.kind is LayerKind.TEXT:
            words = entity.plain_text()
            spot = _numbered(entity.dxf.insert)
            sheet.labels.append(Label(plain(words, 100), spot[:2], text_height(entity)))
        else:
            unread[f"{kind} on layer {plain(layer, 40)}"] += 1
            continue
        draft.taken[kind] += 1
    for what, number in sorted(unread.items()):
        draft.leave_out(f"{number} x {what}, which the map does not name")
    return sheet


def _points(entity: Any, means: DrawingMap) -> tuple[Spot, ...]:  # noqa: ANN401 - see above
    from ezdxf.path import make_path  # noqa: PLC0415 - an optional extra

    path = make_path(entity)
    corners = tuple(_numbered(v) for v in path.control_vertices())
    if not path.has_curves:
        return corners
    # A chord that is tiny beside its curve asks for millions of corners: never below this share.
    size = max(max(axis) - min(axis) for axis in zip(*corners, strict=True))
    chord = max(_CHORD * means.snap, _LEAST_CHORD * size, 1e-6)
    return tuple(_numbered(v) for v in path.flattening(chord, segments=4))


def _numbered(spot: Any) -> Spot:  # noqa: ANN401 - see above
    """Take a point's coordinates, if each is a number that a drawing can have."""
    found = (float(spot.x), float(spot.y), float(spot.z))
    if not all(abs(c) <= _FARTHEST for c in found):  # also what is not a number
        raise ValueError("has a coordinate that is no number, or too large")
    return found


def _block(entity: Any, block: BlockMap, means: DrawingMap) -> Block:  # noqa: ANN401 - see above
    spot = entity.ocs().to_wcs(entity.dxf.insert)
    tag = ""
    for wanted in means.id_attributes:
        found = next((a for a in entity.attribs if a.dxf.tag.upper() == wanted.upper()), None)
        if found is not None and found.dxf.text.strip():
            tag = plain(found.dxf.text, 80)
            break
    at = _numbered(spot)
    return Block(plain(entity.dxf.name, 80), block, at, tag)


def _bridged(sheet: Sheet, means: DrawingMap) -> list[Line]:
    """Draw lines that end beside a block on to its point, as they are often broken there."""
    lines = [list(line.points) for line in sheet.lines]
    if not sheet.blocks:
        return list(sheet.lines)
    ends = [shapely.Point(points[end][:2]) for points in lines for end in (0, -1)]
    tree = shapely.STRtree(ends)
    reaches = [means.snap if b.means.reach is None else b.means.reach for b in sheet.blocks]
    looked_at = 0
    for block, reach in zip(sheet.blocks, reaches, strict=True):
        spot = shapely.Point(block.at[:2])
        # The tree has ends as they were drawn; another block may have moved them since.
        near = tree.query(spot, predicate="dwithin", distance=reach + max(reaches))
        looked_at += len(near)
        if looked_at > most_pairs(len(ends) + len(reaches)):
            raise too_many("too many ends beside blocks")
        for index in sorted(map(int, near)):
            points, end = lines[index // 2], -(index % 2)
            beside = 1 if end == 0 else -2
            gap = spot.distance(shapely.Point(points[end][:2]))
            # Only the nearer end of a line that is long enough to have two sides.
            if gap <= reach and gap < spot.distance(shapely.Point(points[beside][:2])):
                points[end] = (block.at[0], block.at[1], points[end][2])
    return [Line(o.layer, tuple(p)) for o, p in zip(sheet.lines, lines, strict=True)]


def _told(drawn: Drawn, draft: Draft) -> None:
    if drawn.crossings:
        where = [f"({x:g}, {y:g})" for x, y in sorted(drawn.crossings)]
        draft.assume("Lines that cross with no end there are not joined", *where)
    if drawn.gaps:
        where = [f"({x:g}, {y:g})" for x, y in sorted(drawn.gaps)]
        draft.gap("An end that nearly meets another line, and was not joined", *where)
    if drawn.doubled:
        draft.leave_out(f"{drawn.doubled} line(s) drawn over another one")
    if drawn.dots:
        draft.leave_out(f"{drawn.dots} line(s) of no length")


@dataclass
class _Writer:
    """Writes the drawn network into a draft."""

    draft: Draft
    means: DrawingMap
    drawn: Drawn
    names: list[str] = field(default_factory=list)
    pipes: list[Document] = field(default_factory=list)

    def write(self, sheet: Sheet) -> None:
        """Write junctions, pipes with what texts say of them, and blocks."""
        for number, spot in enumerate(self.drawn.nodes, start=1):
            at = [rounded(spot[0]), rounded(spot[1])]
            height = self._height(spot)
            self.names.append(self.draft.add("junctions", f"J{number}", elevation=height, at=at))
        said = self._labels(sheet.labels)
        self._upright(sheet.labels)
        for index, edge in enumerate(self.drawn.edges):
            self._pipe(edge, said.get(index, []))
        self._largest()
        for block in sorted(sheet.blocks, key=lambda b: (b.at, b.name, b.tag)):
            self._stand(block)
        if not any("elevation" in j for j in self._junctions.values()):
            self.draft.gap("The drawing tells no heights")
        bare = [p["id"] for p in self.pipes if self._is_unmeasured(p)]
        if bare:
            self.draft.gap("Neither a text nor a scale tells the length: it is not known", *bare)
        self._loose_ends()

    @cached_property
    def _degree(self) -> list[int]:
        return self.drawn.degree()

    @cached_property
    def _junctions(self) -> dict[str, Document]:
        return {j["id"]: j for j in self.draft.lists["junctions"]}

    @cached_property
    def _layers(self) -> dict[str, LayerMap]:
        return {name.upper(): layer for name, layer in self.means.layers.items()}

    @cached_property
    def _shapes(self) -> list[shapely.LineString]:
        return [shapely.LineString([p[:2] for p in e.points]) for e in self.drawn.edges]

    @cached_property
    def _edge_tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._shapes)

    @cached_property
    def _node_tree(self) -> shapely.STRtree:
        return shapely.STRtree([shapely.Point(node[:2]) for node in self.drawn.nodes])

    def _height(self, spot: Spot) -> str | None:
        scale = self.means.scale
        if scale is None or self.means.heights is Heights.NONE:
            return None
        return metres(scale * (spot[2] if self.means.heights is Heights.Z else spot[1]))

    def _said(self, label: Label) -> Said:
        size = self.draft.names.sizes.get(small(label.text))
        return said_by(label.text, self.means.units) if size is None else Said(size=size)

    def _labels(self, labels: list[Label]) -> dict[int, list[Said]]:
        """Give each text to the nearest pipe within reach."""
        said: dict[int, list[Said]] = {}
        tree = self._edge_tree
        for label in sorted(labels, key=lambda x: (x.at, x.text)):
            read = self._said(label)
            if read.height is not None:
                continue
            spot, reach = shapely.Point(label.at), self.means.text_reach
            reach = _HEIGHTS_AWAY * label.high if reach is None else reach
            near = tree.query_nearest(spot, max_distance=reach or 1e-9)
            if len(near) == 0:
                self.draft.leave_out("A text that is near no pipe", label.text)
                continue
            if read == Said():
                says = "A text beside a pipe that may be a size or a length; it was not taken"
                self.draft.gap(says, label.text)
                continue
            said.setdefault(int(near[0]), []).append(read)
            if len(near) > 1:
                self.draft.gap("A text that is as near to another pipe", label.text)
        return said

    def _pipe(self, edge: Edge, said: list[Said]) -> None:
        layer = self._layers[edge.layer]
        size = None if layer.size is None else layer.size.text
        length = tag = None
        for read in said:
            size, length, tag = read.size or size, read.length or length, tag or read.name
        rise = None if length or self.means.scale is not None else self._rise(edge)
        own = self.draft.add(
            "pipes",
            tag or f"P{len(self.pipes) + 1}",
            from_=self.names[edge.start],
            to=self.names[edge.end],
            size=size,
            material=layer.material.value,
            wall=layer.wall,
            length=length or rise,
            via=[[rounded(x), rounded(y)] for x, y, _ in edge.points[1:-1]] or None,
        )
        self.pipes.append(self.draft.lists["pipes"][-1])
        told = size is not None and layer.size is not None and size == layer.size.text
        if size is not None:
            self.draft.origin("size", "layer" if told else "text", own)
        origin = "text" if length else "levels" if rise else "drawing to scale"
        if length or rise or self.means.scale is not None:
            self.draft.origin("length", origin, own)
        if rise:
            says = "An upright pipe between two levels is taken as long as they lie apart"
            self.draft.assume(says, own)

    def _largest(self) -> None:
        """Give pipes without a size the largest of the drawing; without any they have none."""
        sizes = [p["size"] for p in self.pipes if "size" in p]
        bare = [p for p in self.pipes if "size" not in p]
        if bare and not sizes:
            self.draft.gap("Neither a text nor the map tells the size", *(p["id"] for p in bare))
            return
        for pipe in bare:
            pipe["size"] = reduce(larger, sorted(set(sizes)))
            self.draft.gap("No size: taken as the largest of the drawing", pipe["id"])

    def _stand(self, block: Block) -> None:
        """Put a block where it stands: at a junction, or at a station on a pipe."""
        place, own = self._place(block), block.tag or block.name
        if place is None:
            self.draft.leave_out("A block that is on no pipe", f"{own} at {block.at[:2]}")
            return
        means = block.means
        match means.kind:
            case BlockKind.VALVE:
                own = self.draft.add("valves", own, kind=means.valve.value, **place)
                self.draft.gap("The drawing does not say how the valve stands", own)
            case BlockKind.PUMP:
                self.draft.add("pumps", own, **place)
            case BlockKind.SOURCE:
                self.draft.add("sources", own, kind=means.source.value, **place)
            case BlockKind.OUTLET:
                self.draft.add("outlets", own, **place)
            case BlockKind.FITTING if "junction" in place:
                self._junctions[place["junction"]]["fitting"] = means.fitting.value
            case BlockKind.FITTING:
                self.draft.add("fittings", own, kind=means.fitting.value, **place)
            case _:
                kind = means.equipment
                assert kind is not None
                self.draft.add("equipment", own, kind=kind.value, **place)

    def _place(self, block: Block) -> Document | None:
        spot = shapely.Point(block.at[:2])
        reach = max(self.means.snap, 1e-9)
        gap, node = _nearest(self._node_tree, spot)
        if gap <= reach:
            return self._at_node(block, node)
        off, index = _nearest(self._edge_tree, spot)
        if off > max(reach, block.means.reach or 0.0):
            return None
        pipe = self.pipes[index]
        shape = self._shapes[index]
        share = float(shape.project(spot, normalized=True))
        length = self._length(pipe, shape)
        if length is None:  # such a pipe is cut where something stands, but for a corner or so
            return None
        return {"pipe": pipe["id"], "station": metres(share * length)}

    def _at_node(self, block: Block, node: int) -> Document | None:
        """Put a block at a junction; a valve at a tee belongs on one of its pipes."""
        meets = self._degree[node]
        if block.means.kind in {BlockKind.VALVE, BlockKind.PUMP} and meets > 2:
            says = "Stands on a tee: on which of its pipes is it? Left out"
            self.draft.gap(says, block.tag or block.name)
            return None
        return {"junction": self.names[node]}

    def without_station(self, sheet: Sheet) -> list[Spot]:
        """Give where blocks stand on lines of which neither a text nor a scale tells the length."""
        if self.means.scale is not None:
            return []
        said = self._labels(sheet.labels)
        measured = {i for i, reads in said.items() if any(r.length for r in reads)}
        found = []
        for block in sheet.blocks:
            spot = shapely.Point(block.at[:2])
            gap, _ = _nearest(self._node_tree, spot)
            off, index = _nearest(self._edge_tree, spot)
            beside = off <= max(self.means.snap, 1e-9, block.means.reach or 0.0)
            if gap > max(self.means.snap, 1e-9) and beside and index not in measured:
                on = self._shapes[index].interpolate(self._shapes[index].project(spot))
                found.append((on.x, on.y, block.at[2]))
        return found

    def _upright(self, labels: list[Label]) -> None:
        """Give the junctions that are drawn at a level's height that height."""
        reads = [(self._said(t).height, t) for t in labels]
        levels = [(t.at[1], t.high, height) for height, t in reads if height is not None]
        if self.means.heights is not Heights.NONE or self.means.kind is not DrawingKind.RISER:
            return
        for own, spot in zip(self.names, self.drawn.nodes, strict=True):
            near = [(abs(y - spot[1]), h) for y, high, h in levels if abs(y - spot[1]) <= high]
            if near and len({h for _, h in near}) == 1:
                self._junctions[own]["elevation"] = near[0][1]
                self.draft.origin("elevation", "text of a level", own)

    def _rise(self, edge: Edge) -> str | None:
        """Give how far a pipe drawn straight up rises between two levels."""
        ends = [self._junctions[self.names[n]].get("elevation") for n in (edge.start, edge.end)]
        xs = [p[0] for p in edge.points]
        if None in ends or max(xs) - min(xs) > self.means.snap:
            return None
        low, high = (parse_elevation(e) for e in ends)
        return metres(abs(high - low)) if high != low else None

    def _is_unmeasured(self, pipe: Document) -> bool:
        return "length" not in pipe and self.means.scale is None

    def _length(self, pipe: Document, shape: shapely.LineString) -> float | None:
        if "length" in pipe:
            return parse_length(pipe["length"])
        return None if self.means.scale is None else float(shape.length) * self.means.scale

    def _loose_ends(self) -> None:
        """Ask what each end of a line is that has nothing at it."""
        # A valve, pump or heater at the end of a line does not close it: water may be behind it.
        ends = [*self.draft.lists["sources"], *self.draft.lists["outlets"]]
        ends += [g for g in self.draft.lists["equipment"] if g["kind"] == BlockKind.TANK.value]
        taken = {e.get("junction") for e in ends}
        shut = {
            j["id"] for j in self.draft.lists["junctions"] if j.get("fitting") in {"cap", "blind"}
        }
        for node, meets in enumerate(self._degree):
            own = self.names[node]
            if meets == 1 and own not in taken | shut:
                self.draft.gap("A line ends with nothing drawn: what ends it?", own)


def _nearest(tree: shapely.STRtree, spot: shapely.Point) -> tuple[float, int]:
    """Give the distance to the nearest of a tree's shapes, and its number; the first of equals."""
    numbers, away = tree.query_nearest(spot, return_distance=True)
    return float(away[0]), min(map(int, numbers))
