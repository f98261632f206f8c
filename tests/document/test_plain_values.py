"""A value of the wrong kind is refused by name, never turned into one that was not written."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from pydantic import BaseModel

from layoutcheck.document import Layout, LayoutFaults, parse_layout, read_text


def small(**rest: Any) -> dict[str, Any]:
    """An invented layout of one pipe."""
    return {
        "format": "layoutcheck layout 1",
        "name": "Invented",
        "junctions": [{"id": "J1", "at": [0, 0]}, {"id": "J2", "at": [0, 10.5]}],
        "pipes": [
            {
                "id": "P1",
                "from": "J1",
                "to": "J2",
                "size": "NPS 2",
                "material": "copper",
                "length": "10 ft",
            }
        ],
        **rest,
    }


def waiver(until: object) -> dict[str, Any]:
    return {
        "rule": "plug-spacing",
        "subject": "A",
        "reason": "Invented reason",
        "by": "R. Example",
        "until": until,
    }


def stock(**rest: Any) -> dict[str, Any]:
    row = {"coolant": "carbon dioxide", "cylinders": 2, "mass_each": "50 lb", **rest}
    return {"site": {"stock": [row]}}


@pytest.mark.parametrize(
    ("part", "pointer"),
    [
        (stock(cylinders="2"), "/site/stock/0/cylinders"),
        (stock(cylinders=True), "/site/stock/0/cylinders"),
        (stock(cylinders=2.5), "/site/stock/0/cylinders"),
        (stock(dip_tube="yes"), "/site/stock/0/dip_tube"),
        (stock(dip_tube="false"), "/site/stock/0/dip_tube"),
        (stock(upright=1), "/site/stock/0/upright"),
        (stock(mass_each="0 lb"), "/site/stock/0/mass_each"),
        ({"drawing": {"snap_within": "5"}}, "/drawing/snap_within"),
        ({"drawing": {"snap_within": True}}, "/drawing/snap_within"),
        # A number would have been read as seconds since 1970, and a moment cut to its day.
        ({"waivers": [waiver(20270331)]}, "/waivers/0/until"),
        ({"waivers": [waiver(0)]}, "/waivers/0/until"),
        ({"waivers": [waiver("20270331")]}, "/waivers/0/until"),
        ({"waivers": [waiver("2027-03-31T00:00:00")]}, "/waivers/0/until"),
        ({"waivers": [waiver("2027-02-30")]}, "/waivers/0/until"),
        ({"waivers": [waiver(None)]}, "/waivers/0/until"),
    ],
)
def test_a_value_of_the_wrong_kind_is_refused(part: dict[str, Any], pointer: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(small(**part))
    assert [fault.pointer for fault in raised.value.faults] == [pointer]
    assert raised.value.faults[0].example


def lax_places(schema: object, here: str = "") -> Iterator[str]:
    """Where pydantic would turn one kind of value into another on its own."""
    if isinstance(schema, dict):
        # A reader of ours stands before the type: a quantity, or a day.
        if schema.get("type") == "function-before":
            return
        plain = schema.get("type") in {"bool", "int", "float", "date"}
        if plain and "cls" not in schema and not schema.get("strict"):
            yield here
        for key, inner in schema.items():
            yield from lax_places(inner, f"{here}/{key}")
    elif isinstance(schema, list | tuple):
        for index, inner in enumerate(schema):
            yield from lax_places(inner, f"{here}/{index}")


def test_no_field_of_the_layout_takes_one_kind_for_another() -> None:
    # Use Flag, Day, Coordinate, or Field(strict=True).
    assert list(lax_places(Layout.__pydantic_core_schema__)) == []


@pytest.mark.parametrize("until", ["2027-03-31", date(2027, 3, 31)])
def test_a_day_is_read_as_text_or_as_yaml_gives_it(until: object) -> None:
    (read,) = parse_layout(small(waivers=[waiver(until)])).waivers
    assert read.until == date(2027, 3, 31)


@pytest.mark.parametrize(
    ("text", "suffix"),
    [('{"name": "\\ud800"}', ".json"), ('{"\\uDFFF": 1}', ".json"), ('name: "\\ud800"', ".yaml")],
)
def test_half_a_character_is_refused(text: str, suffix: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        read_text(text, suffix=suffix)
    # A report with it could not be written out as UTF-8.
    assert "half of a character" in raised.value.faults[0].problem


def test_a_whole_pair_and_its_plain_spelling_are_read() -> None:
    assert read_text('["\\ud83e\\uddca", "\\\\ud800"]') == ["\U0001f9ca", "\\ud800"]


def test_the_search_for_lax_places_finds_one() -> None:
    class Lax(BaseModel):
        count: int
        day: date | None = None

    assert len(list(lax_places(Lax.__pydantic_core_schema__))) == 2
