"""The symbols, drawn by ourselves after the conventions of ISO 14617 and ISO 6412.

Two triangles tip to tip are a valve, a circle with a triangle is a pump, bars across the pipe are
joints. Open is hollow, closed is filled, passing is half filled with a drop under it, not stated
is hollow with a question mark: the state shows in shape as well as in colour.
The pipe runs along x from -1 to 1; y grows downwards.
"""

from __future__ import annotations

import math

from layoutcheck.document.models import (
    Equipment,
    EquipmentKind,
    FittingKind,
    Moment,
    Outlet,
    OutletState,
    Pump,
    Source,
    SourceKind,
    Tightness,
    Valve,
    ValveKind,
    ValveState,
)
from layoutcheck.report.drawing.scene import Point, Shape

Shapes = tuple[Shape, ...]


def _line(*points: Point) -> Shape:
    return Shape(points=points)


def _hollow(*points: Point) -> Shape:
    return Shape(points=points, closed=True, fill="paper")


def _solid(*points: Point) -> Shape:
    return Shape(points=points, closed=True, fill="ink")


def _ring(x: float, y: float, radius: float) -> Shape:
    return Shape(points=((x, y),), radius=radius, fill="paper")


def _disc(x: float, y: float, radius: float) -> Shape:
    return Shape(points=((x, y),), radius=radius, fill="ink")


_LEFT: tuple[Point, ...] = ((-1.0, -0.6), (0.0, 0.0), (-1.0, 0.6))
_RIGHT: tuple[Point, ...] = ((1.0, -0.6), (0.0, 0.0), (1.0, 0.6))

_QUERY = (
    _line((-0.28, -1.25), (-0.22, -1.5), (0.0, -1.6), (0.24, -1.48), (0.22, -1.2), (0.0, -1.0)),
    _line((0.0, -1.0), (0.0, -0.82)),
    _disc(0.0, -0.6, 0.08),
)
_DROP = (_solid((0.5, 0.75), (0.72, 1.2), (0.5, 1.42), (0.28, 1.2)),)
_PROVEN = (_line((-0.55, 0.95), (0.55, 0.95)), _line((-0.55, 1.2), (0.55, 1.2)))

_BODIES: dict[str, Shapes] = {
    "open": (_hollow(*_LEFT), _hollow(*_RIGHT)),
    "closed": (_solid(*_LEFT), _solid(*_RIGHT)),
    "closed and proven": (_solid(*_LEFT), _solid(*_RIGHT), *_PROVEN),
    "passing": (_solid(*_LEFT), _hollow(*_RIGHT), *_DROP),
    "not stated": (_hollow(*_LEFT), _hollow(*_RIGHT), *_QUERY),
}

_TOPS: dict[ValveKind, Shapes] = {
    ValveKind.GATE: (_line((0, 0), (0, -0.7)), _line((-0.35, -0.7), (0.35, -0.7))),
    ValveKind.GLOBE: (_disc(0, 0, 0.3),),
    ValveKind.BALL: (_ring(0, 0, 0.36),),
    ValveKind.BUTTERFLY: (_line((-0.4, 0.75), (0.4, -0.75)), _disc(0, 0, 0.15)),
    ValveKind.COCK: (_line((0, -0.7), (0, 0.7)),),
    ValveKind.CHECK: (
        _line((-0.7, -0.85), (0.6, -0.85)),
        _solid((0.6, -1.1), (1, -0.85), (0.6, -0.6)),
    ),
    ValveKind.BALANCING: (_line((-0.45, 0.7), (0.45, -0.7)), _disc(-0.5, -0.85, 0.16)),
    ValveKind.CONTROL: (
        _line((0, 0), (0, -0.6)),
        _hollow((-0.45, -0.6), (-0.35, -0.95), (0, -1.1), (0.35, -0.95), (0.45, -0.6)),
    ),
    ValveKind.REDUCING: (
        _line((0, 0), (0, -0.6)),
        _hollow((-0.4, -1.2), (0.4, -1.2), (0.4, -0.6), (-0.4, -0.6)),
    ),
    ValveKind.OTHER: (),
}

