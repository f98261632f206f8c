"""A right value for each place of the document, so that every fault is told with its mend."""

from __future__ import annotations

import difflib
import json
import re
import types
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from layoutcheck.document.fields import QUANTITY_ERROR
from layoutcheck.document.models import FORMAT, Layout

_EXAMPLES = {
    "format": f'"{FORMAT}"',
    "id": '"P12"',
    "from": '"J1"',
    "to": '"J2"',
    "junctions": '[{"id": "J1", "elevation": "0 ft"}]',
    "pipes": '[{"id": "P1", "from": "J1", "to": "J2", "size": "NPS 2", '
    '"material": "carbon steel", "length": "24 ft 6 in"}]',
    "size": '"NPS 2"',
    "material": '"carbon steel"',
    "jacket": '"12 in"',
    "at": "[120.0, 40.0]",
    "point": "[120.0, 40.0]",
    "via": "[[10, 0], [10, 40]]",
    "until": '"2027-03-31"',
    "duration": '"3 h"',
    "units": '"imperial"',
    "work": '{"open": [{"valve": "V7"}], "duration": "3 h"}',
    "open": '[{"valve": "V7"}]',
    "locked_off": "true",
    "coolant": '"carbon dioxide"',
    "length": '"24 ft 6 in"',
    "station": '"6 in"',
    "tightness": '"proven"',
    "junction": '"J1"',
    "flood_depth": '"4 in"',
    "clear_space": '"12 in"',
    "wall": '"sch 40"',
    "elevation": '"14 ft"',
    "pressure": '"60 psi"',
    "outline": "[[0, 0], [4, 0], [4, 3]]",
    "cylinders": "2",
    "mass_each": '"50 lb"',
    "name": '"Riser 3 east"',
    "scale": '"1 ft"',
    "snap_within": "0.5",
    "coordinate": "40.0",
    "stock": '["8 x 50 lb carbon dioxide, 68 degF"]',
    "rooms": '[{"id": "plant room", "floor_area": "1000 ft2", "height": "15 ft"}]',
    "drawing": '{"kind": "riser"}',
    "site": '{"water_temperature": "60 degF"}',
    "planning": '{"max_plugs": 2}',
    "weights": '{"plug": 10}',
    "plugs": '[{"id": "F1", "pipe": "P1", "station": "8 ft", "jacket": "12 in"}]',
    "waivers": "[]",
}

# The kind of a thing depends on which list it is in.
_KINDS = {
    "drawing": '"riser"',
    "equipment": '"heater"',
    "fittings": '"elbow"',
    "sources": '"main"',
    "valves": '"gate"',
}
_POINTS = {"at", "point", "via", "outline"}
_MEMBERS = {"bool", "float", "int", "str"}
# Fields that people look for under another name.
_MEANT = {
    "at": ("junction", "station"),
    "position": ("station", "at"),
    "location": ("station", "junction"),
    "diameter": ("size",),
    "height": ("elevation",),
    "temperature": ("water_temperature",),
    "depth": ("flood_depth",),
    "stations": ("station",),
    **dict.fromkeys(
        ("heaters", "boilers", "radiators", "coolers", "chillers", "tanks"), ("equipment",)
    ),
    **dict.fromkeys(("taps", "drains", "vents", "bleeds", "leaks"), ("outlets",)),
    **dict.fromkeys(("mains", "supplies", "feeds"), ("sources",)),
    **dict.fromkeys(("nodes", "joints", "tees"), ("junctions",)),
    **dict.fromkeys(("freeze_points", "freezes", "jackets"), ("plugs",)),
}
_METRIC = {
    '"24 ft 6 in"': '"7.5 m"',
    '"12 ft"': '"3.6 m"',
    '"14 ft"': '"4.2 m"',
    '"12 in"': '"300 mm"',
    '"6 in"': '"150 mm"',
    '"4 in"': '"100 mm"',
    '"60 psi"': '"4 bar"',
    '"68 degF"': '"20 degC"',
    '"60 degF"': '"15 degC"',
    '"50 lb"': '"22 kg"',
    '"120 gal"': '"450 L"',
    '"NPS 2"': '"DN 50"',
}
LEAVE_OUT = "leave it out"


def example_of(item: Mapping[str, Any], loc: Sequence[str | int]) -> str:
    """Give a right value for the place of an error of pydantic's, as it is typed there.

    item: the error. loc: its path, from the document.
    """
    context = item.get("ctx", {})
    own = str(context.get("example") or "")
    known = _known(loc)
    if own and not (known and item["type"] == QUANTITY_ERROR):
        quoted = own.startswith(('"', "{", "["))
        as_text = item["type"] in {QUANTITY_ERROR, "text"} and not quoted
        return json.dumps(own, ensure_ascii=False) if as_text else own
    if item["type"] in {"enum", "literal_error"}:
        first = re.match(r"'([^']*)'", str(context.get("expected", "")))
        if first is not None:
            return json.dumps(first[1], ensure_ascii=False)
    return known or "see the schema"


def _known(loc: Sequence[str | int]) -> str:
    """Look the field up by its own name; what stands round it is no example of it."""
    if len(loc) > 1 and isinstance(loc[-1], int) and loc[-2] in _POINTS:
        return "40.0"
    numbers = [n for n, part in enumerate(loc) if isinstance(part, int)]
    inner = loc[numbers[-1] + 1 :] if numbers else loc
    names = [part for part in inner if isinstance(part, str)] or [str(p) for p in loc[:1]]
    if "kind" in names:
        return _KINDS.get(str(loc[0]), "")
    # Of a union pydantic adds which of its members was tried, which is no field.
    own = next((n for n in reversed(names) if n.islower() and n not in _MEMBERS), "")
    return _EXAMPLES.get(own, "")


def misspelt(loc: Sequence[str | int]) -> tuple[str, str]:
    """Say of a field that is not known which one is meant: the problem, and the right name."""
    name = str(loc[-1])
    fields = sorted({f for model in _models_at(loc[:-1]) for f in _names(model)})
    near = [f for f in _MEANT.get(name.lower(), ()) if f in fields]
    near = near or difflib.get_close_matches(name[:100], fields, n=1, cutoff=0.6)
    if not near:
        return f"is not a field here; the fields are {', '.join(fields)}", LEAVE_OUT
    right = " or ".join(json.dumps(n) for n in near)
    return f"is not a field here; is {right} meant?", right


def _names(model: type[BaseModel]) -> Iterator[str]:
    for key, about in model.model_fields.items():
        yield about.alias or key


def _models_at(loc: Sequence[str | int]) -> list[type[BaseModel]]:
    """Give the models that a place of the document may hold. Labels of unions are passed over."""
    models: list[type[BaseModel]] = [Layout]
    for part in loc:
        inner = [
            held
            for model in models
            for key, about in model.model_fields.items()
            if part in {key, about.alias}
            for held in _models_in(about.annotation)
        ]
        models = inner or models
    return models


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:  # noqa: ANN401 - types are values
    origin = get_origin(annotation)
    if origin is Annotated:
        yield from _models_in(get_args(annotation)[0])
    elif origin in {Union, types.UnionType, tuple}:
        for part in get_args(annotation):
            yield from _models_in(part)
    elif isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation


def in_units_of(data: Mapping[str, Any], example: str) -> str:
    """Give an example in the units that a document prefers."""
    return _METRIC.get(example, example) if data.get("units") == "metric" else example
