"""What can not be meant is refused, with both statements named; what agrees is accepted."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.document.contradictions import Said
from layoutcheck.quantities import parse_length, parse_volume, rounding
from tests.document import slips
from tests.document.slips import ELEVATION, REFUSED, SCALED, both, document, pipe, put, room
from tests.sites.broken import sound
from tests.sites.builder import Document


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_a_slip_is_refused_where_it_stands(name: str) -> None:
    edit, pointer, words = REFUSED[name]
    with pytest.raises(LayoutFaults) as refused:
        parse_layout(document(edit))
    told = {f.pointer: f for f in refused.value.faults}
    assert set(told) == {pointer}
    assert words in told[pointer].problem
    assert told[pointer].example and told[pointer].found


# Written out: 2860 ft2 x 10 ft = 28600 ft3; 2857 ft2 x 10 ft = 28570 ft3, and 28600 is written to
# the hundred. 2860 cfm x 60 / 28600 ft3 = 6 an hour. 998 kg/m3 x 9.80665 m/s2 x 40 ft = 119.3 kPa =
# 17.3 psi. P1 drawn 40 units, 0.5 ft each: 20 ft. NPS 2 sch 40 is 2.375 in by 0.154 in by
# ASME B36.10M, the table of the fluids library.
ACCEPTED: dict[str, Callable[[Document], None]] = {
    "volume as area and height have it": room(),
    "volume rounded": room(floor_area="2857 ft2"),
    "air changes as the flow has them": room(ventilation="2860 cfm", air_changes="6 per hour"),
    "a length as drawn": both(SCALED, pipe(3, length="28 ft")),
    "a height as drawn": both(ELEVATION, pipe(3, length="20 ft")),
    "a wall as its schedule has it": pipe(0, **slips._SIZED),
    "a tank's pressure as its level has it": both(
        put("outlets", value=[]), slips.add("sources", **slips.ROOF, pressure="17.3 psi")
    ),
    "stock in two lines": put(
        "site", "stock", value=[slips.STOCK, {**slips.STOCK, "mass_each": "60 lb"}]
    ),
    "a tank with a level": slips.add("equipment", **slips.TANK),
    "a pipe that goes on": both(
        put("outlets", value=[]), put("junctions", 3, "goes_on", value="fed")
    ),
    "one word": pipe(0, meant="length"),
    "words": lambda made: made["pipes"][0].update(meant=["length", "apart"]),
    "a name": pipe(0, low_temperature_accepted_by="J. Larkin"),
}


@pytest.mark.parametrize("name", sorted(ACCEPTED))
def test_what_agrees_is_accepted(name: str) -> None:
    parse_layout(document(ACCEPTED[name]))


@given(st.sampled_from(["0 ft", "0.5 ft", "10.05 ft", "1 1/2 in", "24 ft 6 in"]))
def test_a_zero_that_belongs_there_is_read(text: str) -> None:
    assert parse_length(text) >= 0.0


def test_numbers_with_leading_zeros_are_refused_in_yaml_which_reads_them_as_octal() -> None:
    with pytest.raises(LayoutFaults) as refused:
        read_text("cylinders: 012\n", suffix=".yaml")
    assert "without its zero" in refused.value.faults[0].problem


# The last place written, halved; fractions by their lower number, inches after feet in inches.
@pytest.mark.parametrize(
    ("text", "half"),
    [
        ("24.5 m", 0.05),
        ("24 m", 0.5),
        ("20 m", 0.5),
        ("28600 m", 50.0),
        ("1000 m", 5.0),
        ("6 1/2 in", 0.25 * 0.0254),
        ("24 ft 6 in", 0.5 * 0.0254),
        ("24'-6 1/4\"", 0.125 * 0.0254),
        ("0 m", 0.0),
    ],
)
def test_rounding_is_half_of_the_last_place(text: str, half: float) -> None:
    assert rounding(text, parse_length(text)) == pytest.approx(half)


def test_rounding_follows_the_unit() -> None:
    assert rounding("300 L", parse_volume("300 L")) == pytest.approx(0.0005)
    assert rounding(None, 1.0) == 0.0


def test_statements_agree_within_both_roundings() -> None:
    assert Said(10.0, 0.5).agrees(Said(10.5, 0.0))
    assert not Said(10.0, 0.3).agrees(Said(10.5, 0.0))


def test_the_document_of_the_slips_is_sound() -> None:
    parse_layout(sound())
