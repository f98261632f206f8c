"""Elements that are named by their id in the source model: by an IFC GlobalId, say.

Whoever works in the model knows an element by that. Wherever a document names another element by
its id, the element's "ref" does as well, as long as it is that of one element alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from layoutcheck.document.models import ELEMENT_LISTS, Layout

# Fields that name an element, with the list that it stands in.
REFERENCES = {
    "from": "junctions",
    "to": "junctions",
    "junction": "junctions",
    "pipe": "pipes",
    "valve": "valves",
    "pump": "pumps",
}


def with_own_ids(data: Mapping[str, Any]) -> Mapping[str, Any]:
    """Give a raw document in which elements that are named by their ref are named by their id.

    A ref of several elements stays as it is: which of them is meant would be a guess.
    """
    names = {name: _names(data.get(name)) for name in ELEMENT_LISTS}
    if not any(names.values()):
        return data
    made = dict(data)
    for name in ELEMENT_LISTS:
        if isinstance(made.get(name), list):
            made[name] = [_named(item, names) for item in made[name]]
    work = made.get("work")
    if isinstance(work, Mapping) and isinstance(work.get("open"), list):
        made["work"] = {**work, "open": [_named(item, names) for item in work["open"]]}
    planning = made.get("planning")
    if isinstance(planning, Mapping) and isinstance(planning.get("keep_in_service"), list):
        kept = [_own(names["outlets"], value) for value in planning["keep_in_service"]]
        made["planning"] = {**planning, "keep_in_service": kept}
    if isinstance(made.get("waivers"), list):
        every = _together(list(names.values()))
        made["waivers"] = [_subject(item, every) for item in made["waivers"]]
    return made


def own_id(layout: Layout, text: str) -> str:
    """Give the id of the element that a text names by its ref; else the text as it is."""
    found: dict[str, set[str]] = defaultdict(set)
    for name in ELEMENT_LISTS:
        for element in getattr(layout, name):
            if getattr(element, "ref", None) is not None:
                found[element.ref].add(element.id)
    ids = found.get(text, set())
    return next(iter(ids)) if len(ids) == 1 else text


def _names(items: object) -> dict[str, str]:
    """Give the id of each element by its ref, where that is no id itself and of one alone."""
    rows = [item for item in items if isinstance(item, Mapping)] if isinstance(items, list) else []
    ids = {item.get("id") for item in rows if isinstance(item.get("id"), str)}
    found: dict[str, set[str]] = defaultdict(set)
    for item in rows:
        ref, own = item.get("ref"), item.get("id")
        if isinstance(ref, str) and isinstance(own, str) and ref not in ids:
            found[ref].add(own)
    return {ref: next(iter(own)) for ref, own in found.items() if len(own) == 1}


def _together(names: Sequence[Mapping[str, str]]) -> dict[str, str]:
    """Give the ids by ref over all lists: what stands at a junction has the junction's id."""
    found: dict[str, set[str]] = defaultdict(set)
    for one in names:
        for ref, own in one.items():
            found[ref].add(own)
    return {ref: next(iter(own)) for ref, own in found.items() if len(own) == 1}


def _named(item: object, names: Mapping[str, Mapping[str, str]]) -> object:
    if not isinstance(item, Mapping):
        return item
    changed = {
        field: _own(names[place], item[field])
        for field, place in REFERENCES.items()
        if field in item
    }
    return {**item, **changed}


def _subject(item: object, names: Mapping[str, str]) -> object:
    if not isinstance(item, Mapping) or "subject" not in item:
        return item
    return {**item, "subject": _own(names, item["subject"])}


def _own(names: Mapping[str, str], value: object) -> object:
    return names.get(value, value) if isinstance(value, str) else value
