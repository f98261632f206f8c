"""layoutcheck import of drawings: from a riser diagram to a check, with a map or without."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

from layoutcheck.importers.dxf.read import read_dxf
from tests.cli.conftest import Run
from tests.importers.risers import riser
from tests.importers.test_dxf_riser import saved


def test_what_depends_on_the_lengths_is_undecided(run: Run, tmp_path: Path) -> None:
    target = tmp_path / "riser.json"
    assert run("import", str(saved(riser(), tmp_path)), "-o", str(target)).code == 0
    document = json.loads(target.read_text())
    branch = next(p for p in document["pipes"] if "length" not in p)
    document["plugs"] = [{"id": "A", "pipe": branch["id"], "station": "8 ft", "jacket": "1 ft"}]
    target.write_text(json.dumps(document))
    report = json.loads(run("check", str(target), "--format", "json").out)
    missing = {m for f in report["findings"] for m in f["missing"]}
    at = document["pipes"].index(branch)
    assert f"length of pipe {branch['id']} (/pipes/{at}/length)" in missing
    assert report["verdict"] == "undecided"


def test_a_map_is_proposed_from_what_is_found_and_reads_the_drawing_as_is(
    run: Run, tmp_path: Path
) -> None:
    path, out = saved(riser(), tmp_path), tmp_path / "map.toml"
    assert run("import", str(path), "--map-out", str(out)).code == 0
    text = out.read_text()
    means = tomllib.loads(text)
    assert means["layers"]["P-RISER"]["kind"] == "pipe"
    assert means["blocks"] == {
        "GATE_VALVE": {"kind": "valve", "valve": "gate"},
        "WATER_MAIN": {"kind": "source"},
    }
    assert "[layers.P-RISER]  # 5 lines" in text
    assert "[blocks.GATE_VALVE]  # 4 placed" in text
    assert "# 1 x block NORTH_ARROW: what is it?" in text
    assert "# 4 lines on layer LEVELS: taken as no pipe" in text
    with_map = read_dxf(path, name="riser.dxf", mapping=text).document
    assert with_map == read_dxf(path, name="riser.dxf", mapping=None).document
