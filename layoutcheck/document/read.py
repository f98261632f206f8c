"""Read a layout document: every fault at once, each with its place and a right example."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import yaml
from pydantic import ValidationError

from layoutcheck.document.crosscheck import model_faults, reference_faults
from layoutcheck.document.faults import Fault, LayoutFaults, pointer_to, shown
from layoutcheck.document.models import FORMAT, Layout

_MAX_DEPTH = 40

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
    "state": '"closed"',
    "until": '"2027-03-31"',
    "duration": '"3 h"',
    "units": '"imperial"',
    "work": '{"open": [{"valve": "V7"}], "duration": "3 h"}',
    "open": '[{"valve": "V7"}]',
    "locked_off": "true",
    "coolant": '"carbon dioxide"',
    "length": '"24 ft 6 in"',
    "station": '"12 ft"',
    "elevation": '"14 ft"',
    "pressure": '"60 psi"',
    "outline": "[[0, 0], [4, 0], [4, 3]]",
    "cylinders": "2",
    "name": '"Riser 3 east"',
    "kind": '"gate"',
}


# pydantic's type of an error -> its problem in our words, and a right value.
_PLAIN = {
    "bool_type": ("must be true or false, without quotes", "true"),
    "int_type": ("must be a whole number, without quotes", "2"),
    "float_type": ("must be a number, without quotes", "40.0"),
}


def parse_layout(data: object) -> Layout:
    """Turn parsed JSON or YAML into a Layout.

    Raises LayoutFaults with every fault that can be seen in one pass: faults of single fields,
    of references between elements, and (where all fields are sound) of geometry.
    """
    deep = _depth_fault(data)
    if deep is not None:
        raise LayoutFaults([deep])
    if not isinstance(data, Mapping):
        raise LayoutFaults(
            [
                Fault(
                    pointer="",
                    found=shown(data),
                    problem="a layout document is one object with named fields",
                    example='{"format": "layoutcheck layout 1", "name": "…", "junctions": […], …}',
                )
            ]
        )
    faults = reference_faults(data)
    try:
        layout = Layout.model_validate(data)
    except ValidationError as error:
        raise LayoutFaults(_ordered([*faults_of(error, data), *faults])) from None
    if not faults:
        faults = model_faults(layout)
    if faults:
        raise LayoutFaults(_ordered(faults))
    return layout


def read_text(text: str | bytes, *, suffix: str = ".json") -> object:
    """Parse a document's text as JSON, or as YAML where the suffix says so.

    Raises LayoutFaults where the text is not sound, with the line and column.
    """
    try:
        plain = text.decode("utf-8-sig") if isinstance(text, bytes) else text
        if suffix.lower() in {".yaml", ".yml"}:
            data = yaml.load(plain, Loader=_StrictYaml)
        else:
            data = json.loads(plain, object_pairs_hook=_unique, parse_constant=_no_constant)
        _refuse_half_characters(plain, data)
        return data
    except UnicodeDecodeError as error:
        raise _unreadable(f"is not UTF-8 text (byte {error.start})") from None
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise _unreadable(f"is not JSON: {error.msg} at {where}") from None
    except yaml.YAMLError as error:
        raise _unreadable(f"is not YAML: {_first_line(error)}") from None
    except RecursionError:
        raise _unreadable("is nested too deeply") from None
    except ValueError as error:
        raise _unreadable(str(error)) from None


def _refuse_half_characters(text: str, data: object) -> None:
    """Refuse a lone half of a surrogate pair: it can not be written out again as UTF-8."""
    if "\\ud" not in text.lower():  # only such an escape can make one
        return
    try:
        json.dumps(data, ensure_ascii=False, default=str).encode()
    except UnicodeEncodeError:
        raise ValueError("holds half of a character (a lone surrogate)") from None


def _first_line(error: Exception) -> str:
    mark = getattr(error, "problem_mark", None)
    where = f" at line {mark.line + 1}, column {mark.column + 1}" if mark is not None else ""
    return shown(getattr(error, "problem", None) or "syntax", 120) + where


def _unreadable(problem: str) -> LayoutFaults:
    fault = Fault(
        pointer="",
        found="the text as a whole",
        problem="the text " + problem,
        example='{"format": "layoutcheck layout 1", "name": "…", "junctions": […], …}',
    )
    return LayoutFaults([fault])


class _StrictYaml(yaml.SafeLoader):
    """YAML without repeated keys and without aliases, which can make a small file huge."""

    def compose_node(self, parent: Any, index: Any) -> Any:  # noqa: ANN401 - yaml's own types
        if self.check_event(yaml.events.AliasEvent):
            raise ValueError("uses a YAML alias, which is not read")
        return super().compose_node(parent, index)

    def construct_mapping(self, node: Any, deep: bool = False) -> dict[Any, Any]:  # noqa: ANN401, FBT001, FBT002
        keys = [self.construct_object(k, deep=True) for k, _ in node.value]
        for key in keys:
            if not isinstance(key, str):
                raise ValueError(f"has a field name that is not a text: {shown(key, 40)}")
        if len(set(keys)) != len(keys):
            twice = next(k for k in keys if keys.count(k) > 1)
            raise ValueError(f"has the field {shown(twice, 40)!r} twice in one object")
        return super().construct_mapping(node, deep)


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise ValueError(f"has the field {shown(key, 40)!r} twice in one object")
        made[key] = value
    return made


def _no_constant(name: str) -> float:
    raise ValueError(f"holds {name}, which is not a number")


def _depth_fault(data: object) -> Fault | None:
    layer: list[object] = [data]
    for _ in range(_MAX_DEPTH):
        nested: list[object] = []
        for value in layer:
            if isinstance(value, Mapping):
                nested.extend(v for v in value.values() if isinstance(v, Mapping | list))
            elif isinstance(value, list):
                nested.extend(v for v in value if isinstance(v, Mapping | list))
        if not nested:
            return None
        layer = nested
    return Fault(
        pointer="",
        found="deeper nesting",
        problem=f"is nested more than {_MAX_DEPTH} levels deep",
        example="a document like the ones in fixtures/",
    )


def faults_of(error: ValidationError, data: object) -> list[Fault]:
    """Turn pydantic's errors over some data into faults, one for each place."""
    faults: dict[str, Fault] = {}
    for item in error.errors(include_url=False):
        where, found = _walk(data, item["loc"])
        if item["type"] == "too_short" and _long_enough(item, found):
            continue  # its entries are there, and are refused one by one
        pointer = pointer_to(*where)
        missing = item["type"] == "missing"
        if missing:
            pointer = pointer_to(*where, item["loc"][-1])
        problem, example = _in_words(item, missing=missing)
        # A union reports once for each of its members; the first names the place well enough.
        faults.setdefault(
            pointer,
            Fault(
                pointer=pointer,
                found="nothing" if missing else shown(found),
                problem=problem,
                example=example,
            ),
        )
    return list(faults.values())


