"""The self-test finds what it is there to find: each fault here is put in on purpose."""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import linalg, optimize, special
from scipy.sparse import csgraph

from layoutcheck import kept, quantities
from layoutcheck.cli import main
from layoutcheck.network import blocks
from layoutcheck.physics import properties, strength
from layoutcheck.physics.carbon_dioxide import saturated
from layoutcheck.selftest import (
    Check,
    Outcome,
    Reading,
    Status,
    all_checks,
    cases,
    machine,
    run_selftest,
    selftest_text,
    units,
)
from layoutcheck.selftest import physics as physics_checks
from layoutcheck.selftest.check import worst
from tests.conftest import Require

ROOT = Path(__file__).parents[2]
CONFORMANCE = ROOT / "shared" / "conformance"
ADVICE = "Do not rely on results from this installation"


def ran(name: str) -> Outcome:
    """Run one check by its name."""
    (check,) = (c for c in all_checks() if c.name == name)
    return check.run().outcome


@pytest.fixture(scope="module")
def report() -> Any:
    return run_selftest()


def test_all_is_right_here(report: Any) -> None:
    assert [c for c in report.checks if c.outcome is not Outcome.RIGHT] == []
    assert report.verdict == "right"


def test_every_check_says_what_it_proves_and_who_says_so(report: Any) -> None:
    assert len({c.name for c in report.checks}) == len(report.checks)
    for check in report.checks:
        assert check.proves.endswith(".")
        assert check.source
        assert check.compared >= 1


def test_every_conformance_case_is_run(report: Any) -> None:
    folders = {p.name for p in CONFORMANCE.iterdir() if p.is_dir()}
    assert folders <= {c.name for c in report.checks}


def test_the_environment_is_named(report: Any) -> None:
    assert report.environment["numpy"] == np.__version__
    assert all(what != "not installed" for what in report.environment.values())
    assert report.environment["BLAS"] != "not known"


# --- faults put in -----------------------------------------------------------------------------


def off_by(function: Callable[..., Any], share: float) -> Callable[..., Any]:
    """Give a function whose result is off by a share."""

    def wrong(*arguments: Any, **named: Any) -> Any:
        return function(*arguments, **named) * (1.0 + share)

    return wrong


class WrongProduct(np.ndarray):
    """An array whose matrix product is off in one place, as a bad kernel's ragged edge would be."""

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **named: Any) -> Any:
        plain = [np.asarray(i) for i in inputs]
        found = np.asarray(getattr(ufunc, method)(*plain, **named))
        if ufunc is np.matmul and found.dtype == np.float64:
            found[-1, -1] += 1.0
        return found.view(WrongProduct)


def test_a_matrix_product_wrong_in_one_corner_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = np.arange
    monkeypatch.setattr(np, "arange", lambda *a, **k: plain(*a, **k).view(WrongProduct))
    assert ran("matrix-product") is Outcome.OFF


@pytest.mark.parametrize(
    ("place", "name", "share", "check"),
    [
        (np.linalg, "solve", 1e-4, "linear-systems"),
        (linalg, "solve", 1e-9, "linear-systems"),
        (linalg, "det", 1e-6, "linear-systems"),
        (np.linalg, "eigvalsh", 1e-9, "eigenvalues"),
        (linalg, "solveh_banded", 1e-9, "banded-systems"),
        (special, "erf", 1e-6, "functions"),
        (optimize, "brentq", 1e-9, "functions"),
        (properties, "water_density", 1e-3, "water"),
        (properties, "ice_conductivity", 0.2, "ice"),
        (quantities, "parse_pressure", 1e-15, "definitions"),
    ],
    ids=lambda value: value if isinstance(value, str) else None,
)
def test_a_figure_slightly_off_is_found(
    monkeypatch: pytest.MonkeyPatch, place: Any, name: str, share: float, check: str
) -> None:
    monkeypatch.setattr(place, name, off_by(getattr(place, name), share))
    assert ran(check) is Outcome.OFF


def test_a_wrong_row_of_a_kept_table_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    given = saturated

    def wrong(kelvin: float) -> tuple[float, float]:
        enthalpy, density = given(kelvin)
        return 1.005 * enthalpy, density

    monkeypatch.setattr(physics_checks, "saturated", wrong)
    assert ran("coolants") is Outcome.OFF


