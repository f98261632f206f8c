"""Elements of a model as plain values: what each is, where its ends are, what they meet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from layoutcheck.importers.draft import Draft, Progress, plain
from layoutcheck.importers.ifc.facts import Facts, Value
from layoutcheck.importers.ifc.kinds import Role, Told, role_of
from layoutcheck.importers.ifc.shape import Body, Shapes, Vector, apart

# Ports of cables and ducts are no way for water.
_DRY_PORTS = {"CABLE", "CABLECARRIER", "DUCT", "WIRELESS"}
# Places of attributes of IfcRoot, IfcObject and IfcElement, the same in all three schemas.
_GUID, _NAME, _OBJECT_TYPE, _TAG = 0, 2, 4, 7
_TELL_EVERY = 2000


@dataclass
class End:
    """One end of an element: where it is (m), and the number of its port if it has one."""

    part: int
    at: Vector | None
    port: int | None = None
    beyond: bool = False


@dataclass
class Part:
    """One element that carries water."""

    index: int
    guid: str
    name: str
    role: Role
    predefined: str
    words: str
    key: int
    body: Body
    at: Vector | None
    values: dict[str, Value]
    material: Value | None
    profile: Any
    scale: float
    storey: str
    system: str
    tag: str
    mark: str
    room: str
    insulated: bool
    guess: str = ""
    title: str = ""
    ends: list[int] = field(default_factory=list)


@dataclass
class Read:
    """All parts and ends, and which ends the model connects (pairs of indices of ends)."""

    parts: list[Part] = field(default_factory=list)
    ends: list[End] = field(default_factory=list)
    pairs: list[tuple[int, int]] = field(default_factory=list)
    rooms: dict[str, Any] = field(default_factory=dict)


def read_parts(
    model: Any,  # noqa: ANN401 - ifcopenshell has no types
    facts: Facts,
    draft: Draft,
    *,
    shapes: Shapes,
    systems: Sequence[str],
    progress: Progress,
) -> Read:
    """Read every element that carries water, with its ends. Notes in the draft what is left out."""
    read = Read()
    chosen = list(_chosen(model, facts, draft, systems))
    # Sorted by name and GlobalId, so that the order of the file does not matter.
    chosen.sort(key=lambda row: (plain(row[0][_NAME]), row[0][_GUID]))
    ports = _ports_of(model)
    for done, (element, told) in enumerate(chosen):
        if done % _TELL_EVERY == 0:
            progress("reading elements", done, len(chosen))
        part = _part(element, told, facts, shapes, read)
        read.parts.append(part)
        for port in ports.get(part.key, ()):
            if str(getattr(port, "PredefinedType", "")) not in _DRY_PORTS:
                read.ends.append(End(part.index, shapes.position(port), port.id()))
                part.ends.append(len(read.ends) - 1)
        _sort_ends(read, part)
    progress("reading elements", len(chosen), len(chosen))
    return read


def _chosen(
    model: Any,  # noqa: ANN401 - see above
    facts: Facts,
    draft: Draft,
    systems: Sequence[str],
) -> Iterable[tuple[Any, Told]]:
    """Give the elements to read, each with its role; count all of them by class."""
    outside: dict[str, int] = defaultdict(int)
    for element in model.by_type("IfcDistributionElement"):
        own = element.is_a()
        kind = facts.types.get(element.id())
        of_type = None if kind is None else kind.is_a()
        draft.read[own] += 1
        told = role_of(own, of_type)
        if told.role is Role.NOT_WATER:
            outside[own] += 1
            continue
        if systems and not set(systems) & set(facts.systems.get(element.id(), ())):
            outside[f"{own} of another system"] += 1
            continue
        draft.taken[own] += 1
        yield element, told
    for name, number in sorted(outside.items()):
        draft.leave_out(f"{number} x {name}")


def _part(element: Any, told: Told, facts: Facts, shapes: Shapes, read: Read) -> Part:  # noqa: ANN401
    key = element.id()
    kind = facts.types.get(key)
    space = facts.spaces.get(key)
    room = ""
    if space is not None:
        room = plain(space.Name, 80) or plain(space.GlobalId, 80) or "room"
        read.rooms[room] = space
    predefined = str(getattr(element, "PredefinedType", None) or "NOTDEFINED")
    if predefined in {"NOTDEFINED", "USERDEFINED"} and kind is not None:
        predefined = str(getattr(kind, "PredefinedType", None) or predefined)
    name, typed = plain(element[_NAME], 80), "" if kind is None else plain(kind.Name)
    values = facts.values(element)
    return Part(
        index=len(read.parts),
        guid=element[_GUID],
        name=name or element[_GUID],
        role=told.role,
        predefined=predefined,
        words=f"{name} {plain(element[_OBJECT_TYPE])} {typed}",
        key=key,
        body=shapes.body(element),
        at=shapes.position(element),
        values=values,
        material=facts.material(element),
        profile=facts.material_profile(element),
        scale=facts.scale,
        storey=facts.storeys.get(key, ""),
        system=next(iter(facts.systems.get(key, ())), ""),
        tag=plain(element[_TAG], 60),
        mark=_mark(values, typed),
        room=room,
        insulated=key in facts.insulated,
        guess=f"{element.is_a()} has no type that tells more: read as a {told.role.value}"
        if told.guessed
        else "",
    )


def _mark(values: dict[str, Value], typed: str) -> str:
    """Give an element's type mark: as a property states it, else the name of its type."""
    given = values.get("typemark", values.get("reference", (typed, "")))[0]
    return plain(given, 60) if isinstance(given, str) else plain(typed, 60)


