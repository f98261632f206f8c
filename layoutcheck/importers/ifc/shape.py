"""Where elements stand, and where a body's ends are, in metres."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

Vector = tuple[float, float, float]
# Rows of rotation and, last, the origin.
Frame = tuple[Vector, Vector, Vector, Vector]

# Attributes are read by their places: it takes a third of the time that their names take, and a
# model has some hundred thousand of these. The places are the same in IFC2x3, IFC4 and IFC4x3.
_PLACEMENT, _SHAPE = 5, 6  # of IfcProduct
_PARENT, _RELATIVE = 0, 1  # of IfcLocalPlacement
_LOCATION, _AXIS, _REFERENCE = 0, 1, 2  # of IfcAxis2Placement3D
_AREA, _POSITION, _WAY, _DEPTH = 0, 1, 2, 3  # of IfcExtrudedAreaSolid

_UNIT: Frame = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, 0.0))
_DEEPEST = 64
# Parts of one element's body, counted wherever they are used. A few nested maps, each used twice by
# the next, would else be read billions of times.
MOST_ITEMS = 200_000
# Lengths of a model end here (m): a million kilometres off, nothing is a building.
_FARTHEST = 1e9
_PARALLEL = 1e-9


@dataclass(frozen=True)
class Body:
    """What is known of an element's shape.

    path: its centre line (m), empty where it has none. points: corners of its body (m), for its
    extent. outside, inside: diameters (m) of a round profile. origin: how the path was found.
    """

    path: tuple[Vector, ...] = ()
    points: tuple[Vector, ...] = ()
    outside: float | None = None
    inside: float | None = None
    origin: str = ""


def apart(one: Vector, two: Vector) -> float:
    """Give the distance between two points (m)."""
    return math.dist(one, two)


def run_of(path: tuple[Vector, ...]) -> float:
    """Give the length of a centre line (m)."""
    return sum(math.dist(a, b) for a, b in pairwise(path))


def _moved(frame: Frame, point: Vector) -> Vector:
    x, y, z, o = frame
    a, b, c = point
    return (
        x[0] * a + y[0] * b + z[0] * c + o[0],
        x[1] * a + y[1] * b + z[1] * c + o[1],
        x[2] * a + y[2] * b + z[2] * c + o[2],
    )


def _joined(outer: Frame, inner: Frame) -> Frame:
    origin = outer[3]
    axes = []
    for axis in inner[:3]:
        end = _moved(outer, axis)
        axes.append((end[0] - origin[0], end[1] - origin[1], end[2] - origin[2]))
    return axes[0], axes[1], axes[2], _moved(outer, inner[3])


def _vector(values: Any) -> Vector:  # noqa: ANN401 - a tuple of 2 or 3 numbers
    numbers = [float(v) for v in values]
    return (numbers[0], numbers[1], numbers[2] if len(numbers) > 2 else 0.0)


def _normal(v: Vector) -> Vector | None:
    size = math.hypot(*v)
    return None if size < _PARALLEL else (v[0] / size, v[1] / size, v[2] / size)


def _cross(a: Vector, b: Vector) -> Vector:
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def _axes(axis: Any, reference: Any) -> tuple[Vector, Vector, Vector]:  # noqa: ANN401 - IfcDirection
    """Make right-angled axes of a Z axis and a reference direction, as IfcAxis2Placement3D asks."""
    z = (_normal(_vector(axis[0])) if axis is not None else None) or (0.0, 0.0, 1.0)
    given = (_normal(_vector(reference[0])) if reference is not None else None) or (1.0, 0.0, 0.0)
    along = sum(a * b for a, b in zip(given, z, strict=True))
    x = _normal((given[0] - along * z[0], given[1] - along * z[1], given[2] - along * z[2]))
    if x is None:  # the reference lies along Z: any right angle will do for a round pipe
        x = _normal(_cross((0.0, 1.0, 0.0), z)) or (1.0, 0.0, 0.0)
    return x, _cross(z, x), z


class Shapes:
    """Reads placements and bodies of one model; scale: metres in one length unit of it."""

    def __init__(self, scale: float) -> None:
        """Keep the unit; placements are kept once found, for ports share those of elements."""
        self.scale = scale
        self._items = 0
        self._frames: dict[int, Frame] = {}
        self._profiles: dict[int, tuple[Vector, float | None, float | None]] = {}

    def position(self, product: Any) -> Vector | None:  # noqa: ANN401 - an IFC product
        """Give where a product's placement is (m); None where it has none."""
        placement = product[_PLACEMENT]
        return None if placement is None else self._metric(self._frame(placement, 0)[3])

    def body(self, product: Any) -> Body:  # noqa: ANN401 - an IFC product
        """Read a product's centre line, extent and profile from its representations."""
        self._items = 0
        shape, placement = product[_SHAPE], product[_PLACEMENT]
        if shape is None:
            return Body()
        frame = _UNIT if placement is None else self._frame(placement, 0)
        found: list[Body] = []
        # The body tells its profile; an axis tells the centre line better where there is one.
        for representation in shape.Representations:
            name = representation.RepresentationIdentifier or "Body"
            if name in {"Body", "Axis", "Body-Fallback", "Facetation"}:
                for item in representation.Items:
                    found += self._item(item, frame, 0)
        return _together(found)

    def _metric(self, point: Vector) -> Vector:
        s = self.scale
        found = (point[0] * s, point[1] * s, point[2] * s)
        if not max(abs(found[0]), abs(found[1]), abs(found[2])) <= _FARTHEST:  # also of no number
            raise ValueError("a coordinate is no number, or too large")
        return found

    def _count(self, items: int = 1) -> None:
        self._items += items
        if self._items > MOST_ITEMS:
            raise ValueError(f"a body has more than {MOST_ITEMS} parts")

    def _frame(self, placement: Any, depth: int) -> Frame:  # noqa: ANN401 - IfcObjectPlacement
        key = placement.id()
        if key in self._frames:
            return self._frames[key]
        frame = _UNIT
        if placement.is_a("IfcLocalPlacement"):
            own = self._axis_frame(placement[_RELATIVE])
            parent = placement[_PARENT]
            # A chain that never ends is a ring: it is read from where it was entered.
            above = _UNIT if parent is None or depth > _DEEPEST else self._frame(parent, depth + 1)
            frame = own if above is _UNIT else _joined(above, own)
        self._frames[key] = frame
        return frame

    def _axis_frame(self, axes: Any) -> Frame:  # noqa: ANN401 - IfcAxis2Placement
        if axes is None:
            return _UNIT
        origin = _vector(axes[_LOCATION][0])
        if axes.is_a("IfcAxis2Placement3D"):
            axis, reference = axes[_AXIS], axes[_REFERENCE]
            if axis is None and reference is None:
                return (*_UNIT[:3], origin)
            return (*_axes(axis, reference), origin)
        return (*_axes(None, axes.RefDirection), origin)

    def _item(self, item: Any, frame: Frame, depth: int) -> Iterator[Body]:  # noqa: ANN401
        self._count()
        if item.is_a("IfcMappedItem") and depth < _DEEPEST:
            inner = _joined(frame, self._target(item.MappingTarget))
            inner = _joined(inner, self._axis_frame(item.MappingSource.MappingOrigin))
            for part in item.MappingSource.MappedRepresentation.Items:
                yield from self._item(part, inner, depth + 1)
        elif item.is_a("IfcExtrudedAreaSolid"):
            yield self._extruded(item, frame)
        elif item.is_a("IfcSweptDiskSolid"):
            path = self._curve(item.Directrix, frame, 0)
            bore = None if item.InnerRadius is None else 2 * item.InnerRadius * self.scale
            outside = 2 * item.Radius * self.scale
            yield Body(path, path, outside, bore, "the swept disk's line")
        elif item.is_a("IfcCurve"):
            path = self._curve(item, frame, 0)
            yield Body(path, path, origin="the axis")
        elif item.is_a("IfcBooleanResult") and depth < _DEEPEST:
            yield from self._item(item.FirstOperand, frame, depth + 1)
        else:
            points = tuple(self._corners(item, frame))
            if points:
                yield Body((), points)

    def _target(self, target: Any) -> Frame:  # noqa: ANN401 - a transformation operator
        by = float(target.Scale if target.Scale is not None else 1.0)
        x, y, z = _axes(getattr(target, "Axis3", None), target.Axis1)
        given = None if target.Axis2 is None else _vector(target.Axis2[0])
        if given is not None and sum(a * b for a, b in zip(given, y, strict=True)) < 0.0:
            y = (-y[0], -y[1], -y[2])  # what is mapped is mirrored
        origin = _vector(target.LocalOrigin[0])
        grown = [(a[0] * by, a[1] * by, a[2] * by) for a in (x, y, z)]
        return grown[0], grown[1], grown[2], origin

    def _extruded(self, solid: Any, frame: Frame) -> Body:  # noqa: ANN401 - IfcExtrudedAreaSolid
        inner = _joined(frame, self._axis_frame(solid[_POSITION]))
        profile = solid[_AREA]
        centre, outside, bore = self._profile(profile)
        way = _normal(_vector(solid[_WAY][0])) or (0.0, 0.0, 1.0)
        depth = float(solid[_DEPTH])
        top = tuple(c + depth * w for c, w in zip(centre, way, strict=True))
        ends = (self._metric(_moved(inner, centre)), self._metric(_moved(inner, _vector(top))))
        return Body(ends, ends, outside, bore, "the extruded body")

    def _profile(self, profile: Any) -> tuple[Vector, float | None, float | None]:  # noqa: ANN401
        """Give a profile's centre in its own units, and its diameters (m) where it is round."""
        key = profile.id()
        if key not in self._profiles:
            centre, outside, bore = (0.0, 0.0, 0.0), None, None
            if getattr(profile, "Position", None) is not None:
                centre = _vector(profile.Position.Location[0])
            if profile.is_a("IfcCircleProfileDef"):
                outside = 2 * float(profile.Radius) * self.scale
                if profile.is_a("IfcCircleHollowProfileDef"):
                    bore = outside - 2 * float(profile.WallThickness) * self.scale
            self._profiles[key] = (centre, outside, bore)
        return self._profiles[key]

    def _curve(self, curve: Any, frame: Frame, depth: int) -> tuple[Vector, ...]:  # noqa: ANN401
        self._count()
        if curve.is_a("IfcPolyline"):
            points = [_vector(p[0]) for p in curve.Points]
        elif curve.is_a("IfcIndexedPolyCurve"):
            points = [_vector(p) for p in curve.Points.CoordList]
        elif curve.is_a("IfcTrimmedCurve") and curve.BasisCurve.is_a("IfcLine"):
            points = [_vector(t[0]) for t in _trims(curve)]
        elif curve.is_a("IfcCompositeCurve") and depth < _DEEPEST:
            parts = [self._curve(s.ParentCurve, frame, depth + 1) for s in curve.Segments]
            return tuple(p for part in parts for p in part)
        else:
            return ()
        self._count(len(points))
        return tuple(self._metric(_moved(frame, p)) for p in points)

    def _corners(self, item: Any, frame: Frame) -> Iterator[Vector]:  # noqa: ANN401 - any item
        """Give the corners of a faceted body, of whatever kind it is."""
        if item.is_a("IfcTessellatedFaceSet"):
            self._count(len(item.Coordinates.CoordList))
            for row in item.Coordinates.CoordList:
                yield self._metric(_moved(frame, _vector(row)))
        else:
            seen = set()
            for face in _faces(item):
                self._count()
                for bound in face.Bounds:
                    for point in getattr(bound.Bound, "Polygon", None) or ():
                        if point.id() not in seen:
                            seen.add(point.id())
                            yield self._metric(_moved(frame, _vector(point[0])))


