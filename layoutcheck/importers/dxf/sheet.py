"""What is found on a drawing by its map: lines of pipe, placed blocks, texts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from layoutcheck.importers.draft import Draft, plain
from layoutcheck.importers.dxf.lines import Line, Spot, too_many
from layoutcheck.importers.dxf.mapping import BlockMap, DrawingMap, LayerKind
from layoutcheck.importers.dxf.propose import text_height

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


def sheet_of(drawing: Any, means: DrawingMap, draft: Draft) -> Sheet:  # noqa: ANN401 - see above
    """Gather what the map names; note in the draft what it does not. Raises LayoutFaults."""
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
