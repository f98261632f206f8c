"""Change the code of rules, places, graph and physics, and see whether a test notices.

    python -m tests.mutation                     all mutants; hours on two cores
    python -m tests.mutation --part rules/heads  those of files whose path holds this
    python -m tests.mutation --share 0.1         one in ten of them, chosen by chance
    python -m tests.mutation --answers FILE      go on: those that FILE says are killed stay so

Prints what share is killed and writes the survivors, each as a difference, to the file given by
--survivors. Nothing else is written outside a temporary folder.
"""

from __future__ import annotations

import argparse
import collections
import difflib
import importlib.util
import json
import os
import pickle
import random
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.mutation.mutants import Mutant, lay_out
from tests.mutation.runner import Order

TESTS = (
    "tests/rules",
    "tests/physics",
    "tests/conformance",
    "tests/selftest",
    "tests/oracles",
    "tests/placement",
    "tests/report/test_explain.py",
    "tests/report/test_report_text.py",
    "tests/hardening/test_error_texts.py",
    "tests/cli/test_check_command.py",
)
# Other programs, and other models at length: they kill nothing that the rest leaves alive.
LEFT_OUT = ("client_works", "test_ice_second_model", "test_ice_report", "same_bytes")


def main() -> int:
    """Run what the arguments ask for."""
    asked = _arguments()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        every = lay_out(tree, asked.part or [""])
        chosen = [m for m in every if random.Random(m.name).random() < asked.share]
        print(f"{len(chosen)} of {len(every)} mutants", flush=True)
        answers = asked.answers or Path(folder) / "answers"
        before = _killed(answers)
        todo = [m for m in chosen if not before.get(m.name)]
        _run_tests(tree, Order(todo, asked.jobs, asked.patience, answers), asked.tests)
        return _tell(tree, chosen, _killed(answers), asked.survivors)


def _arguments() -> argparse.Namespace:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--part", action="append", help="only files whose path holds this")
    reader.add_argument("--tests", nargs="+", default=TESTS, help="what tests to run")
    reader.add_argument("--share", type=float, default=1.0, help="how many of them, 0 to 1")
    reader.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    reader.add_argument(
        "--patience", type=float, default=8.0, help="traced seconds of tests a mutant"
    )
    reader.add_argument("--answers", type=Path, help="keep each answer in this file as it comes")
    reader.add_argument("--survivors", type=Path, help="where to write those not killed")
    return reader.parse_args()


def _run_tests(tree: Path, order: Order, tests: Sequence[str]) -> None:
    file = tree / "order"
    file.write_bytes(pickle.dumps(order))
    left_out = " and ".join(f"not {name}" for name in LEFT_OUT)
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.mutation.runner"]
    command += ["-p", "no:cacheprovider", "-k", left_out, "--mutation-order", str(file), *tests]
    setting = {"HYPOTHESIS_PROFILE": "mutation", "PYTHONPATH": str(tree), "OMP_NUM_THREADS": "1"}
    subprocess.run(command, cwd=tree, env=os.environ | setting, check=False)


def _killed(answers: Path) -> dict[str, str]:
    """Read what killed each mutant, '' where nothing did; the last answer counts."""
    lines = answers.read_text(encoding="utf-8").splitlines() if answers.exists() else []
    return {a["mutant"]: a["killed_by"] for a in map(json.loads, lines)}


def _tell(tree: Path, chosen: list[Mutant], killed: dict[str, str], where: Path | None) -> int:
    alive = [m for m in chosen if m.name in killed and not killed[m.name]]
    unseen = [m for m in chosen if m.name not in killed]
    whole = collections.Counter(m.file for m in chosen)
    left = collections.Counter(m.file for m in alive)
    for file, count in sorted(whole.items()):
        print(f"{file}: {count - left[file]} of {count} killed")
    done = len(chosen) - len(unseen)
    if not done:
        print("nothing was tried")
        return 1
    share = 1 - len(alive) / done
    print(f"{done - len(alive)} of {done} killed: {share:.1%}; not tried: {len(unseen)}")
    if where:
        where.write_text("\n".join(_difference(tree, m) for m in alive), encoding="utf-8")
    return 0


def _difference(tree: Path, mutant: Mutant) -> str:
    """Show what a mutant changes, as a difference of its function."""
    lines = (tree / mutant.file).read_text(encoding="utf-8").splitlines()
    own = mutant.name.rpartition(".")[2]
    before = _body(lines, f"{own.rpartition('__mutmut_')[0]}__mutmut_orig")
    after = _body(lines, own)
    changed = [
        line
        for line in difflib.unified_diff(before, after, n=0, lineterm="")
        if line[:1] in "+-" and line[:3] not in ("+++", "---")
    ]
    return "\n".join([f"# {mutant.file} {own}", *changed, ""])


def _body(lines: list[str], function: str) -> list[str]:
    """Give the lines of one generated function, without the line that names it."""
    at = next(k for k, line in enumerate(lines) if f"def {function}(" in line)
    deep = len(lines[at]) - len(lines[at].lstrip())
    found = []
    for line in lines[at + 1 :]:
        if (
            line.strip()
            and len(line) - len(line.lstrip()) <= deep
            and not line.strip().startswith(")")
        ):
            break
        found.append(line)
    return found


if __name__ == "__main__":
    if importlib.util.find_spec("mutmut") is None:
        sys.exit("mutmut is not installed: pip install 'mutmut>=3.8'")
    sys.exit(main())
