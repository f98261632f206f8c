"""Nominal sizes, materials and pipe dimensions against published tables."""

import math

import pytest
from fluids.piping import nearest_pipe
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.quantities import (
    Material,
    QuantityError,
    SizeSeries,
    explicit_dimensions,
    parse_material,
    parse_size,
    pipe_dimensions,
)
from layoutcheck.quantities.pipes import TABLE
from layoutcheck.quantities.sizes import NPS_TO_DN, mixed
from tests.quantities import schedules

INCH = 0.0254

# ASME B36.10M, inch values: outside diameter and schedule 40 wall. From memory. The outside
# diameters and walls up to NPS 20 are also those of ASTM D1785, which a test below reads.
STEEL_SCH_40 = {
    "1/8": (0.405, 0.068),
    "1/4": (0.540, 0.088),
    "3/8": (0.675, 0.091),
    "1/2": (0.840, 0.109),
    "3/4": (1.050, 0.113),
    "1": (1.315, 0.133),
    "1 1/4": (1.660, 0.140),
    "1 1/2": (1.900, 0.145),
    "2": (2.375, 0.154),
    "2 1/2": (2.875, 0.203),
    "3": (3.500, 0.216),
    "3 1/2": (4.000, 0.226),
    "4": (4.500, 0.237),
    "5": (5.563, 0.258),
    "6": (6.625, 0.280),
    "8": (8.625, 0.322),
    "10": (10.750, 0.365),
    "12": (12.750, 0.406),
    "14": (14.0, 0.438),
    "16": (16.0, 0.500),
    "18": (18.0, 0.562),
    "20": (20.0, 0.594),
    "24": (24.0, 0.688),
}
STEEL_SIZES_WITHOUT_SCH_40 = {"22"}

# Copper Tube Handbook (Copper Development Association), Table 14.2f, as read: nominal size, then
# wall (in) and weight (lb/ft) of type K, then of type L.
HANDBOOK_COPPER = {
    "1/4": (0.035, 0.145, 0.030, 0.126),
    "3/8": (0.049, 0.269, 0.035, 0.198),
    "1/2": (0.049, 0.344, 0.040, 0.285),
    "3/4": (0.065, 0.641, 0.045, 0.455),
    "1": (0.065, 0.839, 0.050, 0.655),
    "1 1/4": (0.065, 1.04, 0.055, 0.884),
    "1 1/2": (0.072, 1.36, 0.060, 1.14),
    "2": (0.083, 2.06, 0.070, 1.75),
    "2 1/2": (0.095, 2.93, 0.080, 2.48),
    "3": (0.109, 4.00, 0.090, 3.33),
    "3 1/2": (0.120, 5.12, 0.100, 4.29),
    "4": (0.134, 6.51, 0.110, 5.38),
    "5": (0.160, 9.67, 0.125, 7.61),
    "6": (0.192, 13.9, 0.140, 10.2),
    "8": (0.271, 25.9, 0.200, 19.3),
}

# ASTM B88M Table 1, as read in a reproduction: outside diameter and walls of types A, B and C (mm),
# which are the metric counterparts of K, L and M. Keyed by the inch size that each one rounds.
METRIC_COPPER = {
    "3/8": (12.0, 1.2, 0.90, 0.60),
    "1/2": (15.0, 1.2, 1.0, 0.70),
    "3/4": (22.0, 1.6, 1.1, 0.80),
    "1": (28.0, 1.6, 1.2, 0.90),
    "1 1/4": (35.0, 1.6, 1.4, 1.1),
    "1 1/2": (42.0, 1.8, 1.5, 1.2),
    "2": (54.0, 2.1, 1.7, 1.5),
    "2 1/2": (67.0, 2.4, 2.0, 1.6),
    "3": (79.0, 2.8, 2.3, 1.8),
    "4": (105.0, 3.4, 2.8, 2.4),
    "5": (130.0, 4.0, 3.1, 2.7),
    "6": (156.0, 4.8, 3.5, 3.1),
    "8": (206.0, 6.8, 5.0, 4.3),
    "10": (257.0, 8.5, 6.3, 5.4),
    "12": (308.0, 10.3, 7.1, 6.4),
}


