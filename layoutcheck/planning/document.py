"""A plan as a complete layout document: the given one with states and plugs of the plan.

A plan settles what is to be done, so its document states it as done: a valve that the plan closes
is 'closed', and one it leans on is 'proven'. That is a promise, not a fact: each such valve is
listed beside the document with the proof that must be made before any cylinder is opened. Without
the proof the document must not be used.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from typing import Any

from layoutcheck.document.models import Layout
from layoutcheck.document.odd_units import odd_units
from layoutcheck.planning.elements import OUTLET_KINDS, Element, Kind
from layoutcheck.quantities import UnitSystem
from layoutcheck.rules.case import PlacedPlug

Document = dict[str, Any]


def data_of(layout: Layout) -> Document:
    """Write a layout out as a document, with SI quantities."""
    return layout.model_dump(mode="json", by_alias=True, exclude_defaults=True) | {
        "format": layout.format
    }


def plan_document(
    data: Mapping[str, Any],
    chosen: Iterable[Element],
    plugs: Iterable[PlacedPlug],
    *,
    units: UnitSystem,
) -> Document:
    """Give the document of a plan; the given one is left as it is.

    data: the document as parsed JSON. Its marks and waivers are replaced: a plan needs no waiver.
    """
    made: Document = copy.deepcopy(dict(data))
    for element in chosen:
        _settle(made, element)
    made.pop("waivers", None)
    made["plugs"] = [_plug(p, units, made) for p in plugs]
    if not made["plugs"]:
        del made["plugs"]
    _answer_units(made, data)
    return made


def mended_document(
    data: Mapping[str, Any],
    chosen: Iterable[Element],
    plugs: Iterable[tuple[PlacedPlug, str]],
    *,
    units: UnitSystem,
) -> Document:
    """Give the document with marks elsewhere and more done; the given one is left as it is.

    plugs: those that move or are new, each with its station as it is printed. Waivers stay.
    """
    made: Document = copy.deepcopy(dict(data))
    for element in chosen:
        _settle(made, element)
    rows: dict[str, Document] = {row["id"]: row for row in made.get("plugs") or ()}
    for plug, station in plugs:
        old = rows.get(plug.id)
        place: Document = {"pipe": plug.pipe, "station": station}
        kept = _plug(plug, units, made) if old is None else {**old}
        kept.pop("point", None)
        rows[plug.id] = kept | place
    made["plugs"] = list(rows.values())
    _answer_units(made, data)
    return made


def _answer_units(made: Document, given: Mapping[str, Any]) -> None:
    """Say that units are meant where what is written here is in others than what was given.

    What was odd before stays a question.
    """
    said = made.get("meant", ())
    words = [said] if isinstance(said, str) else list(said)
    if not odd_units(made):
        _unsay(made, "units")
    elif "units" not in words and not odd_units(given):
        made["meant"] = [*words, "units"]


def _settle(made: Document, element: Element) -> None:
    if element.kind is Kind.PLUG:
        return
    if element.kind in {Kind.CLOSE, Kind.PROVE}:
        row = _row(made, "valves", element.id)
        row["tightness"] = "proven"
        if element.kind is Kind.CLOSE:
            row["state"] = "closed"
            _unsay(row, "tightness")
        return
    if element.kind in OUTLET_KINDS:
        row = _row(made, "outlets", element.id)
        row["state"] = _outlet_state(element.kind, row.get("state"))
        return
    name = "pumps" if element.kind is Kind.LOCK_PUMP else "equipment"
    _row(made, name, element.id)["locked_off"] = True


def _unsay(row: Document, word: str) -> None:
    """Take a word out of what a thing's row says is meant: it answers nothing any more."""
    said = row.get("meant", ())
    left = [w for w in ([said] if isinstance(said, str) else said) if w != word]
    row.pop("meant", None)
    row |= {"meant": left} if left else {}


def _row(made: Document, name: str, own: str) -> Document:
    row: Document = next(r for r in made[name] if r["id"] == own)
    return row


def _outlet_state(kind: Kind, before: object) -> object:
    if kind is Kind.LOCK_OUTLET:
        return "locked off"
    state = "bleed" if kind is Kind.BLEED_OUTLET else "kept open"
    working = before.get("working") if isinstance(before, Mapping) else before
    return {"freezing": state} | ({} if working is None else {"working": working})


def _plug(plug: PlacedPlug, units: UnitSystem, made: Document) -> Document:
    row: Document = {
        "id": plug.id,
        "pipe": plug.pipe,
        "station": written_length(plug.station, units),
        "jacket": written_length(plug.jacket, units),
        "coolant": plug.coolant.value,
    }
    marked: Document = next((p for p in made.get("plugs") or () if p.get("id") == plug.id), {})
    return row | ({"name": marked["name"]} if "name" in marked else {})


def written_length(metres: float, units: UnitSystem) -> str:
    """Write a length (m) so that it reads back as the same length within a nanometre."""
    if units is UnitSystem.IMPERIAL:
        inches = metres / 0.0254
        near = round(inches * 16) / 16
        if abs(near - inches) < 1e-7:
            return f"{near:g} in" if near < 1e5 else f"{near!r} in"
        return f"{round(inches, 9)!r} in"
    return f"{round(metres, 9)!r} m"
