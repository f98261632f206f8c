"""Read a layout document: every fault at once, each with its place and a right example."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import chain, islice
from typing import Any

import yaml
from pydantic import TypeAdapter, ValidationError

from layoutcheck.document.by_ref import with_own_ids
from layoutcheck.document.contradictions import contradictions
from layoutcheck.document.crosscheck import known_id, model_faults, reference_faults
from layoutcheck.document.examples import example_of, in_units_of, misspelt
from layoutcheck.document.faults import (
    MOST_FAULTS,
    Fault,
    LayoutFaults,
    at_most,
    pointer_to,
    shown,
)
from layoutcheck.document.models import ELEMENT_LISTS, Layout
from layoutcheck.document.odd_units import odd_units
from layoutcheck.document.salvage import rest_faults
from layoutcheck.document.short import LongForm, long_form

_MAX_DEPTH = 40
# No object of a document has so many fields, and no list so many entries: a million pipes fit.
MOST_FIELDS = 100
MOST_ENTRIES = 4_000_000
# Lists inside an element, such as the corners of a drawn path.
MOST_INNER_ENTRIES = 20_000
# Documents larger than this (values) are read in parts, so that a million faults are not made.
_LARGE = 50_000
# YAML is read at some 100 kB a second: it is for what people write by hand.
LARGEST_YAML = 1_000_000

# pydantic's type of an error -> its problem in our words, and a right value.
_PLAIN = {
    "bool_type": ("must be true or false, without quotes", "true"),
    "int_type": ("must be a whole number, without quotes", "2"),
    "float_type": ("must be a number, without quotes", "40.0"),
    "finite_number": ("must be a number that is not endless", "40.0"),
    "string_type": ("must be a text, in quotes", '"text"'),
    "tuple_type": ("must be a list", "[]"),
    "list_type": ("must be a list", "[]"),
    "dict_type": ("must be an object with named fields", "{{}}"),
    "string_too_long": ("is longer than {max_length} characters", '"text"'),
    "string_too_short": ("is shorter than {min_length} characters", '"text"'),
    "too_long": ("has more than {max_length} entries", "fewer of them"),
    "less_than_equal": ("must not be more than {le:g}", "{le:g}"),
    "greater_than_equal": ("must not be less than {ge:g}", "{ge:g}"),
    "less_than": ("must be less than {lt:g}", "less than {lt:g}"),
    "greater_than": ("must be more than {gt:g}", "more than {gt:g}"),
}


def parse_layout(data: object) -> Layout:
    """Turn parsed JSON or YAML into a Layout.

    Raises LayoutFaults with every fault that can be seen in one pass: faults of single fields,
    of references between elements, and (where these are sound) of geometry, also beside fields that
    can not be read. Past a thousand faults the rest is not told. The short form is read as well.
    """
    values = refuse_excess(data)
    made = long_form(data)
    data = made.data
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
    data = with_own_ids(data)
    layout, faults = _fields_of(data, values)
    named = list(islice(reference_faults(data), MOST_FAULTS + 1))
    if layout is not None and not faults and not made.faults and not named:
        faults += islice(_told_of_whole(layout, data), MOST_FAULTS + 1)
    elif not named and values <= _LARGE:
        rest = rest_faults(data, list(faults), made.half_read(), _told_of_whole)
        faults += islice(rest, MOST_FAULTS + 1)
    faults += named
    faults = _as_typed(made, [_with_right_example(fault, data) for fault in faults])
    if layout is None or faults:
        raise LayoutFaults(at_most(_ordered(faults)))
    return layout.with_odd_units(odd_units(data))


def _told_of_whole(layout: Layout, data: Mapping[str, Any]) -> Iterator[Fault]:
    """Give what does not fit together, of references and geometry, and statements that differ."""
    return chain(model_faults(layout), contradictions(layout, data))


def _with_right_example(fault: Fault, data: Mapping[str, Any]) -> Fault:
    """Give a fault with an example that fits this document: its own ids, its own units."""
    field = fault.pointer.rpartition("/")[2]
    example = known_id(data, field, fault.example) or in_units_of(data, fault.example)
    return fault if example == fault.example else fault.model_copy(update={"example": example})


def _as_typed(made: LongForm, faults: Sequence[Fault]) -> list[Fault]:
    """Tell faults where they were typed: once each, and of a text that was not read no others."""
    unread = {fault.pointer for fault in made.faults}
    found = {(fault.pointer, fault.problem): fault for fault in made.faults}
    for fault in map(made.at_typed_place, faults):
        if fault.pointer not in unread:
            found.setdefault((fault.pointer, fault.problem), fault)
    return list(found.values())


def _fields_of(data: Mapping[str, Any], values: int) -> tuple[Layout | None, list[Fault]]:
    """Read every field; give the layout, or the faults of its fields."""
    if values > _LARGE:
        return _fields_in_parts(data)
    try:
        return Layout.model_validate(data), []
    except ValidationError as error:
        return None, faults_of(error, data)


def _fields_in_parts(data: Mapping[str, Any]) -> tuple[Layout | None, list[Fault]]:
    """Read the fields of a large document a part at a time, and stop when enough is wrong."""
    faults: list[Fault] = []
    done: dict[str, Any] = dict(data)
    for name in ELEMENT_LISTS:
        entries = data.get(name)
        if not isinstance(entries, list):
            continue
        part_of = _adapter(name)
        sound: list[Any] = []
        start = 0
        for part in _parts(entries):
            if len(faults) <= MOST_FAULTS:
                try:
                    sound += part_of.validate_python(part)
                except ValidationError as error:
                    faults += faults_of(error, part, under=(name,), start=start)
            start += len(part)
        done[name] = sound
    try:
        return Layout.model_validate(done), faults
    except ValidationError as error:
        rest = faults_of(error, done)
        known = {f"/{name}" for name in ELEMENT_LISTS} if faults else set()
        return None, faults + [f for f in rest if f.pointer not in known]


@cache
def _adapter(name: str) -> TypeAdapter[Any]:
    kind: Any = Layout.model_fields[name].annotation
    return TypeAdapter(kind)


def _parts(entries: list[Any]) -> Iterator[list[Any]]:
    """Cut a list into parts of some ten thousand values each."""
    part: list[Any] = []
    weight = 0
    for entry in entries:
        part.append(entry)
        weight += 1 + _weight(entry)
        if weight > _LARGE // 5:
            yield part
            part, weight = [], 0
    if part:
        yield part


def _weight(entry: object) -> int:
    if not isinstance(entry, Mapping):
        return 1
    return len(entry) + sum(len(v) for v in entry.values() if isinstance(v, list | Mapping))


def read_text(text: str | bytes, *, suffix: str = ".json") -> object:
    """Parse a document's text as JSON, or as YAML where the suffix says so.

    Raises LayoutFaults where the text is not sound, with the line and column.
    """
    try:
        plain = text.decode("utf-8-sig") if isinstance(text, bytes) else text
        if suffix.lower() in {".yaml", ".yml"}:
            if len(plain) > LARGEST_YAML:
                size = f"{LARGEST_YAML // 1_000_000} MB"
                raise ValueError(f"is larger than the {size} of YAML that are read; write JSON")
            data = yaml.load(plain, Loader=_StrictYaml)
        else:
            data = json.loads(
                plain,
                object_pairs_hook=_unique,
                parse_constant=_no_constant,
                parse_int=_whole,
                parse_float=_number,
            )
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
    except _NameFault as error:
        raise LayoutFaults([error.fault]) from None
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

    def construct_scalar(self, node: Any) -> Any:  # noqa: ANN401 - yaml's own types
        # 012 would be read as ten, and 010.5 is more often a slip than ten and a half.
        number = node.tag in {"tag:yaml.org,2002:int", "tag:yaml.org,2002:float"}
        if number and node.style is None and re.match(r"[-+]?0[0-9_]", node.value):
            raise ValueError(f"holds {shown(node.value, 40)}: write the number without its zero")
        return super().construct_scalar(node)

    def construct_mapping(self, node: Any, deep: bool = False) -> dict[Any, Any]:  # noqa: ANN401, FBT001, FBT002
        keys = [self.construct_object(k, deep=True) for k, _ in node.value]
        for key, (written, _) in zip(keys, node.value, strict=True):
            if not isinstance(key, str):
                raise _NameFault(_name_fault(key, written))
        if len(set(keys)) != len(keys):
            twice = next(k for k in keys if keys.count(k) > 1)
            raise ValueError(f"has the field {shown(twice, 40)!r} twice in one object")
        return super().construct_mapping(node, deep)


class _NameFault(ValueError):
    """A field's name that YAML reads as something else than a text."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.problem)
        self.fault = fault


