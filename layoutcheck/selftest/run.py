"""Run every check, and gather what came of it in one model."""

from __future__ import annotations

import platform
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict

from layoutcheck import __version__
from layoutcheck.selftest.check import Check, Outcome, Result

FORMAT = "layoutcheck selftest 1"
_LIBRARIES = (
    "CoolProp", "fluids", "llvmlite", "networkx", "numba", "numpy", "pydantic", "scipy",
    "shapely",
)  # fmt: skip


class CheckResult(BaseModel):
    """How one check came out."""

    model_config = ConfigDict(frozen=True)

    name: str
    group: str
    outcome: Outcome
    proves: str
    source: str
    status: str
    compared: int
    off: tuple[str, ...]


class SelftestReport(BaseModel):
    """How the whole self-test came out, on which machine, with which libraries."""

    model_config = ConfigDict(frozen=True)

    format: str = FORMAT
    version: str
    verdict: Literal["right", "off"]
    checks: tuple[CheckResult, ...]
    environment: dict[str, str]

    def to_json(self) -> str:
        """Write the report as JSON."""
        return self.model_dump_json(indent=2) + "\n"


def all_checks() -> tuple[Check, ...]:
    """Give every check, in the order they run: what the others lean on comes first."""
    from layoutcheck.selftest import cases, machine, physics, units  # noqa: PLC0415

    return (*units.CHECKS, *machine.CHECKS, *physics.CHECKS, *cases.case_checks())


def run_selftest(
    checks: Sequence[Check] | None = None, *, after_each: Callable[[Result], None] | None = None
) -> SelftestReport:
    """Run checks one after the other; none stops the others.

    Parameters:
        checks: which; all of them if None.
        after_each: called with each result, to show progress.

    Returns:
        The report. Its verdict is 'right' only if each check is, and if there was at least one.
    """
    results = []
    for check in all_checks() if checks is None else checks:
        result = check.run()
        results.append(result)
        if after_each is not None:
            after_each(result)
    all_right = bool(results) and all(r.outcome is Outcome.RIGHT for r in results)
    return SelftestReport(
        version=__version__,
        verdict="right" if all_right else "off",
        checks=tuple(_told(result) for result in results),
        environment=environment(),
    )


def _told(result: Result) -> CheckResult:
    check = result.check
    return CheckResult(
        name=check.name,
        group=check.group,
        outcome=result.outcome,
        proves=check.proves,
        source=check.source,
        status=check.status.value,
        compared=result.count,
        off=tuple(result.told()),
    )


def environment() -> dict[str, str]:
    """Name what the sums were done with: machine, Python, libraries, BLAS."""
    found = {
        "machine": f"{platform.system()} {platform.machine()}",
        "python": f"{platform.python_implementation()} {platform.python_version()}",
    }
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    found["BLAS"] = _blas()
    return found


def _blas() -> str:
    try:
        parts: Any = np.show_config(mode="dicts")
        blas = parts["Build Dependencies"]["blas"]
        return f"{blas['name']} {blas['version']}"
    except (KeyError, TypeError):
        return "not known"
