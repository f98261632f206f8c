"""Long fuzzing of each reader, coverage-guided, with bounds on memory and on time for each input.

`pytest -m nightly tests/hardening`. FUZZ_SECONDS sets how long each reader is tried:
300 s if it is not set. What is found lies in the folder that the failure names. Make it small, mend
it, and keep it in test_found_by_fuzzing.py.

Outside source: atheris (libFuzzer) chooses inputs by the code they reach.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.conftest import Require
from tests.hardening.readers import READERS
from tests.hardening.runs import ROOT, SLOWEST, many

SECONDS = int(os.environ.get("FUZZ_SECONDS", "300"))
FILES = 20_000
# A reader in C++ that ends its process is no fault of ours; see layoutcheck/importers/apart.py.
MAY_DIE = {"ifc"}


@pytest.mark.nightly
@pytest.mark.parametrize("kind", sorted(READERS))
def test_guided(kind: str, require: Require, tmp_path: Path) -> None:
    require.module("atheris")
    end = time.monotonic() + SECONDS
    while (left := int(end - time.monotonic())) > 0:
        ran = subprocess.run(
            [sys.executable, "-m", "tests.hardening.guided", kind, str(tmp_path), str(left)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=SECONDS * 3 + 600,
            check=False,
        )
        ours = "Uncaught Python exception" in ran.stderr
        died = ran.returncode != 0 and not ours and "deadly signal" in ran.stderr
        if died and kind in MAY_DIE:
            continue
        assert ran.returncode == 0, f"{tmp_path}: {ran.stderr[-4000:]}"


@pytest.mark.nightly
@pytest.mark.parametrize("kind", sorted(READERS))
def test_many_spoilt_files(kind: str) -> None:
    found = many(kind, first=10_000_000, count=FILES, patience=3600)
    assert not found.crashed, found.crashed[0]
    assert not found.died or kind in MAY_DIE, f"ended by {found.died[:5]}"
    assert len(found.died) < FILES // 100
    assert found.slowest[0] < SLOWEST, found.slowest
