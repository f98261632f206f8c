"""The way in for building models: a whole model, or one system of it."""

from __future__ import annotations

import gc
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from layoutcheck.document.faults import LayoutFaults, shown
from layoutcheck.importers.apart import Bounds, ChildDied, run_apart
from layoutcheck.importers.draft import (
    Draft,
    Imported,
    Progress,
    Source,
    metres,
    no_progress,
    one_fault,
    plain,
    reason_of,
    rounded,
)
from layoutcheck.importers.ifc.build import Builder
from layoutcheck.importers.ifc.facts import Facts, Value
from layoutcheck.importers.ifc.joints import Joiner, complete_ends
from layoutcheck.importers.ifc.naming import number_parts
from layoutcheck.importers.ifc.opened import length_unit, open_model
from layoutcheck.importers.ifc.parts import Read, connect, read_parts
from layoutcheck.importers.ifc.shape import Shapes
from layoutcheck.quantities.names import NO_NAMES, Names

# Ends that lie this near to each other (m) are taken as joined where the model connects nothing.
TOLERANCE = 0.005
# A plan in metres: how far from its pipe a drawn point may lie (m).
_SNAP = 0.1
_EXAMPLE = "a model that its own program, or a validator, finds sound"
_IMPERIAL = ("foot", "inch", "feet")
_UNSOUND = (*(ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError),)


def read_ifc(
    path: Path,
    *,
    name: str,
    systems: Sequence[str] = (),
    tolerance: float = TOLERANCE,
    names: Names = NO_NAMES,
    progress: Progress = no_progress,
) -> Imported:
    """Read a building model.

    path: the file. name: what to call it. systems: the names of those to read, as one network;
    all if empty. names: a user's own, of materials and sizes.
    tolerance: how near ends must lie to be joined by geometry (m). progress: told of the steps.
    Raises LayoutFaults with one clear error where the model can not be used.
    """
    progress("opening the model", 0, 1)
    model = open_model(path)
    # A million small things are made and all are kept: looking for rings among them is for nothing.
    collects = gc.isenabled()
    gc.disable()
    try:
        return _read(model, Draft(name=name, names=names), systems, tolerance, progress)
    except _UNSOUND as error:
        if isinstance(error, LayoutFaults):
            raise
        # ifcopenshell opens files whose attributes are not what their schema asks for.
        raise one_fault(
            found=name,
            problem=f"has an element that is not as its schema asks: {reason_of(error, path)}",
            example=_EXAMPLE,
        ) from error
    finally:
        if collects:
            gc.enable()


def read_ifc_apart(
    path: Path, *, name: str, systems: Sequence[str], names: Names, progress: Progress
) -> Imported:
    """Read a building model in a process of its own, for an unsound one may end it. As read_ifc."""
    bounds = Bounds.for_file(path.stat().st_size)
    target = f"{__name__}:{read_ifc.__name__}"
    try:
        imported: Imported = run_apart(
            target,
            path,
            name=name,
            systems=tuple(systems),
            names=names,
            bounds=bounds,
            progress=progress,
        )
    except ChildDied as died:
        raise one_fault(
            found=shown(name), problem=f"can not be read as IFC: {died}", example=_EXAMPLE
        ) from None
    return imported


def _read(
    model: Any,  # noqa: ANN401 - ifcopenshell has no types
    draft: Draft,
    systems: Sequence[str],
    tolerance: float,
    progress: Progress,
) -> Imported:
    scale, unit = length_unit(model)
    name = draft.name
    draft.name = _title(model) or name
    draft.units = "imperial" if unit.endswith(_IMPERIAL) else "metric"
    draft.note = f"Read from {name}."
    draft.drawing = {"kind": "plan", "scale": "1 m", "snap_within": _SNAP}
    facts = Facts(model, scale)
    _known_systems(facts, systems)
    shapes = Shapes(scale)
    read = read_parts(model, facts, draft, shapes=shapes, systems=systems, progress=progress)
    number_parts(read)
    connect(model, read, draft)
    progress("joining ends", 0, 1)
    complete_ends(read, draft)
    Joiner(read, draft, tolerance).join()
    progress("writing the layout", 0, 1)
    Builder(read, draft).build()
    if not draft.lists["pipes"]:
        raise one_fault(
            found=", ".join(f"{n} x {c}" for c, n in sorted(draft.read.items())) or "no element",
            problem="holds no pipe with two ends that could be read"
            + (" in this system" if systems else ""),
            example="IfcPipeSegment elements with ports or bodies",
        )
    _say_systems(facts, systems, draft)
    draft.site["rooms"] = _rooms(read, facts, draft)
    _say_what_is_not_there(draft)
    detail = f"{model.schema_identifier}, lengths in {unit}"
    return draft.finished(Source(name=plain(name), kind="IFC", detail=detail))


def _title(model: Any) -> str:  # noqa: ANN401 - ifcopenshell has no types
    projects = model.by_type("IfcProject")
    return plain(projects[0].Name or projects[0].LongName) if projects else ""


def _known_systems(facts: Facts, systems: Sequence[str]) -> None:
    known = sorted({name for names in facts.systems.values() for name in names})
    strange = [system for system in systems if system not in known]
    if strange:
        raise one_fault(
            found=", ".join(strange),
            problem="is no system of this model",
            example=", ".join(known[:8]) or "leave it out: the model has no systems",
        )


def _say_systems(facts: Facts, systems: Sequence[str], draft: Draft) -> None:
    known = sorted({name for names in facts.systems.values() for name in names})
    if not systems and len(known) > 1:
        says = "More than one system was read as one network; --system reads those you name"
        draft.assume(says, *known)


def _rooms(read: Read, facts: Facts, draft: Draft) -> list[dict[str, object]]:
    rooms = []
    for own, space in sorted(read.rooms.items()):
        values = facts.values(space)
        room: dict[str, object] = {"id": own, "name": plain(space.LongName) or own}
        for field, unit, names in (
            ("floor_area", "m2", ("netfloorarea", "grossfloorarea")),
            ("volume", "m3", ("netvolume", "grossvolume")),
        ):
            value = _number(values, names)
            if value is not None:
                room[field] = f"{rounded(value * facts.measure(unit))!r} {unit}"
        height = _number(values, ("finishceilingheight", "height"))
        if height is not None:
            room["height"] = metres(height)
        rooms.append(room)
    if not rooms:
        draft.gap("No pipe is said to be in a space: rooms are unknown")
    return rooms


def _number(values: dict[str, Value], names: tuple[str, ...]) -> float | None:
    found = (values[n][0] for n in names if n in values)
    return next((v for v in found if isinstance(v, float) and v > 0.0), None)


def _say_what_is_not_there(draft: Draft) -> None:
    if not draft.lists["sources"]:
        draft.gap("The model shows no source of pressure: nothing can be judged without one")
    draft.gap("A model states no pressures, no temperatures and no free space: see what to fill in")
    draft.assume("Heights are those of the model's own zero level")