@pytest.mark.parametrize(
    ("text", "canonical", "inches", "dn", "series"),
    [
        ("NPS 2", "NPS 2", 2, 50, SizeSeries.NPS),
        ("nps2", "NPS 2", 2, 50, SizeSeries.NPS),
        ("NPS 1/2", "NPS 1/2", 0.5, 15, SizeSeries.NPS),
        ("NPS 1-1/4", "NPS 1 1/4", 1.25, 32, SizeSeries.NPS),
        ("1 1/4 in", "1 1/4 in", 1.25, 32, SizeSeries.NPS),
        ("1¼”", "1 1/4 in", 1.25, 32, SizeSeries.NPS),
        ("1.25 in", "1 1/4 in", 1.25, 32, SizeSeries.NPS),
        ('2"', "2 in", 2, 50, SizeSeries.NPS),
        ("DN50", "DN 50", 2, 50, SizeSeries.DN),
        ("dn 300", "DN 300", 12, 300, SizeSeries.DN),
        ("2 in copper tube", "2 in copper tube", 2, 50, SizeSeries.TUBE),
    ],
)
def test_sizes(text: str, canonical: str, inches: float, dn: int, series: SizeSeries) -> None:
    size = parse_size(text)
    assert (size.text, size.inches, size.dn, size.series) == (canonical, inches, dn, series)
    assert parse_size(size.text) == size


@pytest.mark.parametrize(
    ("value", "problem"),
    [
        ("NPS 7", "nearest are NPS 5, NPS 6 and NPS 8"),
        ("DN 60", "nearest are DN 40, DN 50 and DN 65"),
        ("NPS 60", "nearest are NPS 20, NPS 22 and NPS 24"),
        ("50 mm", "write it with DN"),
        ("2", "needs NPS, DN or in"),
        ("2 ft", "written with NPS, DN or in"),
        ("NPS", "number is missing"),
        ("NPS -2", "number is missing"),
        ("11/2 in", "not less than one"),
        (2, "needs its unit"),
        (None, "must be text"),
        (True, "must be text"),
    ],
)
def test_refused_sizes_say_why(value: object, problem: str) -> None:
    with pytest.raises(QuantityError, match=problem):
        parse_size(value)


def test_nps_and_dn_pairs() -> None:
    # ASME B36.10M correspondence table, from memory, in the order of the sizes.
    expected = [6, 8, 10, 15, 20, 25, 32, 40, 50, 65, 80, 90, 100, 125, 150, 200, 250, 300]
    expected += [350, 400, 450, 500, 550, 600]
    assert list(NPS_TO_DN.values()) == expected
    assert list(NPS_TO_DN) == sorted(NPS_TO_DN)
    for inches, dn in NPS_TO_DN.items():
        assert parse_size(f"DN {dn}").inches == parse_size(f"NPS {mixed(inches)}").inches


@pytest.mark.parametrize(
    ("text", "material"),
    [
        ("Carbon Steel", Material.CARBON_STEEL),
        ("black steel", Material.CARBON_STEEL),
        ("mild steel", Material.CARBON_STEEL),
        ("304 stainless", Material.STAINLESS_STEEL),
        ("316L", Material.STAINLESS_STEEL),
        ("CI", Material.CAST_IRON),
        ("DI", Material.DUCTILE_IRON),
        ("PE", Material.HDPE),
        ("galvanised steel", Material.GALVANIZED_STEEL),
        ("unknown", Material.UNKNOWN),
    ],
)
def test_materials(text: str, material: Material) -> None:
    assert parse_material(text) is material


@pytest.mark.parametrize(
    "value", ["steel", "iron", "plastic", "black pipe", "wood", "", 3, None, []]
)
def test_a_material_that_is_not_clear_is_refused(value: object) -> None:
    with pytest.raises(QuantityError):
        parse_material(value)


@pytest.mark.parametrize("material", Material)
def test_every_material_reads_its_own_name(material: Material) -> None:
    assert parse_material(material.value.upper()) is material


