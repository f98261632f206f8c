"""Every message with which something given is refused, found in the source itself.

A message is found where it is written: as `problem=…`, `problem = …`, or as what one of the
functions and classes below is called with. What is filled in is left open.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
# Called with a message, and in which place of its arguments.
SPEAKERS = {
    "WrongCall": 0,
    "TextFault": 0,
    "UnreadableError": 0,
    "fail": 0,
    "too_many": 0,
    "ChildDied": 0,
    "_unreadable": 0,
    "_excess": 1,
    "PydanticCustomError": 1,
    "QuantityError": 1,
    "_refused": 1,
    "_not_read": 1,
    "SnapFailure": 0,
    "NoSchedule": 0,
}
# As above for _fault, which differs from module to module.
FAULTS = {
    "rules/pack.py": 2,
    "importers/sheets.py": 2,
    "importers/own_names.py": 2,
    "report/log/read.py": 2,
    "document/crosscheck.py": 4,
    "record/making.py": 2,
}
# Modules in which a ValueError is a message to whoever gave the file.
SPOKEN_ERRORS = (
    "document/read.py",
    "importers/sheets.py",
    "importers/dxf/sheet.py",
    "ifc/shape.py",
)


@dataclass(frozen=True)
class Message:
    """A message: where it is written, and a pattern for its text."""

    where: str
    pattern: str

    def is_in(self, text: str) -> bool:
        return re.search(self.pattern, text, re.DOTALL) is not None


def messages(folder: Path) -> Iterator[Message]:
    """Find every message in the modules of a folder."""
    for path in sorted(folder.rglob("*.py")):
        where = str(path.relative_to(ROOT))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            for value in _spoken(node, where):
                for text in _patterns(value):
                    yield Message(f"{where}:{node.lineno}", text)  # type: ignore[attr-defined]


def _spoken(node: ast.AST, where: str) -> Iterator[ast.expr]:
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        if node.targets[0].id == "problem":
            yield node.value
    elif isinstance(node, ast.FunctionDef) and node.name == "_in_words":
        returned = (n.value for n in ast.walk(node) if isinstance(n, ast.Return))
        yield from (v.elts[0] for v in returned if isinstance(v, ast.Tuple))
    elif isinstance(node, ast.Call):
        yield from (k.value for k in node.keywords if k.arg == "problem")
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        place = SPEAKERS.get(name)
        if name == "ValueError" and where.endswith(SPOKEN_ERRORS):
            place = 0
        if name in {"_fault", "fault"}:
            place = next((n for end, n in FAULTS.items() if where.endswith(end)), None)
        if place is not None and len(node.args) > place:
            yield node.args[place]


def _patterns(value: ast.expr) -> Iterator[str]:
    """Give the patterns of a message; one that is all filled in is written elsewhere."""
    if isinstance(value, ast.IfExp):
        yield from _patterns(value.body)
        yield from _patterns(value.orelse)
        return
    pattern = _pattern(value)
    if len(re.sub(r"\.\*|\\", "", pattern)) > 3:
        yield pattern


def _pattern(value: ast.expr) -> str:
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        return re.escape(value.value) if value.value != "{problem}" else ""
    if isinstance(value, ast.JoinedStr):
        return "".join(map(_pattern, value.values))
    if isinstance(value, ast.BinOp):
        return _pattern(value.left) + _pattern(value.right)
    return ".*"
