"""The way in for drawings: lines, polylines and blocks by layer, as a map says."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

import shapely

from layoutcheck.document.faults import LayoutFaults
from layoutcheck.importers.draft import (
    Draft,
    Imported,
    Source,
    metres,
    one_fault,
    plain,
    reason_of,
)
from layoutcheck.importers.dxf.build import Writer
from layoutcheck.importers.dxf.lines import (
    Drawn,
    Line,
    most_pairs,
    network_of,
    too_many,
)
from layoutcheck.importers.dxf.mapping import (
    BlockKind,
    DrawingMap,
    LayerKind,
    read_map,
)
from layoutcheck.importers.dxf.propose import looked_through, proposed_map
from layoutcheck.importers.dxf.sheet import Sheet, sheet_of
from layoutcheck.quantities.names import NO_NAMES, Names

_EXAMPLE = "a DXF drawing (R12 or later) with pipes as lines and valves as blocks"
# So many snaps a marked point may lie off its pipe, where the map says no more of it.
_SNAPS = 10.0
# Blocks that stand at the end of a line, or make a joint where they are.
_ENDS = {BlockKind.SOURCE, BlockKind.OUTLET, BlockKind.TANK}


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
    sheet = sheet_of(drawing, means, draft)
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
    cutting = Writer(Draft(name=name, names=draft.names), means, drawn).without_station(sheet)
    drawn = network_of(lines, [*ends, *cutting], means.snap) if cutting else drawn
    _told(drawn, draft)
    Writer(draft, means, drawn).write(sheet)
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
        draft.leave_out(f"Lines drawn over another one: {drawn.doubled}")
    if drawn.dots:
        draft.leave_out(f"Lines of no length: {drawn.dots}")
