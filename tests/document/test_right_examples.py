"""Put where the fault was, every example ends that fault: each field missing, misspelt, wrong."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import Fault, LayoutFaults, parse_layout
from layoutcheck.document.examples import LEAVE_OUT
from tests.sizes import WHOLE

ROOT = Path(__file__).parents[2]
SITES = ("plant-room-sketch", "metric-block-sketch", "chilled-loop-sketch")
WRONG: tuple[Any, ...] = (5, "zebra", [], {}, True, None)
# Where no value at the place alone can be right: the document has nothing to name, or two
# statements contradict each other, and both are named.
NO_ONE_VALUE = ("an id that is in the document", 'no "scale"')
# By default one slip in so many, which is not a divisor of the slips at one place.
STRIDE = 1 if WHOLE else 5
Path_ = tuple[str | int, ...]


def statements(value: Any, path: Path_ = ()) -> Iterator[Path_]:
    inner: Any = ()
    if isinstance(value, dict):
        inner = value.items()
    elif isinstance(value, list):
        inner = enumerate(value)
    for key, part in inner:
        yield (*path, key)
        yield from statements(part, (*path, key))


def kinds(document: dict[str, Any], seen: set[Path_]) -> Iterator[Path_]:
    """Give one statement of each kind, by its place without numbers."""
    for path in statements(document):
        kind = tuple("#" if isinstance(step, int) else step for step in path)
        if kind not in seen and isinstance(path[-1], str):
            seen.add(kind)
            yield path


def at(document: Any, path: Path_) -> Any:
    for step in path:
        document = document[step]
    return document


def faults_of(document: dict[str, Any]) -> tuple[Fault, ...]:
    try:
        parse_layout(document)
    except LayoutFaults as error:
        return error.faults
    return ()


def slips(document: dict[str, Any], path: Path_) -> Iterator[tuple[str, dict[str, Any]]]:
    *steps, last = path
    for name in ("missing", "misspelt", *map(repr, WRONG)):
        changed = copy.deepcopy(document)
        parent = at(changed, tuple(steps))
        value = parent.pop(last)
        if name == "misspelt":
            parent[f"{last}e"] = value
        elif name != "missing":
            parent[last] = next(w for w in WRONG if repr(w) == name)
        yield name, changed


def mended(document: dict[str, Any], fault: Fault) -> dict[str, Any] | None:
    """Do what a person would with an example; None where it says that no one value is right."""
    made = copy.deepcopy(document)
    path = [s.replace("~1", "/").replace("~0", "~") for s in fault.pointer.split("/")[1:]]
    steps: Path_ = tuple(int(s) if s.isdigit() else s for s in path)
    parent = at(made, steps[:-1])
    if fault.example.startswith(NO_ONE_VALUE):
        return None
    if "is not a field here" in fault.problem:
        value = parent.pop(steps[-1])
        if fault.example != LEAVE_OUT:
            parent[json.loads(fault.example.split(" or ")[0])] = value
        return made
    try:
        parent_value = json.loads(fault.example)
    except json.JSONDecodeError:  # fields for the object, or for the one that holds the field
        fields = json.loads("{" + fault.example.split("  or  ")[0] + "}")
        target = parent[steps[-1]] if isinstance(at(made, steps), dict) else parent
        for name in {"junction", "pipe", "station", "point"} & set(target):
            del target[name]
        target.update(fields)
        return made
    if isinstance(parent, list):
        parent += [parent_value] * (int(steps[-1]) + 1 - len(parent))
        parent[int(steps[-1])] = parent_value
    else:
        parent[steps[-1]] = parent_value
    return made


def test_every_example_ends_its_fault() -> None:
    left, tried, turn = [], 0, 0
    seen: set[Path_] = set()
    for site in SITES:
        document = json.loads((ROOT / "fixtures" / f"{site}.json").read_bytes())
        for path in kinds(document, seen):
            for name, changed in slips(document, path):
                turn += 1
                if turn % STRIDE:
                    continue
                for fault in [f for f in faults_of(changed) if f.pointer][:2]:
                    tried += 1
                    if is_left(changed, fault):
                        left.append(f"{path} {name}: {fault.pointer}: {fault.problem}")
    assert tried > 500 // STRIDE
    assert left == [], "\n".join(left)


def is_left(document: dict[str, Any], fault: Fault) -> bool:
    right = mended(document, fault)
    told = () if right is None else faults_of(right)
    return any((f.pointer, f.problem) == (fault.pointer, fault.problem) for f in told)


@pytest.mark.parametrize(
    ("place", "typed", "meant"),
    [
        (("plugs", 0), "jakcet", "jacket"),
        (("plugs", 0), "at", "station"),
        (("sources", 0), "at", "junction"),
        (("pipes", 0), "diameter", "size"),
        (("site",), "temperature", "water_temperature"),
        (("pipes", 0), "lenght", "length"),
    ],
)
def test_a_misspelt_field_names_the_one_that_is_meant(place: Path_, typed: str, meant: str) -> None:
    document = json.loads((ROOT / "fixtures" / f"{SITES[0]}.json").read_bytes())
    at(document, place)[typed] = "1 ft"
    pointer = "/" + "/".join(map(str, (*place, typed)))
    (fault,) = [f for f in faults_of(document) if f.pointer == pointer]
    assert json.dumps(meant) in fault.example


def test_examples_are_in_the_units_of_the_document() -> None:
    document = json.loads((ROOT / "fixtures" / "metric-block-sketch.json").read_bytes())
    document["plugs"][0]["jacket"] = 5
    (fault,) = faults_of(document)
    assert fault.example == '"300 mm"'
