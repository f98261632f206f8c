"""Sheets go out and come back as the very same values, and faults name their cells.

Outside source: Python's csv module and RFC 4180 for the form; the layouts are random.
"""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.read import read_file
from layoutcheck.importers.sheet_tables import SHEETS
from layoutcheck.importers.sheets import read_sheets, write_sheets
from layoutcheck.report.exports import sheets_archive
from tests.oracles.strategies import documents
from tests.sizes import some

FIXTURES = Path(__file__).parents[2] / "fixtures"
LAYOUTS = sorted(FIXTURES.glob("*.json"))
CARRIED = (*SHEETS, "name", "units", "drawing")

PIPES = "id,from,to,size,material,length,length unit\nP1,J1,J2,NPS 2,copper,24.5,ft\n"


def sheets(**texts: str) -> dict[str, bytes]:
    return {name: text.encode() for name, text in texts.items()}


@pytest.mark.parametrize("path", LAYOUTS, ids=lambda p: p.stem)
def test_every_fixture_comes_back_as_it_was(path: Path) -> None:
    layout = parse_layout(json.loads(path.read_text()))
    again = parse_layout(read_sheets(write_sheets(layout), name="again").document)
    for field in CARRIED:
        assert getattr(again, field) == getattr(layout, field), field


@settings(max_examples=some(60))
@given(document=documents())
def test_random_layouts_come_back_as_they_were(document: dict[str, object]) -> None:
    layout = parse_layout(document)
    again = parse_layout(read_sheets(write_sheets(layout), name="again").document)
    for field in CARRIED:
        assert getattr(again, field) == getattr(layout, field), field


def test_an_archive_of_sheets_is_read_and_is_the_same_each_time(tmp_path: Path) -> None:
    layout = parse_layout(json.loads(LAYOUTS[0].read_text()))
    data = sheets_archive(layout)
    assert data == sheets_archive(layout)
    path = tmp_path / "sheets.zip"
    path.write_bytes(data)
    assert parse_layout(read_file(path).document).pipes == layout.pipes


def test_sheets_in_a_folder_are_found_from_one_of_them(tmp_path: Path) -> None:
    (tmp_path / "pipes.csv").write_text(PIPES)
    (tmp_path / "valves.csv").write_text("id,pipe,station,state\nV,P1,12 ft 3 in,closed\n")
    for path in (tmp_path, tmp_path / "pipes.csv"):
        layout = parse_layout(read_file(path).document)
        assert layout.pipes[0].length == pytest.approx(24.5 * 0.3048)  # by hand
        assert layout.valves[0].station == pytest.approx(12.25 * 0.3048)  # by hand


def test_every_fault_of_all_sheets_is_told_with_its_cell() -> None:
    bad = PIPES.replace("24.5,ft", "24.5,furlong") + "P1,J1,J9,2,copper,3,m\n"
    with pytest.raises(LayoutFaults) as raised:
        read_sheets(sheets(pipes=bad, plugs="id,pipe,station,jacket\nA,P7,1 m,12\n"), name="bad")
    places = {f.pointer for f in raised.value.faults}
    assert "/pipes.csv/2/length" in places
    assert "/pipes.csv/3/size" in places
    assert "/plugs.csv/2/jacket" in places
    assert "/plugs.csv/2/pipe" in places


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"valves": "id\nV\n"}, "is required and is not there"),
        ({"pipes": PIPES.replace("size", "siz")}, "is no column of this sheet"),
        ({"pipes": PIPES.replace("size", "from")}, "is the heading of two columns"),
        ({"pipes": PIPES + "P2,J1,J2,NPS 2,copper,3,m,more\n"}, "has more cells than"),
        ({"pipes": 'id,from\n"P1,J1\n'}, "is not CSV"),
    ],
)
def test_a_sheet_that_can_not_be_used_says_why(given: dict[str, str], says: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        read_sheets(sheets(**given), name="bad")
    assert any(says in f.problem for f in raised.value.faults)


def test_an_archive_that_unpacks_to_too_much_is_refused(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("pipes.csv", b"\0" * (257 * 1024 * 1024))
    path = tmp_path / "bomb.zip"
    path.write_bytes(out.getvalue())
    with pytest.raises(LayoutFaults) as raised:
        read_file(path)
    assert "comes to more than" in raised.value.faults[0].problem
