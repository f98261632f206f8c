"""Network files of the open EPANET .inp format, read by the wntr package.

What such a file does not hold is not made up: its diameters are bores, its pipes have no material
and no wall, its valves and pumps no length, and how a valve really stands only the site knows.
"""

from __future__ import annotations

import logging
import warnings
from pathlib import Path
from typing import Any

from layoutcheck.document.models import EquipmentKind, SourceKind, ValveKind
from layoutcheck.importers.draft import (
    Document,
    Draft,
    Imported,
    Source,
    metres,
    one_fault,
    plain,
    reason_of,
)
from layoutcheck.importers.sizing import size_of_bore

# Water's weight, as EPANET heads are in metres of water at 4 degC: 9806.65 Pa each (ISO 80000-4).
_PASCALS_PER_METRE = 9806.65
_KINDS = {"PRV": ValveKind.REDUCING}
_EXAMPLE = "a whole network file with [JUNCTIONS] and [PIPES], as its program saves it"


def read_inp(path: Path, *, name: str) -> Imported:
    """Read a network file. Raises LayoutFaults with one clear error where it can not be read."""
    model = _opened(path)
    draft = Draft(name=name, note=f"Read from {plain(name)}.")
    for kind, number in (
        *(("junctions", model.num_junctions), ("pipes", model.num_pipes)),
        *(("valves", model.num_valves), ("pumps", model.num_pumps)),
        *(("tanks", model.num_tanks), ("reservoirs", model.num_reservoirs)),
    ):
        draft.read[kind] = draft.taken[kind] = int(number)
    heights = _nodes(model, draft)
    sizes = _sizes(model)
    for own, link in sorted(model.links()):
        _link(draft, own, link, heights, sizes[own])
    if not draft.lists["pipes"]:
        raise one_fault(found=name, problem="holds no pipes", example=_EXAMPLE)
    draft.assume("Diameters of the file are bores: the nearest size of the usual wall is taken")
    draft.gap("A network file states no materials and no walls")
    draft.gap("Nodes without a demand draw nothing in the file; taps there are not known")
    detail = f"EPANET network, flows in {plain(model.options.hydraulic.inpfile_units)}"
    return draft.finished(Source(name=plain(name), kind="network file", detail=detail))


def _opened(path: Path) -> Any:  # noqa: ANN401 - wntr has no types
    try:
        import wntr  # noqa: PLC0415 - an optional extra, and slow to load
    except ImportError:
        raise one_fault(
            found="a network file (.inp)",
            problem="needs the optional part that reads network files",
            example="pip install 'layoutcheck[inp]'",
        ) from None
    told = logging.getLogger("wntr")
    level = told.level
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            told.setLevel(logging.CRITICAL)
            return wntr.network.WaterNetworkModel(str(path))
    except Exception as error:  # the reader raises many kinds
        problem = f"can not be read: {reason_of(error, path)}"
        raise one_fault(found=path.name, problem=problem, example=_EXAMPLE) from None
    finally:
        told.setLevel(level)


def _nodes(model: Any, draft: Draft) -> dict[str, float | None]:  # noqa: ANN401 - see above
    """Write junctions, sources, tanks and outlets; give the height of each node (m)."""
    heights: dict[str, float | None] = {}
    for own, node in sorted(model.nodes()):
        height = getattr(node, "elevation", None)
        heights[own] = None if height is None else float(height)
        at = [float(c) for c in node.coordinates] if node.coordinates else None
        up = None if height is None else metres(float(height))
        draft.add("junctions", own, elevation=up, at=at)
        if node.node_type == "Reservoir":
            level = metres(float(node.base_head))
            kind = SourceKind.RAISED_TANK.value
            draft.add("sources", own, junction=own, kind=kind, level=level)
            draft.assume("A reservoir is a source at its stated head", own)
        elif node.node_type == "Tank":
            level = metres(float(node.elevation + node.max_level))
            tank = EquipmentKind.TANK.value
            draft.add("equipment", own, junction=own, kind=tank, level=level)
            draft.assume("A tank is taken as full to its highest level", own)
        elif any(d.base_value for d in node.demand_timeseries_list):
            draft.add("outlets", own, junction=own)
    return heights


def _sizes(model: Any) -> dict[str, float]:  # noqa: ANN401 - see above
    """Give the bore of each link (m); the largest beside it where the link has none."""
    bores = {own: float(getattr(link, "diameter", 0.0) or 0.0) for own, link in model.links()}
    largest = max(bores.values(), default=0.0) or 0.1
    found = {}
    for own, link in model.links():
        ends = (link.start_node_name, link.end_node_name)
        near = [bores[o] for node in ends for o in model.get_links_for_node(node)]
        found[own] = bores[own] or max(near, default=0.0) or largest
    return found


def _link(
    draft: Draft,
    own: str,
    link: Any,  # noqa: ANN401 - see above
    heights: dict[str, float | None],
    bore: float,
) -> None:
    ends = (link.start_node_name, link.end_node_name)
    low, high = heights[ends[0]], heights[ends[1]]
    rise = 0.0 if low is None or high is None else abs(low - high)
    is_pipe = link.link_type == "Pipe"
    length = float(link.length) if is_pipe else 0.0
    if length < rise:
        says = "Shorter than the rise between its ends: the rise is taken as its length"
        draft.assume(says if is_pipe else "Without a length: as short as its rise allows", own)
    sized = size_of_bore(round(bore, 6))
    if not sized.fits:
        draft.gap("The bore is that of no usual size; the nearest is taken", own)
    total = max(length, rise)
    via = [[float(c) for c in spot] for spot in getattr(link, "vertices", None) or ()]
    draft.add(
        "pipes",
        own,
        from_=ends[0],
        to=ends[1],
        size=sized.size,
        material="unknown",
        length=metres(total),
        via=via or None,
    )
    _devices(draft, own, link, {"pipe": own, "station": metres(total / 2)})


def _devices(draft: Draft, own: str, link: Any, place: Document) -> None:  # noqa: ANN401
    if link.link_type == "Valve":
        kind = _KINDS.get(link.valve_type, ValveKind.CONTROL)
        draft.add("valves", own, kind=kind.value, **place)
        draft.gap("How the valve stands on site is not known", own)
    elif link.link_type == "Pump":
        draft.add("pumps", own, shutoff_head=_shutoff(link), **place)
    elif link.check_valve:
        draft.add("valves", own, kind=ValveKind.CHECK.value, **place)
        draft.gap("The file does not say where on the pipe the check valve is", own)
    elif str(link.initial_status).lower().endswith("closed"):
        draft.add("valves", own, kind=ValveKind.OTHER.value, **place)
        says = "Closed in the file: a valve is put at its middle, and how it stands must be stated"
        draft.gap(says, own)


def _shutoff(pump: Any) -> str | None:  # noqa: ANN401 - see above
    """Give a pump's rise in pressure at no flow, where its curve tells it."""
    if pump.pump_type != "HEAD":
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the fit, where a curve has few points
            head = float(pump.get_head_curve_coefficients()[0])
    except Exception:  # a curve that fits no pump
        return None
    return f"{round(head * _PASCALS_PER_METRE, 3)!r} Pa" if head > 0.0 else None