def _ports_of(model: Any) -> dict[int, list[Any]]:  # noqa: ANN401 - see above
    """Give the ports of each element, attached in either way, each once."""
    found: dict[int, dict[int, Any]] = defaultdict(dict)
    for relation in model.by_type("IfcRelConnectsPortToElement"):
        if relation.RelatedElement is not None and relation.RelatingPort is not None:
            found[relation.RelatedElement.id()][relation.RelatingPort.id()] = relation.RelatingPort
    for relation in model.by_type("IfcRelNests"):
        whole, nested = relation[4], relation[5]
        if whole is None:  # it named an element that the file does not have
            continue
        key = whole.id()
        for thing in nested or ():
            if thing is not None and thing.is_a("IfcDistributionPort"):
                found[key][thing.id()] = thing
    return {key: list(ports.values()) for key, ports in found.items()}


def _sort_ends(read: Read, part: Part) -> None:
    """Order a part's ends by where they are: the order of ports in a file means nothing."""
    if len(part.ends) < 2:
        return
    rows = sorted((read.ends[i] for i in part.ends), key=_place)
    for index, end in zip(sorted(part.ends), rows, strict=True):
        read.ends[index] = end
    part.ends.sort()


def _place(end: End) -> tuple[float, ...]:
    return (float("inf"),) if end.at is None else tuple(round(x, 4) for x in end.at)


def connect(model: Any, read: Read, draft: Draft) -> None:  # noqa: ANN401 - see above
    """Pair the ends whose ports the model connects, each pair once."""
    for part in read.parts:
        if part.guess:
            draft.assume(part.guess, part.name)
    by_port = {e.port: i for i, e in enumerate(read.ends) if e.port is not None}
    pairs: set[tuple[int, int]] = set()
    for relation in model.by_type("IfcRelConnectsPorts"):
        ports = (relation[4], relation[5])
        ends = [by_port.get(p.id()) for p in ports if p is not None]
        known = [e for e in ends if e is not None]
        if len(known) == 2 and read.ends[known[0]].part == read.ends[known[1]].part:
            name = read.parts[read.ends[known[0]].part].name
            draft.gap("A connection of an element with itself is left out", name)
        elif len(known) == 2:
            pairs.add((min(known), max(known)))
        elif len(known) == 1:
            end = read.ends[known[0]]
            name = read.parts[end.part].name
            if len(ends) == 2:
                end.beyond = True
            else:
                draft.gap("A connection of ports that names one port only is not one", name)
    read.pairs = sorted(pairs)


def far_pairs(read: Read, tolerance: float) -> dict[str, float]:
    """Give connected ends that lie apart, by the name of the first part (m)."""
    found = {}
    for one, two in read.pairs:
        a, b = read.ends[one], read.ends[two]
        if a.at is not None and b.at is not None and apart(a.at, b.at) > tolerance:
            found[read.parts[a.part].name] = apart(a.at, b.at)
    return found