_FITTINGS: dict[FittingKind, Shapes] = {
    FittingKind.TEE: (_disc(0, 0, 0.3),),
    FittingKind.CROSS: (_disc(0, 0, 0.3),),
    FittingKind.ELBOW: (_line((-0.2, -0.4), (-0.2, 0.4)), _line((0.2, -0.4), (0.2, 0.4))),
    FittingKind.REDUCER: (_hollow((-0.6, -0.7), (0.6, -0.35), (0.6, 0.35), (-0.6, 0.7)),),
    FittingKind.CAP: (_line((-0.1, -0.6), (0.4, -0.45), (0.4, 0.45), (-0.1, 0.6)),),
    FittingKind.BLIND: (_solid((0, -0.8), (0.3, -0.8), (0.3, 0.8), (0, 0.8)),),
    FittingKind.FLANGE: (_line((-0.15, -0.7), (-0.15, 0.7)), _line((0.15, -0.7), (0.15, 0.7))),
    FittingKind.UNION: (
        _line((-0.25, -0.5), (-0.25, 0.5)),
        _line((0, -0.75), (0, 0.75)),
        _line((0.25, -0.5), (0.25, 0.5)),
    ),
    FittingKind.COUPLING: (_line((0, -0.55), (0, 0.55)),),
    FittingKind.WELD: (_line((-0.4, -0.5), (0.4, 0.5)), _line((-0.4, 0.5), (0.4, -0.5))),
    FittingKind.STRAINER: (
        _hollow((-0.7, -0.5), (0.7, -0.5), (0.7, 0.5), (-0.7, 0.5)),
        _line((-0.7, 0.5), (0.7, -0.5)),
    ),
    FittingKind.METER: (_ring(0, 0, 0.65), _line((0, 0), (0.35, -0.4)), _disc(0, 0, 0.12)),
    FittingKind.OTHER: (_hollow((-0.4, -0.4), (0.4, -0.4), (0.4, 0.4), (-0.4, 0.4)),),
}

_PUMP = (_ring(0, 0, 0.95), _solid((-0.5, -0.62), (0.85, 0), (-0.5, 0.62)))
_LOCK = (_line((-1.1, -1.1), (1.1, 1.1)), _line((-1.1, 1.1), (1.1, -1.1)))
_BODY = _hollow((-1, -0.8), (1, -0.8), (1, 0.8), (-1, 0.8))
_WAVE = _line((-1, -0.2), (-0.5, -0.4), (0, -0.2), (0.5, -0.4), (1, -0.2))

_EQUIPMENT: dict[EquipmentKind, Shapes] = {
    EquipmentKind.HEATER: (
        _BODY,
        _line((-0.7, 0.4), (-0.35, -0.4), (0, 0.4), (0.35, -0.4), (0.7, 0.4)),
    ),
    EquipmentKind.COOLER: (
        _BODY,
        _line((0, -0.6), (0, 0.6)),
        _line((-0.55, -0.3), (0.55, 0.3)),
        _line((-0.55, 0.3), (0.55, -0.3)),
    ),
    EquipmentKind.TANK: (_BODY, _WAVE),
}

_SOURCES: dict[SourceKind, Shapes] = {
    SourceKind.MAIN: (_solid((0.9, -0.8), (-0.3, 0), (0.9, 0.8)), _line((1.1, -0.9), (1.1, 0.9))),
    SourceKind.PUMP: (_ring(0.3, 0, 0.9), _solid((0.8, -0.6), (-0.5, 0), (0.8, 0.6))),
    SourceKind.RAISED_TANK: (
        _hollow((-0.2, -0.9), (1.4, -0.9), (1.4, 0.9), (-0.2, 0.9)),
        _line((0.1, -0.9), (0.1, 0.9)),
        _line((0.4, -0.9), (0.4, 0.9)),
    ),
    SourceKind.EXPANSION_VESSEL: (_ring(0.6, 0, 0.9), _line((0.6, -0.9), (0.6, 0.9))),
}

# An outlet points away from its pipe: hollow may draw, filled is kept open, crossed is locked off.
_SPOUT: tuple[Point, ...] = ((0, -0.5), (0.9, -0.85), (0.9, 0.85), (0, 0.5))
_OUTLETS: dict[str, Shapes] = {
    "outlet may draw": (_hollow(*_SPOUT),),
    "outlet kept open": (_solid(*_SPOUT),),
    "outlet leaking": (_hollow(*_SPOUT), _ring(1.4, 0, 0.25)),
    "outlet bleed": (_hollow(*_SPOUT), _solid((1.15, -0.3), (1.55, 0), (1.15, 0.3))),
    "outlet locked off": (
        _hollow(*_SPOUT),
        _line((-0.15, -0.95), (1.05, 0.95)),
        _line((-0.15, 0.95), (1.05, -0.95)),
    ),
}