def test_a_wrong_shortest_way_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    given = csgraph.dijkstra

    def loses_pieces_of_no_length(net: Any, **named: Any) -> Any:
        kept = net.copy()
        kept.eliminate_zeros()
        return given(kept, **named)

    monkeypatch.setattr(machine, "dijkstra", loses_pieces_of_no_length)
    assert ran("shortest-ways") is Outcome.OFF


def test_a_pair_of_pipes_taken_for_a_bridge_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """As a graph library did that knows of no parallel edges: the wrong verdicts it led to."""
    given = blocks.block_numbers

    def forgets_pairs(nodes: int, ends: np.ndarray) -> np.ndarray:
        _, first = np.unique(ends, axis=0, return_index=True)
        numbers = np.full(len(ends), len(ends))
        numbers[np.sort(first)] = given(nodes, ends[np.sort(first)])
        return numbers

    monkeypatch.setattr(blocks, "block_numbers", forgets_pairs)
    assert ran("flows-and-blocks") is Outcome.OFF


def test_a_programme_that_stops_short_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    given = optimize.milp

    def stops_short(*arguments: Any, **named: Any) -> Any:
        found = given(*arguments, **named)
        found.fun = (found.fun or 0.0) + 1.0
        return found

    monkeypatch.setattr(optimize, "milp", stops_short)
    assert ran("programmes") is Outcome.OFF


def test_a_step_that_loses_heat_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    given = physics_checks._step
    monkeypatch.setattr(physics_checks, "_step", off_by(given, 1e-4))
    assert ran("heat-balance") is Outcome.OFF


