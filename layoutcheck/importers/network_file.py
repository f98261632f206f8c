"""Network files of the open EPANET .inp format, read by the wntr package.

What such a file does not hold is not made up: its diameters are bores, its pipes have no material
and no wall, its valves and pumps no length, and how a valve really stands only the site knows.
"""

from __future__ import annotations

import logging
import tempfile
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layoutcheck.document.faults import LayoutFaults
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
    rounded,
)
from layoutcheck.importers.sizing import size_of_bore

# Water's weight, as EPANET heads are in metres of water at 4 degC: 9806.65 Pa each (ISO 80000-4).
_PASCALS_PER_METRE = 9806.65
_KINDS = {"PRV": ValveKind.REDUCING}
_EXAMPLE = "a whole network file with [JUNCTIONS] and [PIPES], as its program saves it"


def read_inp(path: Path, *, name: str) -> Imported:
    """Read a network file. Raises LayoutFaults with one clear error where it can not be read."""
    stated = _states_units(path)
    model = _opened(path) if stated else _opened_in_gallons(path)
    try:
        return _read(model, name, units_stated=stated)
    except (ArithmeticError, AttributeError, KeyError, TypeError, ValueError) as error:
        if isinstance(error, LayoutFaults):
            raise
        # The wntr package opens files that state less, or other things, than it needs.
        problem = f"has an element that can not be used: {reason_of(error, path)}"
        raise one_fault(found=name, problem=problem, example=_EXAMPLE) from error


def _states_units(path: Path) -> bool:
    """Tell whether a network file says in which units it is written."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except OSError:
        return True  # the reader tells what is wrong
    section = ""
    for line in text.splitlines():
        words = line.split(";")[0].split()
        if words and words[0].startswith("["):
            section = words[0].upper()
        elif len(words) > 1 and section.startswith("[OPTI") and words[0].upper() == "UNITS":
            return True
    return False


def _opened_in_gallons(path: Path) -> Any:  # noqa: ANN401 - wntr has no types
    """Open a file without units with those that the format takes where none are stated.

    EPANET 2.2 User Manual, Appendix C.2, [OPTIONS]: 'The default is GPM'; and with a flow unit in
    US units all others are US customary. From memory. The wntr package needs the line.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        options = b"[OPTIONS]\n" + _UNSTATED.encode() + b"\n"
        copy.write_bytes(options + path.read_bytes().removeprefix(b"\xef\xbb\xbf"))
        return _opened(copy)


_UNSTATED = "UNITS GPM"


def _read(model: Any, name: str, *, units_stated: bool) -> Imported:  # noqa: ANN401 - see above
    draft = Draft(name=name, note=f"Read from {plain(name)}.")
    if not units_stated:
        draft.assume(
            "The file states no units: the format's own are taken, US gallons per minute, feet and "
            "inches. Were they metric, every length and size here would be wrong"
        )
    for kind, number in (
        *(("junctions", model.num_junctions), ("pipes", model.num_pipes)),
        *(("valves", model.num_valves), ("pumps", model.num_pumps)),
        *(("tanks", model.num_tanks), ("reservoirs", model.num_reservoirs)),
    ):
        draft.read[kind] = draft.taken[kind] = int(number)
    spots = _nodes(model, draft)
    sizes = _sizes(model)
    for own, link in sorted(model.links()):
        _link(draft, own, link, spots, sizes[own])
    if not draft.lists["pipes"]:
        raise one_fault(found=name, problem="holds no pipes", example=_EXAMPLE)
    draft.assume("Diameters of the file are bores: the nearest size of the usual wall is taken")
    draft.gap("A network file states no materials and no walls")
    draft.gap("Nodes without a demand draw nothing in the file; taps there are not known")
    detail = f"EPANET network, flows in {plain(model.options.hydraulic.inpfile_units)}"
    return draft.finished(Source(name=plain(name), kind="network file", detail=detail))


@dataclass(frozen=True)
class _Spot:
    """A node: the id of its junction, and its height (m) where the file tells it."""

    own: str
    height: float | None


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


def _nodes(model: Any, draft: Draft) -> dict[str, _Spot]:  # noqa: ANN401 - see above
    """Write junctions, sources, tanks and outlets; give the spot of each node."""
    spots: dict[str, _Spot] = {}
    for named, node in sorted(model.nodes()):
        height = getattr(node, "elevation", None)
        at = [rounded(float(c)) for c in node.coordinates] if node.coordinates else None
        up = None if height is None else metres(float(height))
        # The draft may cut a long name, or clean it of what can not be seen.
        own = draft.add("junctions", named, elevation=up, at=at)
        spots[named] = _Spot(own, None if height is None else float(height))
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
    return spots


def _sizes(model: Any) -> dict[str, float]:  # noqa: ANN401 - see above
    """Give the bore of each link (m); the largest beside it where the link has none."""
    links = [(own, link.start_node_name, link.end_node_name, link) for own, link in model.links()]
    bores = {own: float(getattr(link, "diameter", 0.0) or 0.0) for own, _, _, link in links}
    largest = max(bores.values(), default=0.0) or 0.1
    beside: dict[str, float] = {}
    for own, start, end, _ in links:
        for node in (start, end):
            beside[node] = max(beside.get(node, 0.0), bores[own])
    return {own: bores[own] or max(beside[a], beside[b]) or largest for own, a, b, _ in links}


def _link(
    draft: Draft,
    named: str,
    link: Any,  # noqa: ANN401 - see above
    spots: dict[str, _Spot],
    bore: float,
) -> None:
    start, end = spots[link.start_node_name], spots[link.end_node_name]
    unknown = start.height is None or end.height is None
    rise = 0.0 if unknown else abs((start.height or 0.0) - (end.height or 0.0))
    is_pipe = link.link_type == "Pipe"
    length = float(link.length) if is_pipe else 0.0
    sized = size_of_bore(round(bore, 6))
    total = max(length, rise)
    via = [[rounded(float(c)) for c in spot] for spot in getattr(link, "vertices", None) or ()]
    own = draft.add(
        "pipes",
        named,
        from_=start.own,
        to=end.own,
        size=sized.size,
        material="unknown",
        length=metres(total),
        via=via or None,
    )
    if length < rise:
        says = "Shorter than the rise between its ends: the rise is taken as its length"
        draft.assume(says if is_pipe else "Without a length: as short as its rise allows", own)
    if not sized.fits:
        draft.gap("The bore is that of no usual size; the nearest is taken", own)
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