@pytest.mark.parametrize("nominal", STEEL_SCH_40)
def test_steel_schedule_40(nominal: str) -> None:
    outside, wall = STEEL_SCH_40[nominal]
    found = pipe_dimensions(parse_size(f"NPS {nominal}"), Material.CARBON_STEEL, "sch 40")
    # The metric columns of the standard round the diameter to as much as 0.4 mm (NPS 24: 610 for
    # 609.6) and the wall to 0.01 mm.
    assert found.outside_diameter == pytest.approx(outside * INCH, abs=0.41e-3)
    assert found.wall == pytest.approx(wall * INCH, abs=0.011e-3)
    assert found.standard == "ASME B36.10M"


def test_every_size_up_to_24_is_covered() -> None:
    sizes = {mixed(inches) for inches in NPS_TO_DN}
    assert sizes == set(STEEL_SCH_40) | STEEL_SIZES_WITHOUT_SCH_40


@pytest.mark.parametrize("nominal", STEEL_SIZES_WITHOUT_SCH_40)
def test_a_wall_that_is_not_made_is_refused(nominal: str) -> None:
    with pytest.raises(QuantityError, match="no such wall in this size"):
        pipe_dimensions(parse_size(f"NPS {nominal}"), Material.CARBON_STEEL, None)


@pytest.mark.parametrize("nominal", STEEL_SCH_40)
def test_steel_and_pvc_schedule_40_share_their_dimensions(nominal: str) -> None:
    # ASTM D1785 takes iron pipe sizes; its table in fluids is separate, and in inches.
    size = parse_size(f"NPS {nominal}")
    steel = pipe_dimensions(size, Material.CARBON_STEEL, "40")
    pvc = pipe_dimensions(size, Material.PVC, "40")
    assert pvc.outside_diameter == pytest.approx(steel.outside_diameter, abs=0.41e-3)
    assert pvc.wall == pytest.approx(steel.wall, abs=0.05e-3)  # 0.687 in against 0.688 in


@pytest.mark.parametrize("schedule", ["5S", "10S", "40S", "80S"])
def test_stainless_schedules_come_from_b36_19m(schedule: str) -> None:
    found = pipe_dimensions(parse_size("NPS 2"), Material.STAINLESS_STEEL, f"Sch. {schedule}")
    _, bore, outside, wall = nearest_pipe(NPS=2, schedule=schedule)
    assert (found.inside_diameter, found.outside_diameter, found.wall) == (bore, outside, wall)
    assert found.standard == "ASME B36.19M"
    with pytest.raises(QuantityError, match="no such wall"):
        pipe_dimensions(parse_size("NPS 2"), Material.CARBON_STEEL, schedule)


@pytest.mark.parametrize("nominal", HANDBOOK_COPPER)
@pytest.mark.parametrize("kind", ["K", "L"])
def test_copper_walls_and_weights(nominal: str, kind: str) -> None:
    wall, weight = HANDBOOK_COPPER[nominal][:2] if kind == "K" else HANDBOOK_COPPER[nominal][2:]
    found = pipe_dimensions(parse_size(f"{nominal} in"), Material.COPPER, f"type {kind}")
    assert found.wall == pytest.approx(wall * INCH, rel=1e-12)
    # Weight ties wall and outside diameter together. Density of copper 0.323 lb/in3 (8.94 g/cm3,
    # from memory). The handbook rounds weights to three digits: 1 %.
    inches = (found.outside_diameter - found.wall) / INCH
    assert math.pi * inches * wall * 0.323 * 12 == pytest.approx(weight, rel=0.01)


@pytest.mark.parametrize("nominal", METRIC_COPPER)
@pytest.mark.parametrize("kind", ["K", "L", "M"])
def test_copper_agrees_with_the_metric_standard_to_its_rounding(nominal: str, kind: str) -> None:
    outside, *walls = METRIC_COPPER[nominal]
    found = pipe_dimensions(parse_size(f"{nominal} in"), Material.COPPER, kind)
    # B88M is a hard conversion: diameters to a whole mm (15 for 15.9), walls to 0.1 mm, mostly
    # downward. It checks the table for slips, not to the last digit.
    assert found.outside_diameter == pytest.approx(outside / 1000, abs=0.9e-3)
    assert found.wall == pytest.approx(walls["KLM".index(kind)] / 1000, abs=0.09e-3)


