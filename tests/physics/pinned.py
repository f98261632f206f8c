"""Small cases of every function of the physics but the ice, and how their answers are written down.

pinned.json holds the answers, pinned from our own runs: it proves nothing right, the tests beside
it do that. It is there so that no figure, word or unit changes unnoticed. All inputs are invented.
`python -m tests.physics.pinned` writes it again; read the difference before you keep it.
"""

from __future__ import annotations

import enum
import importlib.util
import inspect
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from functools import cached_property
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from layoutcheck.physics.ranges import Range

FILE = Path(__file__).parent / "pinned.json"
NOTE = "Pinned from our own runs by python -m tests.physics.pinned. All inputs are invented."
LONG = 80

Case = Callable[[], object]
Cases = dict[str, Case]


def plain(value: object) -> Any:
    """Turn an answer into what JSON holds, with every property of it."""
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else str(float(value))
    if isinstance(value, Range):
        return [plain(x) for x in value.values]
    if isinstance(value, np.ndarray):
        return [str(value.dtype), *map(plain, np.atleast_1d(value))]
    if is_dataclass(value):
        value = {name: getattr(value, name) for name in _names(value)}
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    assert value is None or isinstance(value, str | int), type(value)
    return value


def _names(value: Any) -> list[str]:
    """Give the fields and public properties of a dataclass."""
    kind = type(value)
    own = [field.name for field in fields(value)]
    worked_out = inspect.getmembers(kind, lambda m: isinstance(m, property | cached_property))
    return own + [name for name, _ in worked_out if not name.startswith("_")]


def answer(case: Case) -> Any:
    """Run a case and give its answer, or what it raises, word by word."""
    try:
        return plain(case())
    except Exception as fault:  # whatever is raised is the answer
        return f"{type(fault).__name__}: {fault}"


def afresh(name: str) -> ModuleType:
    """Load a module of the physics once more, so that what it works out while loading is seen."""
    spec = importlib.util.find_spec(f"layoutcheck.physics.{name}")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def table_of(module: str, name: str) -> Case:
    """Make a case of a table that a module sets up while it loads."""
    return lambda: getattr(afresh(module), name)


def made(cases: Mapping[str, Case]) -> dict[str, Any]:
    """Give the answer of each case; a long one that came before is named by where."""
    found: dict[str, Any] = {}
    first: dict[str, str] = {}
    for name, case in cases.items():
        said = answer(case)
        text = json.dumps(said)
        if len(text) > LONG and text in first:
            said = {"as": first[text]}
        first.setdefault(text, name)
        found[name] = said
    return found


def kept() -> dict[str, dict[str, Any]]:
    """Read the answers by group and name of the case."""
    groups = json.loads(FILE.read_bytes())
    del groups["note"]
    for answers in groups.values():
        for name, said in answers.items():
            if isinstance(said, dict) and list(said) == ["as"]:
                answers[name] = answers[said["as"]]
    return dict(groups)


def dumped(groups: Mapping[str, Mapping[str, Any]]) -> bytes:
    """Write the file, one case a line."""
    blocks = [f' "note": {json.dumps(NOTE)}']
    for group, answers in groups.items():
        rows = [
            f"  {json.dumps(name)}: {json.dumps(said, ensure_ascii=False)}"
            for name, said in answers.items()
        ]
        blocks.append(f" {json.dumps(group)}: {{\n" + ",\n".join(rows) + "\n }")
    return ("{\n" + ",\n".join(blocks) + "\n}\n").encode()


def main() -> None:
    """Write the file again."""
    from tests.physics.pinned_cases import GROUPS  # noqa: PLC0415 - it is made of what is here

    FILE.write_bytes(dumped({group: made(cases) for group, cases in GROUPS.items()}))


if __name__ == "__main__":
    main()
