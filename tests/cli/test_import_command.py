"""layoutcheck import and export: files in and out, and every refusal."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report.schemas import schema_of
from tests.cli.conftest import Run, Write
from tests.importers.made_models import Maker

FIXTURES = Path(__file__).parents[2] / "fixtures"
PIPES = "id,from,to,size,material,length,length unit\nP1,J1,J2,NPS 2,copper,24.5,ft\n"


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Path:
    layout = parse_layout(json.loads((FIXTURES / "metric-block-mended.json").read_text()))
    path = tmp_path_factory.mktemp("model") / "model.ifc"
    Maker(layout).make().model.write(str(path))
    return path


def test_a_model_becomes_a_layout_that_can_be_checked(
    run: Run, model: Path, tmp_path: Path
) -> None:
    target = tmp_path / "layout.json"
    done = run("import", str(model), "-o", str(target))
    assert done.code == 0
    assert "IfcValve: 47 of 47" in done.text
    assert "MISSING OR IN DOUBT" in done.text
    # Nothing is stated of valves or work, so a check can not find it compliant.
    checked = run("check", str(target), "--format", "json")
    assert json.loads(checked.out)["verdict"] in {"undecided", "not compliant"}


def test_explain_begins_with_the_whole_site(run: Run, model: Path) -> None:
    said = run("import", str(model), "--explain").text
    assert said.index("1. the temperature of the water") < said.index("how each valve stands")
    assert "Local codes" in said


def test_the_report_fits_its_schema(run: Run, model: Path) -> None:
    report = json.loads(run("import", str(model), "--format", "json").out)
    jsonschema.Draft202012Validator(schema_of("import")).validate(report)
    assert {n["kind"] for n in report["notes"]} == {"assumption", "gap"}


def test_plugs_are_written_into_a_copy_of_the_model(run: Run, model: Path, tmp_path: Path) -> None:
    import ifcopenshell  # noqa: PLC0415 - slow to load
    import ifcopenshell.util.element as elements  # noqa: PLC0415
    import ifcopenshell.validate  # noqa: PLC0415

    target, copy = tmp_path / "layout.json", tmp_path / "copy.ifc"
    run("import", str(model), "-o", str(target))
    layout = json.loads(target.read_text())
    pipe = max(layout["pipes"], key=lambda p: float(p["length"].split()[0]))
    layout["plugs"] = [{"id": "A", "pipe": pipe["id"], "station": "1 m", "jacket": "0.3 m"}]
    target.write_text(json.dumps(layout))
    before = model.read_bytes()
    assert run("export", str(target), "-o", str(copy), "--source", str(model)).code == 0
    assert model.read_bytes() == before
    opened: Any = ifcopenshell.open(str(copy))
    made: dict[str, Any] = {e.ObjectType: e for e in opened.by_type("IfcBuildingElementProxy")}
    assert set(made) == {"FREEZE PLUG", "FREEZE JACKET"}
    facts = elements.get_psets(made["FREEZE JACKET"])["Layoutcheck_FreezePoint"]
    assert facts["PipeGlobalId"] == pipe["ref"]
    assert facts["JacketLength"] == pytest.approx(0.3)
    assert len(opened.by_type("IfcPipeSegment")) == len(
        ifcopenshell.open(str(model)).by_type("IfcPipeSegment")
    )
    logger = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(opened, logger)
    assert logger.statements == []


def test_sheets_go_out_and_come_back(run: Run, tmp_path: Path) -> None:
    source = FIXTURES / "ring-main-mended.json"
    archive, target = tmp_path / "sheets.zip", tmp_path / "layout.json"
    assert run("export", str(source), "-o", str(archive)).code == 0
    assert run("import", str(archive), "-o", str(target)).code == 0
    ours, theirs = (parse_layout(json.loads(p.read_text())) for p in (source, target))
    assert ours.pipes == theirs.pipes
    assert ours.plugs == theirs.plugs


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["import", "{folder}/none.ifc"], "is not there"),
        (["import", "{folder}/notes.txt"], "is of a kind that is not read"),
        (["import", "{folder}/pipes.csv", "--map", "{folder}/none.toml"], "is not there"),
        (["export", "{folder}/pipes.csv", "-o", "x.pdf"], "must end in .ifc, .dxf, .zip"),
        (["export", "{layout}", "-o", "{folder}/x.ifc"], "give --source"),
        (["export", "{layout}", "-o", "{folder}/x.dxf", "--source", "{folder}/no"], "not there"),
        (
            ["export", "{layout}", "-o", "{folder}/x.ifc", "--source", "{folder}/notes.txt"],
            "is not an IFC file",
        ),
    ],
)
def test_each_refusal_is_plain_and_writes_nothing(
    arguments: list[str], says: str, run: Run, write: Write, tmp_path: Path
) -> None:
    write("notes.txt", "words")
    write("pipes.csv", PIPES)
    layout = FIXTURES / "ring-main-mended.json"
    before = sorted(tmp_path.iterdir())
    done = run(*(a.format(folder=tmp_path, layout=layout) for a in arguments))
    assert done.code == 2
    assert says in " ".join(done.err.split())
    assert sorted(tmp_path.iterdir()) == before


def test_a_system_that_is_not_there_is_named(run: Run, model: Path) -> None:
    done = run("import", str(model), "--system", "CHW")
    assert done.code == 2
    assert "is no system of this model" in " ".join(done.err.split())