def _name_fault(key: object, node: yaml.Node) -> Fault:
    """Say where a field's name is no text, and how it is written so that it is one."""
    scalar = isinstance(node, yaml.ScalarNode)
    word = shown(node.value, 40) if scalar else "name"
    problem = f"line {node.start_mark.line + 1} of the text has the field name {word}"
    if not scalar:
        problem += ", which is not a text"
    elif isinstance(key, bool):
        problem += ", and YAML reads on, off, yes and no as true and false"
    else:
        problem += f", which YAML reads as {shown(key, 40)}, not as a text"
    return Fault(
        pointer="",
        found=f"{word}:" if scalar else shown(key, 40),
        problem=f"{problem}: write it in quotes, or choose another name",
        example=f'"{word}": …',
    )


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise ValueError(f"has the field {shown(key, 40)!r} twice in one object")
        made[key] = value
    return made


def _no_constant(name: str) -> float:
    raise ValueError(f"holds {name}, which is not a number")


def _whole(text: str) -> int:
    if len(text) > _LONGEST_NUMBER:
        raise ValueError(f"holds a number of {len(text)} digits")
    return int(text)


def _number(text: str) -> float:
    number = float(text)
    if math.isinf(number):
        raise ValueError(f"holds {shown(text, 40)}, which is too large a number")
    return number