def test_small_numbers_rounded_to_zero_are_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Flush to zero, as a library built with fast-math can switch on, imitated."""

    class Flushed:
        def __getattr__(self, name: str) -> Any:
            return getattr(np, name)

        def array(self, values: Any) -> Any:
            return np.where(np.abs(np.array(values)) < 2.0**-1022, 0.0, values)

    monkeypatch.setattr(machine, "np", Flushed())
    assert ran("floating-point") is Outcome.OFF


def test_a_weaker_factor_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    given = strength.holding_pressure
    monkeypatch.setattr(strength, "holding_pressure", lambda **k: given(factor=3.0, **k))
    assert ran("plug") is Outcome.OFF


def test_a_changed_expectation_of_a_case_is_found_and_placed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shutil.copytree(CONFORMANCE, tmp_path / "conformance")
    changed = tmp_path / "conformance" / "too-near" / "report.json"
    given = json.loads(changed.read_text())
    given["verdict"] = "compliant"
    changed.write_text(json.dumps(given, indent=2, ensure_ascii=False) + "\n")
    monkeypatch.setattr(kept, "_IN_THE_SOURCES", tmp_path)
    outcomes = {c.name: c.run() for c in cases.checks()}
    assert outcomes.pop("too-near").told() == [
        'first difference at /verdict: found "not compliant", expected "compliant"'
    ]
    assert {r.outcome for r in outcomes.values()} == {Outcome.RIGHT}


def test_other_bytes_of_the_same_content_are_found(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shutil.copytree(CONFORMANCE / "unusable", tmp_path / "conformance" / "unusable")
    changed = tmp_path / "conformance" / "unusable" / "refusal.json"
    changed.write_text(changed.read_text() + "\n")
    monkeypatch.setattr(kept, "_IN_THE_SOURCES", tmp_path)
    (check,) = cases.checks()
    assert check.run().outcome is Outcome.OFF


def test_missing_cases_are_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for empty in (tmp_path / "nowhere", tmp_path):
        monkeypatch.setattr(kept, "_IN_THE_SOURCES", empty)
        (check,) = cases.checks()
        assert check.run().outcome is Outcome.OFF


# --- how it is told ----------------------------------------------------------------------------


def made(read: Callable[[], Any]) -> Check:
    return Check("made", "MADE", "Nothing.", "invented", Status.BY_HAND, read)


def explodes() -> Any:
    raise OSError("/somewhere/on/this/machine is broken")


@pytest.mark.parametrize(
    ("readings", "outcome"),
    [
        ([Reading("x", 1.0, 1.0)], Outcome.RIGHT),
        ([Reading("x", 1.0, 1.1, 0.2)], Outcome.RIGHT),
        ([Reading("x", 1.0, 1.1, 0.05)], Outcome.OFF),
        ([Reading("x", math.nan, 1.0, 1.0)], Outcome.OFF),
        ([Reading("x", math.inf, 1.0, 1.0)], Outcome.OFF),
        ([Reading("x", "a", "b", 9.0)], Outcome.OFF),
        ([Reading("x", 1.0, 1.0), Reading("y", 1.0, 2.0)], Outcome.OFF),
        ([worst("x", [0.0, math.nan], most=1.0)], Outcome.OFF),
        ([worst("x", [], most=1.0)], Outcome.OFF),
        ([], Outcome.FAULT),
    ],
)
def test_outcomes(readings: list[Reading], outcome: Outcome) -> None:
    assert made(lambda: readings).run().outcome is outcome


def test_what_a_check_raises_is_told_without_its_paths() -> None:
    report = run_selftest([made(explodes), made(lambda: [Reading("x", 1.0, 1.0)])])
    assert [c.outcome for c in report.checks] == [Outcome.FAULT, Outcome.RIGHT]
    assert report.verdict == "off"
    text = selftest_text(report)
    assert "it ended with OSError" in text
    assert "/somewhere" not in text + report.to_json()


def test_no_check_at_all_is_not_all_right() -> None:
    report = run_selftest([])
    assert report.verdict == "off"
    assert ADVICE in selftest_text(report)


def test_what_is_off_stands_in_the_first_line_with_what_to_do() -> None:
    text = selftest_text(run_selftest([made(lambda: [Reading("x (m)", 1.0, 2.0)])]))
    assert text.splitlines()[0] == f"OFF: 1 of 1 checks. {ADVICE}."
    assert "x (m): found 1, expected 2 exactly" in text
    assert "Install layoutcheck afresh" in " ".join(text.split())


def test_the_command_ends_with_the_exit_code_of_a_fault(
    monkeypatch: pytest.MonkeyPatch, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    """A few checks stand in for all, for the whole runs above."""
    bad = made(lambda: [Reading("x", 1.0, 2.0)])
    monkeypatch.setattr("layoutcheck.selftest.run.all_checks", lambda: (bad,))
    assert main(["selftest"]) == 4
    assert ADVICE.encode() in capsysbinary.readouterr().out
    assert main(["selftest", "--format", "json"]) == 4
    answer = json.loads(capsysbinary.readouterr().out)
    assert answer["verdict"] == "off"
    assert answer["checks"][0]["off"] == ["x: found 1, expected 2 exactly"]
    monkeypatch.setattr("layoutcheck.selftest.run.all_checks", lambda: units.CHECKS)
    assert main(["selftest"]) == 0
    assert b"ALL RIGHT" in capsysbinary.readouterr().out


@pytest.mark.parametrize("library", ["scipy", "shapely"])
def test_a_library_that_can_not_be_loaded_is_told(library: str, tmp_path: Path) -> None:
    """As where a compiled file is missing or made for another machine."""
    (tmp_path / library).mkdir()
    broken = "raise ImportError('/somewhere/lib.so: wrong machine')\n"
    (tmp_path / library / "__init__.py").write_text(broken)
    script = "import sys; from layoutcheck.cli import main; sys.exit(main(['selftest']))"
    done = subprocess.run(
        [sys.executable, "-c", script], env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 4
    assert ADVICE in done.stdout.splitlines()[0]
    assert "it ended with ImportError" in done.stdout
    assert "/somewhere" not in done.stdout + done.stderr


# --- installed from a wheel --------------------------------------------------------------------


def test_the_wheel_brings_the_cases_and_runs_them(tmp_path: Path, require: Require) -> None:
    """Unpacked away from the sources, as pip would: what ships is what is tested."""
    require.module("hatchling")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True, timeout=120)
    (wheel,) = tmp_path.glob("*.whl")
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    shipped = tmp_path / "installed" / "layoutcheck" / "shared" / "conformance"
    ours = {p.relative_to(CONFORMANCE): p.read_bytes() for p in files(CONFORMANCE)}
    assert {p.relative_to(shipped): p.read_bytes() for p in files(shipped)} == ours
    script = (
        "from layoutcheck.kept import kept\n"
        "from layoutcheck.selftest import cases\n"
        "print(kept('conformance'))\n"
        "print({c.run().outcome.value for c in cases.checks() if c.name == 'unusable'})"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path / "installed", capture_output=True,
        text=True, check=True, timeout=120,
    )  # fmt: skip
    assert done.stdout.splitlines() == [str(shipped), "{'right'}"]


def files(folder: Path) -> list[Path]:
    return [p for p in folder.rglob("*") if p.is_file()]
