"""Open a building model, or say in one clear error why it can not be used."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

from layoutcheck.document.faults import shown
from layoutcheck.importers.draft import one_fault, reason_of

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
# A model of some hundred thousand pipes takes a few hundred megabytes.
LARGEST = 2 * 1024**3 - 1
# Length units that are used: from the micrometre to the mile (m).
_SMALLEST_UNIT, _LARGEST_UNIT = 1e-6, 1.7e3
_HEAD, _TAIL = 64 * 1024, 4096
_DRAFTS = ("IFC4X1", "IFC4X2", "IFC4X3_RC")
_BEGIN, _END = b"ISO-10303-21", b"END-ISO-10303-21"
_EXAMPLE = "an IFC2x3, IFC4 or IFC4x3 file (.ifc), whole, with its units"


def open_model(path: Path) -> Any:  # noqa: ANN401 - ifcopenshell has no types
    """Open a model. Raises LayoutFaults where it is not a whole IFC file of a known schema."""
    _look_first(path)
    try:
        import ifcopenshell  # noqa: PLC0415 - an optional extra, and slow to load
    except ImportError:
        raise one_fault(
            found="a building model (.ifc)",
            problem="needs the optional part that reads building models",
            example="pip install 'layoutcheck[ifc]'",
        ) from None
    _no_draft_of_a_schema(path)
    try:
        model: Any = ifcopenshell.open(str(path))
    except Exception as error:  # the reader raises many kinds
        raise one_fault(
            found=shown(path.name),
            problem=f"can not be read as IFC: {reason_of(error, path)}",
            example=_EXAMPLE,
        ) from None
    if str(model.schema) not in SCHEMAS:
        raise one_fault(
            found=shown(str(model.schema)),
            problem="is a schema that is not read",
            example=", ".join(SCHEMAS),
        )
    _refuse_doubles(model)
    return model


def _no_draft_of_a_schema(path: Path) -> None:
    """Refuse schemas that were tried out before IFC4x3 became a standard."""
    with path.open("rb") as stream:
        found = re.search(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']{1,40})'", stream.read(_HEAD))
    schema = found[1].decode("latin-1").upper() if found is not None else ""
    if schema.startswith(_DRAFTS):
        raise one_fault(
            found=shown(schema),
            problem="is a draft of IFC4x3 that was given up when the standard came out (ISO "
            "16739-1:2024); export the model again as IFC4x3 or IFC4",
            example="FILE_SCHEMA(('IFC4X3_ADD2'));",
        )


def length_unit(model: Any) -> tuple[float, str]:  # noqa: ANN401 - see above
    """Give the length unit of a model in metres, and its name. Raises LayoutFaults without one."""
    from ifcopenshell.util.unit import get_full_unit_name, get_unit_scale  # noqa: PLC0415

    found = [
        unit
        for project in model.by_type("IfcProject")
        for unit in (project.UnitsInContext.Units if project.UnitsInContext else ())
        if getattr(unit, "UnitType", None) == "LENGTHUNIT"
    ]
    if len(found) != 1:
        raise one_fault(
            found="no length unit" if not found else f"{len(found)} length units",
            problem="the model must state one length unit; none is guessed at",
            example="#5=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);",
        )
    scale = float(get_unit_scale(found[0]))
    if not _SMALLEST_UNIT <= scale <= _LARGEST_UNIT:  # also of no number
        raise one_fault(
            found=f"a length unit of {scale:g} m",
            problem="is not a unit that lengths of a building can have",
            example="#5=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);",
        )
    return scale, str(get_full_unit_name(found[0])).lower()


def _look_first(path: Path) -> None:
    """Look at a file's size, begin and end, before anything is made of what lies between."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
        stream.seek(max(0, size - _TAIL))
        tail = stream.read(_TAIL)
    if not head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(_BEGIN):
        raise one_fault(
            found=shown(head[:40].decode("latin-1")) if head else "nothing",
            problem="is not an IFC file: it does not begin with ISO-10303-21",
            example=_EXAMPLE,
        )
    if size > LARGEST:
        raise one_fault(
            found=f"{size} bytes", problem=f"is larger than {LARGEST} bytes", example=_EXAMPLE
        )
    if _END not in tail:
        raise one_fault(
            found=shown(tail[-40:].decode("latin-1")),
            problem="is cut off: it does not end with END-ISO-10303-21",
            example=_EXAMPLE,
        )


def _refuse_doubles(model: Any) -> None:  # noqa: ANN401 - see above
    """Refuse elements that share a GlobalId: findings could go back on the wrong one."""
    roots = [*model.by_type("IfcDistributionElement"), *model.by_type("IfcPort")]
    seen: Counter[str] = Counter()
    for element in roots:
        if not _is_sound(element[0]):
            raise one_fault(
                found=shown(str(element), 60),
                problem="has no sound GlobalId",
                example="'2O2Fr$t4X7Zf8NOew3FLOH', 22 characters",
            )
        seen[element[0]] += 1
    doubled = sorted(guid for guid, number in seen.items() if number > 1)
    if doubled:
        raise one_fault(
            found=", ".join(shown(guid, 30) for guid in doubled[:3]),
            problem=f"GlobalIds that stand on more than one element: {len(doubled)}",
            example="one GlobalId for each element",
        )


def _is_sound(guid: object) -> bool:
    """Tell whether a GlobalId can be told to people and to other programs."""
    return isinstance(guid, str) and guid.isascii() and guid.isprintable() and 0 < len(guid) <= 40