_LONGEST_NUMBER = 400


def refuse_excess(data: object) -> int:
    """Count the values of a document. Raises LayoutFaults where it is too deep or too large.

    Only the first excess is told: what lies below it is not looked at.
    """
    layer: list[object] = [data]
    values = 0
    for depth in range(_MAX_DEPTH):
        most = MOST_ENTRIES if depth < _ELEMENTS_AT else MOST_INNER_ENTRIES
        nested: list[object] = []
        for value in layer:
            if isinstance(value, Mapping):
                fields = MOST_INNER_ENTRIES if depth == _SHORT_LISTS_AT else MOST_FIELDS
                if len(value) > fields:
                    raise _excess(f"an object of {len(value)} fields", f"{fields} fields")
                values += len(value)
                nested.extend(v for v in value.values() if isinstance(v, Mapping | list))
            elif isinstance(value, list):
                if len(value) > most:
                    raise _excess(f"a list of {len(value)} entries", f"{most} entries here")
                values += len(value)
                nested.extend(v for v in value if isinstance(v, Mapping | list))
        if not nested:
            return values
        layer = nested
    raise _excess("deeper nesting", f"{_MAX_DEPTH} levels of nesting")


# In the short form a list of elements is an object, at this depth: /pipes.
_SHORT_LISTS_AT = 1
# Lists of elements stand at this depth or above it: /pipes, /site/rooms, /work/open.
_ELEMENTS_AT = 3


def _excess(found: str, most: str) -> LayoutFaults:
    fault = Fault(
        pointer="",
        found=found,
        problem=f"has more than {most}",
        example="a document like the ones in fixtures/",
    )
    return LayoutFaults([fault])


def faults_of(
    error: ValidationError, data: object, *, under: tuple[str, ...] = (), start: int = 0
) -> list[Fault]:
    """Turn pydantic's errors over some data into faults, one for each place.

    under, start: where the data is a part of a list, the place of the list, and of the part in it.
    """
    faults: dict[str, Fault] = {}
    for item in error.errors(include_url=False):
        where, found = _walk(data, item["loc"])
        if item["type"] == "too_short" and _long_enough(item, found):
            continue  # its entries are there, and are refused one by one
        missing = item["type"] == "missing"
        if missing:
            where.append(item["loc"][-1])
        if under and where:
            where = [*under, start + int(where[0]), *where[1:]]
        pointer = pointer_to(*where)
        # A union reports once for each of its members; the first names the place well enough.
        if pointer not in faults:
            problem, example = _in_words(item, (*under, *item["loc"]))
            told = "nothing" if missing else shown(found)
            faults[pointer] = Fault(pointer=pointer, found=told, problem=problem, example=example)
    return list(faults.values())


def _long_enough(item: Mapping[str, Any], found: object) -> bool:
    """Tell whether a list has entries enough, so that it only seems short of sound ones."""
    return isinstance(found, list) and len(found) >= item.get("ctx", {}).get("min_length", 0)


def _in_words(item: Mapping[str, Any], loc: Sequence[str | int]) -> tuple[str, str]:
    context = item.get("ctx", {})
    example = example_of(item, loc)
    if item["type"] == "missing":
        return "is required and is not there", example
    if item["type"] == "extra_forbidden":
        return misspelt(loc)
    if item["type"] in {"enum", "literal_error"}:
        return f"must be one of {context.get('expected', '')}", example
    if item["type"] == "too_short":
        least = context.get("min_length")
        return f"needs at least {'one entry' if least == 1 else f'{least} entries'}", example
    if item["type"] in {"model_type", "dataclass_type", "model_attributes_type"}:
        return "must be an object with named fields", example
    if item["type"] in _PLAIN:
        problem, right = (words.format(**context) for words in _PLAIN[item["type"]])
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
