"""The face of the library: nine names, each with an example that is run, loaded when asked for."""

from __future__ import annotations

import doctest
import json
import subprocess
import sys
from pathlib import Path

import pytest

import layoutcheck
from layoutcheck import check, engine, read_layout
from layoutcheck.document import parse_layout
from layoutcheck.report import run

ROOT = Path(__file__).parents[1]
SITE = ROOT / "fixtures" / "no-drawing-sketch.json"


def test_every_name_is_there() -> None:
    assert len(layoutcheck.__all__) == 9
    for name in layoutcheck.__all__:
        assert getattr(layoutcheck, name).__doc__
    with pytest.raises(AttributeError, match="zebra"):
        layoutcheck.zebra  # noqa: B018 - asked for to see it refused


def test_no_name_is_that_of_a_package() -> None:
    """A package that is loaded would stand in the place of the function of its name."""
    folders = {p.name for p in (ROOT / "layoutcheck").iterdir() if p.is_dir()}
    files = {p.stem for p in (ROOT / "layoutcheck").glob("*.py")}
    assert not (folders | files) & set(layoutcheck.__all__)


@pytest.mark.parametrize("module", [layoutcheck, engine], ids=["layoutcheck", "engine"])
def test_the_examples_do_what_they_say(module: object) -> None:
    done = doctest.testmod(module, optionflags=doctest.ELLIPSIS)  # type: ignore[arg-type]
    assert done.attempted >= 3
    assert done.failed == 0


def test_a_path_a_document_and_a_layout_give_the_same_report() -> None:
    data = json.loads(SITE.read_bytes())
    report = run.check(parse_layout(data))
    assert check(str(SITE)) == check(SITE) == check(data) == check(read_layout(data)) == report


def test_to_import_it_loads_nothing_heavy() -> None:
    """Counted in modules, not seconds."""
    ask = "import sys, layoutcheck; print([m for m in sys.modules if m in ('numpy', 'pydantic')])"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
