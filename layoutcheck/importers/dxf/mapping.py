"""What the layers, blocks and texts of a drawing mean: a file (TOML) that its designer writes."""

from __future__ import annotations

import difflib
from enum import StrEnum
from typing import Annotated

from pydantic import Field, ValidationError

from layoutcheck.document.faults import Fault, LayoutFaults, at_most
from layoutcheck.document.fields import Length, MaterialName, Size, Text
from layoutcheck.document.models import (
    DrawingKind,
    EquipmentKind,
    FittingKind,
    SourceKind,
    Strict,
    ValveKind,
)
from layoutcheck.document.read import faults_of
from layoutcheck.document.tables import TextFault, read_toml
from layoutcheck.importers.draft import one_fault
from layoutcheck.quantities import Material, UnitSystem

EXAMPLE = (
    'kind = "riser"\nsnap = 1.0\n[layers.PIPES]\nkind = "pipe"\nsize = "NPS 2"\n'
    'material = "carbon steel"\n[layers.NOTES]\nkind = "text"\n[blocks.GATE]\nkind = "valve"'
)

Distance = Annotated[float, Field(strict=False, ge=0, le=1e9, allow_inf_nan=False)]


class LayerKind(StrEnum):
    """What lies on a layer."""

    PIPE = "pipe"
    TEXT = "text"


class BlockKind(StrEnum):
    """What a block stands for."""

    VALVE = "valve"
    PUMP = "pump"
    HEATER = "heater"
    COOLER = "cooler"
    TANK = "tank"
    SOURCE = "source"
    OUTLET = "outlet"
    FITTING = "fitting"


class Heights(StrEnum):
    """What tells heights: nothing, the third coordinate, or the height on a riser to scale."""

    NONE = "none"
    Z = "z"
    Y = "y"


class LayerMap(Strict):
    """One layer. size, material and wall are those of its pipes where no text says otherwise."""

    kind: LayerKind
    size: Size | None = None
    material: MaterialName = Material.UNKNOWN
    wall: Text | None = None


class BlockMap(Strict):
    """One block. reach: how far from its point the lines beside it may end, in drawing units."""

    kind: BlockKind
    valve: ValveKind = ValveKind.OTHER
    fitting: FittingKind = FittingKind.OTHER
    source: SourceKind = SourceKind.MAIN
    reach: Distance | None = None

    @property
    def equipment(self) -> EquipmentKind | None:
        """Give the kind of equipment that the block stands for, if any."""
        known = {kind.value for kind in EquipmentKind}
        return EquipmentKind(self.kind.value) if self.kind.value in known else None


class DrawingMap(Strict):
    """The whole map. snap, text_reach: in drawing units. scale: real length of one of them.

    text_reach: how far a text may stand from its pipe; None for so many times its own height.
    """

    kind: DrawingKind = DrawingKind.RISER
    scale: Length | None = None
    units: UnitSystem = UnitSystem.IMPERIAL
    snap: Distance = 1e-3
    text_reach: Distance | None = None
    heights: Heights = Heights.NONE
    id_attributes: tuple[str, ...] = ("TAG", "ID", "NAME")
    layers: dict[str, LayerMap]
    blocks: dict[str, BlockMap] = Field(default_factory=dict)


def read_map(text: str) -> DrawingMap:
    """Read a drawing's map. Raises LayoutFaults with every fault of it."""
    try:
        data = read_toml(text)
    except TextFault as error:
        raise one_fault(found="the map", problem=str(error), example=EXAMPLE) from None
    try:
        return DrawingMap.model_validate(data)
    except ValidationError as error:
        faults = [_mended(f) for f in faults_of(error, data)]
        raise LayoutFaults(at_most(faults)) from None


# A right line for each field, by the table that it stands in.
_RIGHT = {
    "": {
        "kind": 'kind = "riser"',
        "scale": 'scale = "1 m"',
        "units": 'units = "metric"',
        "snap": "snap = 1.0",
        "text_reach": "text_reach = 5.0",
        "heights": 'heights = "none"',
        "id_attributes": 'id_attributes = ["TAG"]',
        "layers": '[layers.PIPES]\nkind = "pipe"',
        "blocks": '[blocks.GATE]\nkind = "valve"',
    },
    "layers": {
        "kind": 'kind = "pipe"',
        "size": 'size = "NPS 2"',
        "material": 'material = "carbon steel"',
        "wall": 'wall = "sch 40"',
    },
    "blocks": {
        "kind": 'kind = "valve"',
        "valve": 'valve = "gate"',
        "fitting": 'fitting = "elbow"',
        "source": 'source = "main"',
        "reach": "reach = 1.0",
    },
}
_DEEP = 2  # a layer's or block's own table: /layers/PIPES


def _mended(fault: Fault) -> Fault:
    """Give a fault of a map the line that is right where it stands."""
    parts = fault.pointer.split("/")[1:]
    table = parts[0] if len(parts) > 1 and parts[0] in {"layers", "blocks"} else ""
    field = parts[_DEEP] if table and len(parts) > _DEEP else "" if table else parts[0]
    known = _RIGHT[table]
    if field not in known:
        near = difflib.get_close_matches(field, known, n=1, cutoff=0.0)
        field = near[0] if field and near else "kind"
    return fault.model_copy(update={"example": known[field]})