@pytest.mark.parametrize("text", ["2 in", "NPS 2", "DN 50", "2 in copper tube"])
def test_copper_is_tube_however_its_size_is_named(text: str) -> None:
    found = pipe_dimensions(parse_size(text), Material.COPPER, None)
    assert found.outside_diameter == pytest.approx(2.125 * INCH)  # ASTM B88: nominal + 1/8 in
    assert (found.standard, found.wall_name) == ("ASTM B88", "type L (assumed)")


def test_ductile_iron() -> None:
    # AWWA C151: 4.80 in outside, 0.25 in for pressure class 350, 0.29 in for class 52; as read.
    size = parse_size("NPS 4")
    assumed = pipe_dimensions(size, Material.DUCTILE_IRON, None)
    assert assumed.outside_diameter == pytest.approx(4.80 * INCH)
    assert assumed.wall == pytest.approx(0.25 * INCH)
    assert assumed.wall_name == "class 350 (assumed)"
    assert "lining not counted" in assumed.standard
    assert pipe_dimensions(size, Material.DUCTILE_IRON, "Class 52").wall == pytest.approx(
        0.29 * INCH
    )


def test_polyethylene_walls_follow_their_ratio() -> None:
    # A dimension ratio is outside diameter over wall, by definition. Tables round to 0.001 in.
    for ratio in ("7", "9", "11", "13.5", "17", "21"):
        found = pipe_dimensions(parse_size("NPS 6"), Material.HDPE, f"DR {ratio}")
        assert found.outside_diameter / found.wall == pytest.approx(float(ratio), rel=0.005)


@pytest.mark.parametrize(
    ("material", "wall"),
    [
        (Material.CAST_IRON, None),
        (Material.PEX, "SDR 9"),
        (Material.CPVC, None),
        (Material.HDPE, None),
        (Material.COPPER, "sch 40"),
        (Material.CARBON_STEEL, "type L"),
        (Material.CARBON_STEEL, ""),
        (Material.CARBON_STEEL, "x" * 1000),
        (Material.PVC, "DR 18"),
    ],
)
def test_a_pipe_in_no_table_is_refused(material: Material, wall: str | None) -> None:
    with pytest.raises(QuantityError) as caught:
        pipe_dimensions(parse_size("NPS 2"), material, wall)
    assert len(str(caught.value)) < 400


def test_a_tube_size_can_not_be_steel() -> None:
    with pytest.raises(QuantityError, match="copper tube size"):
        pipe_dimensions(parse_size("2 in copper tube"), Material.CARBON_STEEL, None)


@given(
    st.sampled_from(sorted(NPS_TO_DN)),
    st.sampled_from(Material),
    st.sampled_from([None, "sch 40", "STD", "XS", "10S", "K", "L", "M", "class 52", "DR 11", "80"]),
)
def test_dimensions_always_hold_together(
    inches: float, material: Material, wall: str | None
) -> None:
    size = parse_size(f"DN {NPS_TO_DN[inches]}")  # type: ignore[index]
    try:
        found = pipe_dimensions(size, material, wall)
    except QuantityError:
        return
    assert 0 < found.wall < found.inside_diameter < found.outside_diameter
    assert found.inside_diameter + 2 * found.wall == pytest.approx(
        found.outside_diameter, abs=0.02e-3
    )
    assert found.wall_name.endswith("(assumed)") == (wall is None)


def test_explicit_dimensions() -> None:
    found = explicit_dimensions(2.375 * INCH, 0.154 * INCH)
    assert found.inside_diameter == pytest.approx(2.067 * INCH)  # derived by hand
    assert (found.standard, found.wall_name) == ("stated in the document", "stated")


@pytest.mark.parametrize(
    ("outside", "wall"),
    [
        (0.0, 0.0),
        (0.1, 0.0),
        (0.1, -0.01),
        (0.1, 0.05),
        (0.1, 0.2),
        (math.nan, 0.01),
        (0.1, math.inf),
    ],
)
def test_impossible_explicit_dimensions_are_refused(outside: float, wall: float) -> None:
    with pytest.raises(QuantityError):
        explicit_dimensions(outside, wall)


def test_the_kept_table_is_that_of_the_library() -> None:
    """Every row, made anew by the fluids library, which is needed for tests only."""
    assert TABLE.read_text(encoding="utf-8") == schedules.text()