def _long_enough(item: Mapping[str, Any], found: object) -> bool:
    """Tell whether a list has entries enough, so that it only seems short of sound ones."""
    return isinstance(found, list) and len(found) >= item.get("ctx", {}).get("min_length", 0)


def _in_words(item: Mapping[str, Any], *, missing: bool) -> tuple[str, str]:
    context = item.get("ctx", {})
    names = [p for p in item["loc"] if isinstance(p, str)]
    example = str(context.get("example") or "")
    if not example:
        known = (n for n in reversed(names) if n in _EXAMPLES)
        example = _EXAMPLES.get(next(known, ""), "see the schema")
    if missing:
        return "is required and is not there", example
    if item["type"] == "extra_forbidden":
        return "is not a field of this object; is its name spelled right?", "leave it out"
    if item["type"] in {"enum", "literal_error"}:
        return f"must be one of {context.get('expected', '')}", example
    if item["type"] == "too_short":
        least = context.get("min_length")
        return f"needs at least {'one entry' if least == 1 else f'{least} entries'}", example
    if item["type"] in {"model_type", "dataclass_type", "model_attributes_type"}:
        return "must be an object with named fields", example
    if item["type"] in _PLAIN:
        problem, right = _PLAIN[item["type"]]
        return problem, right if example == "see the schema" else example
    return str(item["msg"]), example


def _walk(data: object, loc: Sequence[str | int]) -> tuple[list[str | int], object]:
    """Follow an error's path as far as the document has it; union labels are left out."""
    where: list[str | int] = []
    here = data
    for part in loc:
        if isinstance(here, Mapping):
            if part not in here:
                continue
            here = here[part]
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
        else:
            continue
        where.append(part)
    return where, here


def _ordered(faults: list[Fault]) -> list[Fault]:
    def key(fault: Fault) -> list[tuple[int, int, str]]:
        parts = fault.pointer.split("/")[1:]
        return [(0, int(p), "") if p.isdigit() else (1, 0, p) for p in parts]

    return sorted(faults, key=key)