def _faces(item: Any) -> Iterator[Any]:  # noqa: ANN401 - any item, and its faces
    """Give the faces of a solid or of a model of surfaces; none of any other item."""
    if item.is_a("IfcManifoldSolidBrep"):
        yield from item.Outer.CfsFaces
    elif item.is_a("IfcShellBasedSurfaceModel"):
        for shell in item.SbsmBoundary:
            yield from shell.CfsFaces
    elif item.is_a("IfcFaceBasedSurfaceModel"):
        for faces in item.FbsmFaces:
            yield from faces.CfsFaces


def _trims(curve: Any) -> list[Any]:  # noqa: ANN401 - IfcTrimmedCurve
    """Give the two ends of a trimmed line where they are stated as points."""
    ends = [
        next((t for t in side if hasattr(t, "is_a") and t.is_a("IfcCartesianPoint")), None)
        for side in (curve.Trim1, curve.Trim2)
    ]
    return [] if None in ends else ends


def _together(found: list[Body]) -> Body:
    """Make one body of all parts: the best centre line, all corners, the first profile."""
    lines = sorted((b for b in found if len(b.path) > 1), key=lambda b: b.origin == "the axis")
    points = tuple(p for b in found for p in b.points)
    outside = next((b.outside for b in found if b.outside is not None), None)
    inside = next((b.inside for b in found if b.inside is not None), None)
    if lines:
        return Body(lines[0].path, points, outside, inside, lines[0].origin)
    if len(points) > 3:
        return Body(_long_axis(points), points, outside, inside, "the long axis of its body")
    return Body((), points, outside, inside)


def _long_axis(points: tuple[Vector, ...]) -> tuple[Vector, ...]:
    """Give the two ends of the longest direction of a body."""
    cloud = np.array(points)
    middle = (cloud.min(axis=0) + cloud.max(axis=0)) / 2
    _, _, directions = np.linalg.svd(cloud - cloud.mean(axis=0), full_matrices=False)
    along = (cloud - middle) @ directions[0]
    ends = [middle + directions[0] * s for s in (along.min(), along.max())]
    return tuple((float(e[0]), float(e[1]), float(e[2])) for e in ends)