_OCTAGON = [22.5 + 45.0 * i for i in range(8)]

_SIGNS: dict[str, Shapes] = {
    "flow": (_solid((-0.7, -0.6), (0.9, 0), (-0.7, 0.6), (-0.3, 0)),),
    "flow either way": (
        _solid((0.15, -0.6), (1.2, 0), (0.15, 0.6)),
        _solid((-0.15, -0.6), (-1.2, 0), (-0.15, 0.6)),
    ),
    "flow in doubt": (_hollow((-0.7, -0.6), (0.9, 0), (-0.7, 0.6), (-0.3, 0)),),
    "flow in doubt either way": (
        _hollow((0.15, -0.6), (1.2, 0), (0.15, 0.6)),
        _hollow((-0.15, -0.6), (-1.2, 0), (-0.15, 0.6)),
    ),
    "work": (
        _hollow((-1.1, 0), (0, -1.1), (1.1, 0), (0, 1.1)),
        _line((-0.5, -0.5), (0.5, 0.5)),
        _line((-0.5, 0.5), (0.5, -0.5)),
    ),
    "dead end": (_line((0, -0.55), (0, 0.55)),),
    "arrowhead": (_solid((0, 0), (-1.6, -0.5), (-1.6, 0.5)),),
    "cut": (_line((-0.3, -1), (0.3, -0.3), (-0.3, 0.3), (0.3, 1)),),
    "ring": (_ring(0, 0, 1),),
    "compliant": (_ring(0, 0, 1), _line((-0.5, 0.05), (-0.12, 0.45), (0.55, -0.4))),
    "not compliant": (
        _hollow(*[(math.cos(math.radians(a)), math.sin(math.radians(a))) for a in _OCTAGON]),
        _line((-0.4, -0.4), (0.4, 0.4)),
        _line((-0.4, 0.4), (0.4, -0.4)),
    ),
    "undecided": (
        _hollow((-1.1, 0), (0, -1.1), (1.1, 0), (0, 1.1)),
        *(
            _line(*[(x * 0.9, y * 0.75 + 0.75) for x, y in shape.points])
            for shape in _QUERY
            if shape.radius is None
        ),
        _disc(0, 0.5, 0.12),
    ),
    "fault": (_solid((0, -1), (1, 0.8), (-1, 0.8)),),
}


def valve_form(valve: Valve) -> str:
    """Name the symbol of a valve as it stands while freezing."""
    state = valve.at(Moment.FREEZING)
    if state is None:
        body = "not stated"
    elif state is ValveState.CLOSED and valve.tightness is Tightness.PROVEN:
        body = "closed and proven"
    else:
        body = state.value
    return f"valve {valve.kind.value} {body}"


def outlet_form(outlet: Outlet) -> str:
    """Name the symbol of an outlet as it stands while freezing."""
    return f"outlet {(outlet.at(Moment.FREEZING) or OutletState.MAY_DRAW).value}"


def pump_form(pump: Pump) -> str:
    """Name the symbol of a pump."""
    return "pump locked off" if pump.is_locked(Moment.FREEZING) else "pump"


def gear_form(gear: Equipment) -> str:
    """Name the symbol of a heater, cooler or tank."""
    locked = gear.is_locked(Moment.FREEZING)
    return f"{gear.kind.value} locked off" if locked else gear.kind.value


def source_form(source: Source) -> str:
    """Name the symbol of a source."""
    return f"source {source.kind.value}"


def fitting_form(kind: FittingKind) -> str:
    """Name the symbol of a fitting."""
    return f"fitting {kind.value}"


def all_forms() -> dict[str, Shapes]:
    """Give every symbol by its name."""
    forms = dict(_SIGNS) | dict(_OUTLETS)
    for kind, top in _TOPS.items():
        for state, body in _BODIES.items():
            forms[f"valve {kind.value} {state}"] = (*body, *top)
    forms |= {f"fitting {k.value}": s for k, s in _FITTINGS.items()}
    forms |= {"pump": _PUMP, "pump locked off": (*_PUMP, *_LOCK)}
    for gear, shapes in _EQUIPMENT.items():
        forms[gear.value] = shapes
        forms[f"{gear.value} locked off"] = (*shapes, *_LOCK)
    forms |= {f"source {k.value}": s for k, s in _SOURCES.items()}
    return forms
