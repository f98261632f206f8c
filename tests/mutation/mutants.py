"""Make a copy of the sources in which every function can become one of its mutants.

A mutant is tried by the tests that run the statement it changes, so that is found here too.

mutmut writes the mutants; they sleep until one is named. It leaves decorated functions alone, as a
decorator runs but once. Those that only keep or hand out an answer (`property`, `cached_property`,
`cache`) are therefore written out as a plain function and an assignment first.
"""

from __future__ import annotations

import ast
import shutil
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import libcst as cst
from mutmut.mutation.file_mutation import mutate_file_contents

ROOT = Path(__file__).resolve().parents[2]
PARTS = (
    "layoutcheck/rules/*.py",
    "layoutcheck/placement/*.py",
    "layoutcheck/network/*.py",
    "layoutcheck/physics/**/*.py",
)
# What is drawn is compared with golden pictures, not mutated.
LEFT_OUT = ("layoutcheck/physics/ice/plot.py",)
BLOCKS = ("body", "orelse", "finalbody")
KEEPERS = {"property", "cached_property", "cache"}


@dataclass(frozen=True)
class Mutant:
    """One changed function.

    name wakes it. function is what it changes. lines are those, in the copied file, that are run
    when the changed statement is run: the first to the last of its head.
    """

    name: str
    function: str
    file: str
    lines: tuple[int, int]


class _Undecorate(cst.CSTTransformer):
    def leave_FunctionDef(
        self, original_node: cst.FunctionDef, updated_node: cst.FunctionDef
    ) -> cst.FunctionDef | cst.FlattenSentinel[cst.BaseStatement]:
        """Write `@cached_property def x` as `def _of_x` and `x = cached_property(_of_x)`."""
        if len(updated_node.decorators) != 1:
            return updated_node
        decorator = updated_node.decorators[0].decorator
        if not isinstance(decorator, cst.Name) or decorator.value not in KEEPERS:
            return updated_node
        name = updated_node.name.value
        plain = updated_node.with_changes(name=cst.Name(f"_of_{name}"), decorators=())
        kept = cst.parse_statement(f"{name} = {decorator.value}(_of_{name})")
        return cst.FlattenSentinel([plain, kept])


def mutated_files(root: Path) -> list[Path]:
    """Give the files whose functions are changed, in order."""
    found = {path for part in PARTS for path in root.glob(part)}
    return sorted(found - {root / name for name in LEFT_OUT})


def lay_out(target: Path, parts: Sequence[str]) -> list[Mutant]:
    """Copy the sources to a folder, and put to sleep in them every mutant of the parts asked for.

    parts: what the path of a file must hold, one of them; '' for every file.
    """
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    for name in filter(None, listed.stdout.split("\0")):
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / name, target / name)
    files = [f for f in mutated_files(target) if any(p in f.as_posix() for p in parts)]
    return [m for path in files for m in _mutate(path, target)]


def _mutate(path: Path, root: Path) -> Iterator[Mutant]:
    plain = cst.parse_module(path.read_text(encoding="utf-8")).visit(_Undecorate()).code
    made = mutate_file_contents(str(path), plain)
    path.write_text(made.code, encoding="utf-8")
    module = ".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__")
    written = {
        node.name: node
        for node in ast.walk(ast.parse(made.code))
        if isinstance(node, ast.FunctionDef)
    }
    for name in made.mutant_names:
        own = name.rpartition("__mutmut_")[0]
        lines = _changed(written[f"{own}__mutmut_orig"], written[name])
        yield Mutant(f"{module}.{name}", f"{module}.{own}", str(path.relative_to(root)), lines)


def _changed(before: ast.FunctionDef, after: ast.FunctionDef) -> tuple[int, int]:
    """Give the first and last line of the head of the innermost statement that differs."""
    here: ast.stmt = before
    pairs: list[tuple[ast.stmt, ast.stmt]] = [(before, after)]
    while pairs:
        one, other = pairs.pop()
        if ast.dump(one) == ast.dump(other):
            continue
        here = one
        inner = [(getattr(one, b, []), getattr(other, b, [])) for b in BLOCKS]
        pairs = [p for a, b in inner if len(a) == len(b) for p in zip(a, b, strict=True)]
    body = getattr(here, "body", None)
    last = here.end_lineno or here.lineno
    return here.lineno, max(here.lineno, body[0].lineno - 1 if body else last)
