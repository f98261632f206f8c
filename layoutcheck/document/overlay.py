"""Statements laid over a layout: facts kept apart from the model that it was read from.

An overlay has the shape of a layout with only what is to be stated in it. Objects are merged field
by field, elements by their id (or their ref, the id in the source model). Under the id '*' stands
what holds for every element of a list that does not state it itself. A single statement
(`pipes.P4.material=copper`) is a small overlay.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Iterator, Mapping
from typing import Any

from layoutcheck.document.faults import Fault, LayoutFaults, pointer_to, shown
from layoutcheck.document.models import ELEMENT_LISTS
from layoutcheck.document.read import read_text
from layoutcheck.document.short import long_form

Data = dict[str, Any]

EVERY = "*"
# An element of these can not be made by an overlay: it would hang in the air.
_GIVEN = frozenset({"junctions", "pipes", "fittings"})
# What counts as not stated, besides nothing at all.
_NOT_STATED = (None, "unknown")
_EXAMPLE = "site.water_temperature=60 degF"
_LISTS_OF_SITE = ("rooms", "obstructions")


def statement(text: str) -> Data:
    """Read one statement, 'pipes.*.material=carbon steel', as an overlay. Raises LayoutFaults."""
    path, sign, value = text.partition("=")
    parts = _parts(path.strip())
    if not sign or not parts or not all(parts):
        raise _refused(text, "is no statement: it needs a field, '=' and a value", _EXAMPLE)
    found: Any = read_text(f"value: {value.strip()}", suffix=".yaml") if value.strip() else None
    overlay: Any = found["value"] if isinstance(found, Mapping) else found
    for part in reversed(parts):
        overlay = {part: overlay}
    return dict(overlay)


def _parts(path: str) -> list[str]:
    """Split a path into fields and ids; an id may have dots in it, a field has none."""
    head, _, rest = path.partition(".")
    if head == "site" and rest.partition(".")[0] in _LISTS_OF_SITE:
        name, _, inner = rest.partition(".")
        return [head, name, *_element_parts(inner)]
    return [head, *_element_parts(rest)] if head in ELEMENT_LISTS else path.split(".")


def _element_parts(rest: str) -> list[str]:
    own, dot, field = rest.rpartition(".")
    if not dot:
        return [rest] if rest else []
    deeper, dot, last = own.rpartition(".")
    if dot and last in {"state", "locked_off"}:  # state.freezing
        return [deeper, last, field]
    return [own, field]


def laid_over(data: Mapping[str, Any], overlays: list[Mapping[str, Any]]) -> Data:
    """Give a document, in its long form, with overlays laid over it, one after the other.

    A document that can not be written out long is given back as it is: its own faults come first.
    Raises LayoutFaults for elements that the document does not have.
    """
    written = long_form(data)
    if not overlays or written.faults or not isinstance(written.data, dict):
        return dict(data)
    made = copy.deepcopy(written.data)
    faults: list[Fault] = []
    for overlay in overlays:
        for name, value in overlay.items():
            if name in ELEMENT_LISTS:
                made[name] = _elements(made.get(name), value, (name,), faults)
            elif name == "site" and isinstance(value, Mapping):
                made[name] = _site(made.get(name), value, faults)
            else:
                made[name] = _merged(made.get(name), value)
    if faults:
        raise LayoutFaults(faults)
    return made


def _site(base: object, over: Mapping[str, Any], faults: list[Fault]) -> Data:
    made = dict(base) if isinstance(base, Mapping) else {}
    for name, value in over.items():
        if name in _LISTS_OF_SITE:
            made[name] = _elements(made.get(name), value, ("site", name), faults)
        elif name == "stock" and _by_number(made.get(name), value):
            stock = enumerate(made[name])
            made[name] = [_merged(item, value.get(str(n), {})) for n, item in stock]
        else:
            made[name] = _merged(made.get(name), value)
    return made


def _by_number(base: object, over: object) -> bool:
    """Tell whether an overlay speaks of the entries of a list by their numbers, from 0."""
    if not isinstance(base, list) or not isinstance(over, Mapping):
        return False
    return all(key.isdigit() and int(key) < len(base) for key in map(str, over))


def _merged(base: object, over: object) -> object:
    """Lay a value over another: objects field by field, anything else as a whole."""
    if not isinstance(base, Mapping) or not isinstance(over, Mapping):
        return copy.deepcopy(over)
    made = dict(base)
    for name, value in over.items():
        if value is None:
            made.pop(name, None)
        else:
            made[name] = _merged(made.get(name), value)
    return made


def _elements(
    base: object, over: object, where: tuple[str, ...], faults: list[Fault]
) -> list[object]:
    """Lay elements over a list of them."""
    made: list[Any] = list(base) if isinstance(base, list) else []
    for own, fields in _rows(over):
        if own == EVERY:
            made = [_filled(e, fields) for e in made]
            continue
        at = next((i for i, e in enumerate(made) if _is_called(e, own)), None)
        if at is not None:
            made[at] = _merged(made[at], {k: v for k, v in fields.items() if k != "id"})
        elif where[-1] in _GIVEN:
            faults.append(_strange(where, own, made))
        else:
            made.append(dict(fields) | {"id": own})
    return made


def _rows(over: object) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Give the elements of an overlay, whether it has them as a list or by id."""
    if isinstance(over, Mapping):
        yield from ((str(k), v if isinstance(v, Mapping) else {}) for k, v in over.items())
        return
    for item in over if isinstance(over, list) else ():
        if isinstance(item, Mapping):
            yield str(item.get("id", item.get("ref", ""))), item


def _filled(element: object, fields: Mapping[str, Any]) -> object:
    """State what an element does not state itself."""
    if not isinstance(element, Mapping):
        return element
    new = {k: v for k, v in fields.items() if k != "id" and element.get(k) in _NOT_STATED}
    return {**element, **copy.deepcopy(new)}


def _is_called(element: object, own: str) -> bool:
    return isinstance(element, Mapping) and own in (element.get("id"), element.get("ref"))


def _strange(where: tuple[str, ...], own: str, made: list[Any]) -> Fault:
    ids = [str(e["id"]) for e in made if isinstance(e, Mapping) and "id" in e]
    near = difflib.get_close_matches(own, ids, n=3, cutoff=0.0)
    return Fault(
        pointer=pointer_to(*where, own),
        found=shown(own),
        problem=f"names one of the {where[-1]} that the layout does not have",
        example=", ".join(near) or f"an id of the {where[-1]}",
    )


def _refused(found: str, problem: str, example: str) -> LayoutFaults:
    return LayoutFaults([Fault(pointer="", found=shown(found), problem=problem, example=example)])
