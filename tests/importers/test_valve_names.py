"""What a valve is by its name, in the tongues of models: a check valve is none to close."""

from __future__ import annotations

from pathlib import Path

import pytest

from layoutcheck.importers.dxf.propose import _block
from layoutcheck.importers.ifc.kinds import valve_kind
from layoutcheck.importers.own_names import read_names
from tests.importers.small_models import Small, by_id

# Trade words, common practice, no published source.
SPOKEN = {
    "Rueckschlagklappe": "check",
    "Armatur M_600 Rückschlagventil DN 50": "check",
    "Schwerkraftbremse": "check",
    "clapet anti-retour": "check",
    "válvula de retención": "check",
    "valvola di non ritorno": "check",
    "Keerklep": "check",
    "Check valve, ball type": "check",
    "Non-Return Valve": "check",
    "Absperrklappe": "butterfly",
    "Kugelhahn": "ball",
    "Flachschieber": "gate",
    "Schrägsitzventil": "globe",
    "Strangregulierventil": "balancing",
    "3-Wege-Regelventil PN16": "control",
    "Druckminderer": "pressure reducing",
    "Absperrventil": "other",
}


@pytest.mark.parametrize(("words", "kind"), SPOKEN.items())
def test_a_valve_is_what_its_name_says(words: str, kind: str) -> None:
    assert valve_kind("NOTDEFINED", "", words) == kind


def test_a_check_valve_is_one_whatever_its_mechanism() -> None:
    assert valve_kind("ISOLATING", "BALL", "Rückschlagventil") == "check"
    assert valve_kind("ISOLATING", "BALL", "Absperrventil") == "ball"


@pytest.mark.parametrize("name", ["RUECKSCHLAG_50", "CHECK-VALVE", "NRV", "Clapet-2"])
def test_a_block_of_a_drawing_too(name: str) -> None:
    assert _block(name) == 'kind = "valve"\nvalve = "check"'


def test_a_model_of_another_tongue_by_own_names(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcValve", "Ventil Werk Nord K", (2, 0, 0), (2.1, 0, 0))
    small.pipe("B", (2.1, 0, 0), (4, 0, 0))
    small.join("A", 1, "Ventil Werk Nord K", 0)
    small.join("Ventil Werk Nord K", 1, "B", 0)
    names = read_names('[valves]\n"check" = ["Werk Nord K"]')
    (valve,) = by_id(small.read(tmp_path, names=names), "valves").values()
    assert valve["kind"] == "check"
