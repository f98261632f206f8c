"""What can still be told of a document with faults in single fields: what it says between them.

A person should need one round: what does not fit together is told with what can not be read. A
field that can not be read is left out for that, as if nobody had stated it, and nothing is told of
the element that it stands in: it may not fit only because the field is gone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from layoutcheck.document.faults import Fault
from layoutcheck.document.models import ELEMENT_LISTS, Layout

# Nothing else hangs on these: one that can not be read is left out whole.
_ALONE = frozenset({"plugs", "waivers"})
_TOLD = frozenset({("work",), ("planning",)})
# Without these, what stands on a pipe may seem to lie beyond it.
_SHAPE = frozenset({"via", "length", "at", "elevation", "from_body", "to_body", "from", "to"})
_DRAWN = frozenset({"junctions", "pipes"})
Place = tuple[str, ...]


def rest_faults(
    data: Mapping[str, Any],
    faults: Iterable[Fault],
    half_read: Sequence[str],
    told: Callable[[Layout, Mapping[str, Any]], Iterable[Fault]],
) -> Iterator[Fault]:
    """Tell what does not fit together in what can be read.

    faults: those of single fields. half_read: places of elements of which a part could not be read.
    told: gives the faults of a whole layout. Nothing where what is left is no layout.
    """
    places = {tuple(f.pointer.split("/")[1:]) for f in faults}
    drawn = isinstance(data.get("drawing"), Mapping) and "scale" in data["drawing"]
    shapeless = drawn and any(p.split("/")[1] in _DRAWN for p in half_read)
    if shapeless or not all(map(_is_part, places)):
        return
    made, numbers = _without(data, places)
    try:
        layout = Layout.model_validate(made)
    except ValidationError:
        return
    unsure = {place[:2] for place in (*places, *(tuple(p.split("/")[1:]) for p in half_read))}
    undrawn = any(place[0] in _DRAWN for place in unsure)
    for fault in told(layout, made):
        steps = fault.pointer.split("/")[1:]
        if undrawn and steps[-1:] == ["point"]:
            continue  # what it is to snap to may be what could not be read
        if len(steps) > 1 and steps[0] in numbers and steps[1].isdigit():
            steps[1] = str(numbers[steps[0]][int(steps[1])])
        if len(steps) > 1 and tuple(steps[:2]) not in unsure and (steps[0],) not in unsure:
            yield fault.model_copy(update={"pointer": "/" + "/".join(steps)})


def _is_part(place: Place) -> bool:
    """Tell whether what stands at a place can be left out, and the rest still be a layout."""
    if len(place) > 1 and place[0] in _ALONE and place[1].isdigit():
        return True
    if len(place) > 2 and place[0] in ELEMENT_LISTS and place[1].isdigit():
        return place[2] not in _SHAPE
    strange = bool(place) and place[0] not in Layout.model_fields
    return strange or place[:1] in _TOLD or (place[:1] == ("site",) and len(place) == 2)


def _without(
    data: Mapping[str, Any], places: Iterable[Place]
) -> tuple[dict[str, Any], dict[str, list[int]]]:
    """Give the document without what stands at some places, and which entries are left of lists."""
    made = dict(data)
    fields: dict[tuple[str, int], set[str]] = defaultdict(set)
    alone: dict[str, set[int]] = defaultdict(set)
    for place in places:
        if place[0] in _ALONE and len(place) > 1:
            alone[place[0]].add(int(place[1]))
        elif place[0] in ELEMENT_LISTS:
            fields[place[0], int(place[1])].add(place[2])
        elif place[0] == "site":
            made["site"] = {k: v for k, v in made["site"].items() if k != place[1]}
        else:
            made.pop(place[0], None)
    for name in {name for name, _ in fields}:
        made[name] = [
            {k: v for k, v in entry.items() if k not in fields.get((name, n), ())}
            if isinstance(entry, Mapping)
            else entry
            for n, entry in enumerate(made[name])
        ]
    numbers = {}
    for name, gone in alone.items():
        numbers[name] = [n for n in range(len(made[name])) if n not in gone]
        made[name] = [made[name][n] for n in numbers[name]]
    return made, numbers
