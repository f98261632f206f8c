"""What is printed is typed back in: no printed length may be worse than the exact one.

Each place that a report or a plan gives is read off its text, in both systems of units, and the
rules of place are asked again of the site with the plug there. Invented sites; nothing published.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.placement import away_from, read_into
from layoutcheck.quantities import UnitSystem, parse_length
from layoutcheck.report.mending import is_well_placed
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.run import check
from layoutcheck.report.sheet.build import build_sheet
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.oracles.strategies import documents
from tests.plan.small_sites import small_sites
from tests.plan.test_mend import marked_sites
from tests.sizes import some

Site = dict[str, Any]
# Rules forgive a micrometre; a reading may use a quarter of it.
FORGIVEN = 2.6e-7


def both(shown: str) -> list[str]:
    """Give the two texts of a length: what stands before the bracket, and what stands in it."""
    first, _, second = shown.partition(" (")
    return [first, second.removesuffix(")")]


def with_plug(site: Site, name: str, pipe: str, text: str) -> Site:
    """Give the site with a plug typed in at a place."""
    place = {"pipe": pipe, "station": text}
    rows = [
        {k: v for k, v in p.items() if k != "point"} | place if p["id"] == name else p
        for p in site["plugs"]
    ]
    return site | {"plugs": rows}


def sound(site: Site) -> Site:
    """Give a site that can be used; others are passed over."""
    try:
        parse_layout(site)
    except LayoutFaults:
        assume(False)
    return site


def fits(site: Site, *names: str) -> bool:
    """Ask the rules of place of some plugs of a site."""
    case = Case.of(parse_layout(site), default_pack())
    return all(is_well_placed(case, case.plug(name)) for name in names)


lengths = st.floats(0.0, 300.0, allow_nan=False)


@settings(max_examples=some(300))
@example(0.762, 0.0)  # exactly 30 in
@example(0.1, 0.0)  # a place with no room at all
@given(lengths, st.sampled_from([0.0, 1e-9, 1e-5, 3e-4, 1e-3, 2e-3, 1.0]))
def test_a_reading_lies_in_its_span(length: float, room: float) -> None:
    for span in ((length, length + room), (max(0.0, length - room), length)):
        for system in UnitSystem:
            reading = read_into(length, span, system)
            read = [parse_length(text) for text in both(reading.shown)]
            assert read == pytest.approx([reading.value, reading.other], abs=1e-12)
            for value in read:
                assert span[0] - FORGIVEN <= value <= span[1] + FORGIVEN


@given(lengths)
def test_a_limit_is_read_on_its_safe_side(length: float) -> None:
    for system in UnitSystem:
        up, down = (away_from(length, side, system) for side in (math.inf, -math.inf))
        assert all(parse_length(t) >= length - FORGIVEN for t in both(up.shown))
        assert all(parse_length(t) <= length + FORGIVEN for t in both(down.shown))
        # 1/16 in is the coarser step of the two.
        assert up.value - length <= 0.0254 / 16 + 1e-12


@settings(max_examples=some(60), suppress_health_check=list(HealthCheck))
@given(documents(plugs=(1, 2)), st.sampled_from(["imperial", "metric"]))
def test_single_places_pass_as_printed(site: Site, units: str) -> None:
    site = sound(site | {"units": units})
    report = check(parse_layout(site))
    for plug in report.plugs:
        places = [(s.pipe, m.shown) for s in plug.clear for m in (s.start, s.end)]
        if plug.nearest is not None:
            move = plug.nearest
            places += [(move.pipe, move.tape.shown), (move.pipe, move.station.shown)]
        if plug.well_placed and plug.at.station is not None:
            places.append((plug.at.pipe or "", plug.at.station.shown))
        for pipe, shown in places:
            for text in both(shown):
                assert fits(with_plug(site, plug.id, pipe, text), plug.id), (plug.id, pipe, text)


def _together(site: Site, text_of: Callable[[str], str]) -> Site:
    mending = check(parse_layout(site)).mending
    assume(mending is not None and mending.document is not None)
    assert mending is not None
    site = mending.document or {}
    for move in mending.moves:
        site = with_plug(site, move.plug, move.pipe, text_of(move.tape.shown))
        assert move.station.shown == move.tape.shown
    return site


@settings(max_examples=some(60), suppress_health_check=list(HealthCheck))
@given(marked_sites() | documents(plugs=(2, 3)), st.sampled_from(list(UnitSystem)))
def test_joint_proposals_pass_as_printed(site: Site, units: UnitSystem) -> None:
    site = sound(site | {"units": units.value})
    for number in (0, 1):
        moved = _together(site, lambda shown, n=number: both(shown)[n])  # type: ignore[misc]
        assert fits(moved, *(p["id"] for p in moved["plugs"]))


@pytest.mark.slow
@settings(max_examples=some(20), suppress_health_check=list(HealthCheck))
@given(small_sites(), st.sampled_from(list(UnitSystem)))
def test_plans_pass_as_printed(site: Site, units: UnitSystem) -> None:
    layout = parse_layout(sound(site | {"units": units.value}))
    for plan in plan_layout(layout, top=3).plans:
        names = [p.id for p in plan.plugs]
        for number in (0, 1):
            made: Site = plan.document
            for plug in plan.plugs:
                made = with_plug(made, plug.id, plug.pipe, both(plug.station.shown)[number])
            assert fits(made, *names) if names else True


def _printed_on_sheet(site: Site, plug: str) -> list[float]:
    """Give every station (m) of a plug's centre that the crew's sheet has them mark."""
    case = Case.of(parse_layout(site), default_pack())
    sheet = build_sheet(case.layout, check(case.layout))
    card = next(c for c in sheet.plugs if c.id == plug)
    there = case.plug(plug)
    found = []
    # The first mark is the pipe's start, the second its end: nothing else stands on it.
    ends = ((0.0, 1.0), (case.network.pipe_length[there.pipe], -1.0))
    for mark, (base, side) in zip(card.landmarks, ends, strict=True):
        found += [base + side * parse_length(t) for t in both(mark.to_centre)]
        half = there.jacket / 2
        found += [base + side * (parse_length(t) + half) for t in both(mark.to_jacket)]
    return found


def _two_on_a_line(jacket: float, stations: tuple[float, float], units: str) -> Site:
    """Give a bare line of three pipes, 5 m, 0.25 m and 5 m long, with a plug on each side.

    The joints between the pipes are flanges; nothing else is a mark for the tape.
    """
    pipes = []
    for n, long in enumerate(("5 m", "0.25 m", "5 m")):
        ends = {"from": "ABCD"[n], "to": "ABCD"[n + 1]}
        pipes.append({"id": f"P{n}", **ends, "length": long, "size": "NPS 2"})
    plugs = [
        {"id": f"F{n}", "pipe": f"P{n}", "station": f"{at!r} m", "jacket": f"{jacket!r} m"}
        for n, at in zip((0, 2), stations, strict=True)
    ]
    kinds = {"A": "flange", "B": "flange", "C": "flange", "D": "cap"}
    return {
        "format": "layoutcheck layout 1",
        "name": "an invented line with two plugs",
        "units": units,
        "site": {
            "material": "carbon steel",
            "wall": "40",
            "clear_space": "0.5 m",
            "water_temperature": "15 degC",
        },
        "junctions": [{"id": n, "fitting": k, "elevation": "0 m"} for n, k in kinds.items()],
        "pipes": pipes,
        "sources": [{"id": "main", "junction": "A", "kind": "main", "pressure": "2 bar"}],
        "plugs": plugs,
        "work": {"open": [{"pipe": "P1", "start": "0.1 m", "end": "0.15 m"}], "duration": "1 h"},
    }


@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@given(
    st.floats(0.2, 0.6),
    st.sampled_from([0.0, 1e-5, 1e-3, 0.01]),
    st.sampled_from(list(UnitSystem)),
)
def test_the_sheets_readings_pass_as_printed(jacket: float, room: float, units: UnitSystem) -> None:
    """Two plugs near their limits, and near each other: each reading of both, all at once."""
    stations = (2.5, 2.5)
    for name in ("F0", "F2"):
        report = check(parse_layout(_two_on_a_line(jacket, stations, units.value)))
        clear = next(p for p in report.plugs if p.id == name).clear
        own = [s for s in clear if s.pipe == name.replace("F", "P")]
        if name == "F0":
            stations = (max(s.end.value for s in own) - room, 2.5)
        else:
            stations = (stations[0], min(s.start.value for s in own) + room)
    site = _two_on_a_line(jacket, stations, units.value)
    assert fits(site, "F0", "F2")
    first, second = (_printed_on_sheet(site, name) for name in ("F0", "F2"))
    for one, two in product((min(first), max(first)), (min(second), max(second))):
        typed = with_plug(site, "F0", "P0", f"{one!r} m")
        assert fits(with_plug(typed, "F2", "P2", f"{two!r} m"), "F0", "F2"), (one, two)
