"""A user's own names of materials, sizes and walls. All names here are invented.

Dimensions: EN 10255:2004, table 2, DN 50 medium is 60.3 x 3.6 mm (from memory).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.own_names import EXAMPLE, read_names
from layoutcheck.importers.read import read_file
from tests.cli.conftest import Run, run  # noqa: F401 - a fixture
from tests.importers.small_models import Small

NAMES = """
[materials]
"galvanized steel" = ["Rohr Werk Nord"]
[sizes]
"DN 50" = ["2 Zoll schwer"]
[walls."Werk Nord S"]
names = ["S-Reihe"]
materials = ["galvanized steel"]
rows = [[50, 60.3, 3.6]]
"""
SHEET = "id,from,to,size,material,wall\r\nP1,A,B,2 Zoll  schwer,ROHR WERK NORD,s-reihe\r\n"


def test_the_example_is_right() -> None:
    read_names(EXAMPLE)
    read_names(NAMES)


def test_sheets_are_read_by_own_names(tmp_path: Path) -> None:
    (tmp_path / "pipes.csv").write_text(SHEET)
    with pytest.raises(LayoutFaults):
        read_file(tmp_path)
    (pipe,) = parse_layout(read_file(tmp_path, names=NAMES).document).pipes
    assert (pipe.size.text, pipe.material.value) == ("DN 50", "galvanized steel")
    assert pipe.outside_diameter == pytest.approx(0.0603)
    assert pipe.wall_thickness == pytest.approx(0.0036)


def test_a_model_is_read_by_own_names_in_its_own_process(tmp_path: Path) -> None:
    small = Small()
    pipe = small.pipe("R", (0, 0, 0), (3, 0, 0))
    small.property(pipe, "Material", "IfcLabel", "Rohr_Werk_Nord")
    path = tmp_path / "m.ifc"
    small.model.write(str(path))
    assert "material" not in read_file(path).document["pipes"][0]
    assert read_file(path, names=NAMES).document["pipes"][0]["material"] == "galvanized steel"


def test_a_galvanised_pipe_that_runs_its_standard_and_its_zinc_together(tmp_path: Path) -> None:
    """As a public heating model has it: 'DIN10255_verz'."""
    small = Small()
    pipe = small.pipe("R", (0, 0, 0), (3, 0, 0))
    small.property(pipe, "Material", "IfcLabel", "DIN10255_verz")
    assert small.read(tmp_path).document["pipes"][0]["material"] == "galvanized steel"


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("material", "", "is not TOML"),
        ('[material]\n"copper" = ["x"]', "/material", "is not a field here"),
        ('[materials]\n"coper" = ["x"]', "/materials/coper", "not known"),
        ('[materials]\n"copper" = ["galvanized"]', "/materials/copper", "known already"),
        ('[sizes]\n"2" = ["x"]', "/sizes/2", "NPS, DN or in"),
        ('[sizes]\n"DN 50" = ["DN 80"]', "/sizes/DN 50", "is a size already"),
        ('[walls.W]\nmaterials = ["copper"]', "/walls/W/rows", "is required"),
        ('[walls.W]\nmaterials = ["copper"]\nrows = [[51, 60, 3]]', "/walls/W/rows", "no nominal"),
        ('[walls.W]\nmaterials = ["copper"]\nrows = [[50, 6, 3]]', "/walls/W/rows", "no bore"),
        ('[walls.W]\nmaterials = ["copper"]\nrows = [[50, 6]]', "/walls/W/rows/0", ""),
    ],
)
def test_a_faulty_table_is_told_with_a_right_line(text: str, place: str, says: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        read_names(text)
    fault = raised.value.faults[0]
    assert fault.pointer.startswith(place)
    assert says in fault.problem
    table = place.split("/")[1] if place else ""
    if table == "walls":
        materials = "" if "materials" in fault.example else 'materials = ["copper"]\n'
        rows = "" if "rows" in fault.example else "rows = [[50, 54.0, 2.0]]\n"
        read_names(f"[walls.W]\n{materials}{rows}{fault.example}")
    elif table in {"materials", "sizes"}:
        read_names(f"[{table}]\n{fault.example}")


def test_the_command_takes_them(run: Run, tmp_path: Path) -> None:  # noqa: F811
    (tmp_path / "pipes.csv").write_text(SHEET)
    names = tmp_path / "my.toml"
    names.write_text(NAMES)
    done = run("import", str(tmp_path), "--names", str(names), "-o", str(tmp_path / "site.json"))
    assert done.code == 0
    assert json.loads((tmp_path / "site.json").read_text())["pipes"][0]["size"] == "DN 50"
    names.write_text("[sizes")
    assert "is not TOML" in run("import", str(tmp_path), "--names", str(names)).err
