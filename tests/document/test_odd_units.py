"""Units of the other system, in documents that a reader of models began and people filled in."""

from __future__ import annotations

from typing import Any

from layoutcheck.document.odd_units import odd_units


def _of_a_model(length: str = "6.096 m", pressure: str = "65 psi") -> dict[str, Any]:
    """Sixty pipes of a model in metres; five values beside it in psi, feet and degF."""
    lengths = [length] + ["3.5 m"] * 59
    return {
        "pipes": [{"id": f"P{i}", "length": x, "ref": f"R{i}"} for i, x in enumerate(lengths)],
        "sources": [{"id": "MAIN", "pressure": pressure, "ref": "R99"}],
        "site": {"water_temperature": "52 degF", "clear_space": "12 in"},
        "plugs": [{"id": "A", "pipe": "P1", "station": "4 ft", "jacket": "1 ft"}],
    }


def test_psi_beside_a_model_in_metres_is_no_slip() -> None:
    # 5 of 65 values are imperial: fewer than one in ten, so they stood out while all were counted
    # as one hand's.
    assert odd_units(_of_a_model()) == ()


def test_a_slip_stands_out_among_what_was_read_and_among_what_was_said() -> None:
    # 1 of 60 lengths read; 1 of 5 values said. 10 bar was lost among 60 metric lengths before.
    assert odd_units(_of_a_model(length="20 ft")) == ("P0 length 20 ft",)
    assert odd_units(_of_a_model(pressure="10 bar")) == ("MAIN pressure 10 bar",)


def test_a_document_without_a_model_is_of_one_hand() -> None:
    data = _of_a_model()
    for element in data["pipes"]:
        del element["ref"]
    assert len(odd_units(data)) == 5
