"""Workbooks: the same sheets as the CSV form. Outside source: openpyxl writes them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from openpyxl import Workbook

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.read import read_file


def made(path: Path, length: object) -> Path:
    book = Workbook()
    book.remove(book.worksheets[0])
    pipes = book.create_sheet("Pipes")
    pipes.append(["id", "from", "to", "size", "material", "length", "length unit"])
    pipes.append(["P1", "A", "B", "DN 50", "Stahl verzinkt", length, "m"])
    pipes.append(["P2", "B", "C", "DN 50", "copper", None, None])
    valves = book.create_sheet("valves")
    valves.append(["id", "junction", "state"])
    valves.append(["V1", "B", "closed"])
    pumps = book.create_sheet("pumps")
    pumps.append(["id", "junction", "locked off"])
    pumps.append(["U1", "C", True])
    book.create_sheet("Notes from the estimator").append(["call back"])
    book.save(path)
    return path


def test_a_workbook_is_read_as_its_sheets_are(tmp_path: Path) -> None:
    imported = read_file(made(tmp_path / "site.xlsx", 12))
    layout = parse_layout(imported.document)
    first, second = layout.pipes
    assert first.length == pytest.approx(12.0)
    assert first.material.value == "galvanized steel"
    assert second.length is None  # an empty cell is a fact that nobody stated
    assert layout.valves[0].state == "closed"
    assert layout.pumps[0].locked_off is True
    assert any("notes from the estimator" in n.elements for n in imported.notes)


def test_a_fault_in_a_cell_is_told_with_its_place(tmp_path: Path) -> None:
    with pytest.raises(LayoutFaults) as raised:
        read_file(made(tmp_path / "site.xlsx", "twelve"))
    assert [f.pointer for f in raised.value.faults] == ["/sheet pipes/row 2/length"]


def test_what_is_no_workbook_is_one_clear_error(tmp_path: Path) -> None:
    path = tmp_path / "site.xlsx"
    path.write_text(json.dumps({}))
    with pytest.raises(LayoutFaults) as raised:
        read_file(path)
    assert "can not be read as a workbook" in raised.value.faults[0].problem
