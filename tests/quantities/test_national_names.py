"""German and other national names of materials and walls.

Source of the dimensions: EN 10255:2004, table 2, from memory; DN 50 medium is 60.3 x 3.6 mm.
"""

import pytest

from layoutcheck.quantities import (
    Material,
    QuantityError,
    parse_material,
    parse_size,
    pipe_dimensions,
)


@pytest.mark.parametrize(
    ("text", "material"),
    [
        ("Stahl verzinkt", Material.GALVANIZED_STEEL),
        ("Stahl, verzinkt, DIN EN 10255", Material.GALVANIZED_STEEL),
        ("verzinktes Stahlrohr nach DIN 2440", Material.GALVANIZED_STEEL),
        ("Stahl schwarz", Material.CARBON_STEEL),
        ("Edelstahl", Material.STAINLESS_STEEL),
        ("1.4401", Material.STAINLESS_STEEL),
        ("Kupferrohr", Material.COPPER),
        ("EN 1057", Material.COPPER),
        ("acier galvanisé", Material.GALVANIZED_STEEL),
        ("acero inoxidable", Material.STAINLESS_STEEL),
    ],
)
def test_a_national_name_is_a_material(text: str, material: Material) -> None:
    assert parse_material(text) is material


@pytest.mark.parametrize("text", ["Stahl", "Guss", "EN 10255", "DIN 2440", "acier"])
def test_a_name_that_may_be_two_of_them_is_none(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_material(text)


@pytest.mark.parametrize(
    ("wall", "thick"), [("EN 10255 M", 3.6), ("DIN 2440", 3.6), ("schwer", 4.5)]
)
def test_a_galvanised_pipe_of_the_european_standard_has_its_dimensions(
    wall: str, thick: float
) -> None:
    found = pipe_dimensions(parse_size("DN 50"), Material.GALVANIZED_STEEL, wall)
    assert found.outside_diameter == pytest.approx(0.0603)
    assert found.wall == pytest.approx(thick / 1000)
    assert found.inside_diameter == pytest.approx(0.0603 - 2 * thick / 1000)


def test_a_size_that_is_not_made_is_told() -> None:
    with pytest.raises(QuantityError, match="not made in this size"):
        pipe_dimensions(parse_size("DN 200"), Material.CARBON_STEEL, "EN 10255 H")
