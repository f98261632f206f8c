"""Run every check, and gather what came of it in one model."""

from __future__ import annotations

import importlib
import platform
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from layoutcheck import __version__
from layoutcheck.selftest.check import Check, Outcome, Reading, Result, Status

FORMAT = "layoutcheck selftest 1"
_GROUPS = ("units", "machine", "physics", "cases")
_LIBRARIES = ("networkx", "numpy", "pydantic", "scipy", "shapely")


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
    return tuple(check for name in _GROUPS for check in _checks_of(name))


def _checks_of(name: str) -> tuple[Check, ...]:
    """Load a group of checks. Where it can not be loaded, one check takes its place and says so."""
    try:
        # Late: what these import is what a damaged installation fails at.
        module = importlib.import_module(f"layoutcheck.selftest.{name}")
        checks: tuple[Check, ...] = module.checks()
    except Exception as error:
        return (_not_loaded(name, error),)
    return checks


def _not_loaded(name: str, error: Exception) -> Check:
    def fail() -> tuple[Reading, ...]:
        raise error

    return Check(
        f"load-{name}",
        "INSTALLATION",
        "The libraries that this group of checks needs can be loaded.",
        "the program's own list of what it needs",
        Status.BY_HAND,
        fail,
    )


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
        parts: Any = importlib.import_module("numpy").show_config(mode="dicts")
        blas = parts["Build Dependencies"]["blas"]
        return f"{blas['name']} {blas['version']}"
    except (ImportError, KeyError, TypeError):
        return "not known"
