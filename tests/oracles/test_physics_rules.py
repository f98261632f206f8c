"""The physics in the rules on random sites, against slow readings and against promises.

Each oracle is written anew here, over the network's nodes and pieces (which have oracles of their
own), without what it tests. All sites are invented.
"""

from __future__ import annotations

import json
import math
from collections import Counter, defaultdict
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layoutcheck.document.read import parse_layout
from layoutcheck.network import Network, Spot, Trust, World
from layoutcheck.network.cut import opened_pieces
from layoutcheck.network.held import held_water
from layoutcheck.network.model import PieceKind
from layoutcheck.report.run import check_document, glance
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.case import Case
from layoutcheck.rules.estimates import freeze_of
from layoutcheck.rules.heads import heads_of
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from layoutcheck.rules.sections import sections_of
from tests.oracles.strategies import STEP, Document, documents
from tests.sizes import some

# A pipe of its own dimensions, near those of its nominal size.
TWO = {"size": "NPS 2"}
THIN = {
    **TWO,
    "material": "carbon steel",
    "outside_diameter": "60 mm",
    "wall_thickness": "0.9 mm",
}
HOLDING, WALL = "holding-pressure", "wall-material"


# --- sites that try the physics -------------------------------------------------------------------


@st.composite
def under_pressure(draw: st.DrawFn, plugs: tuple[int, int] = (1, 3)) -> Document:
    """Draw sites, all stated, with heads about what ice and thin steel may be asked to bear."""
    site = draw(documents(junctions=6, extra=2, plugs=plugs))
    for source in site["sources"]:
        source["pressure"] = f"{draw(st.sampled_from([5, 20, 76, 120, 152, 180, 300]))} psi"
    tall = draw(st.sampled_from([1, 1, 8]))  # eight times as high and as long: tall risers
    if tall > 1:
        _stretch(site, tall)
    walls = [
        {"material": "copper", "wall": "type L"},
        {"material": "carbon steel", "wall": "sch 40"},
        # Thin enough for the stress ratio to count, and an odd size for the bore.
        THIN,
        {**TWO, "material": "cast iron", "outside_diameter": "64 mm", "wall_thickness": "6 mm"},
    ]
    for pipe in site["pipes"]:
        for key in ("material", "wall"):
            del pipe[key]
        pipe.update(draw(st.sampled_from(walls)))
    for plug in site["plugs"]:
        plug["coolant"] = draw(st.sampled_from(["carbon dioxide", "carbon dioxide", "nitrogen"]))
    return site


def _stretch(site: Document, times: int) -> None:
    """Make all heights and lengths, and the stations that go with them, larger."""

    def more(text: str) -> str:
        number, unit = text.split(" ")
        return f"{int(number) * times} {unit}"

    for junction in site["junctions"]:
        junction["elevation"] = more(junction["elevation"])
    for pipe in site["pipes"]:
        pipe["length"] = more(pipe["length"])
    for name in ("fittings", "valves", "pumps", "equipment", "plugs"):
        for row in site[name]:
            for key in ("station", "level"):
                if key in row:
                    row[key] = more(row[key])
    for item in site["work"]["open"]:
        for key in ("start", "end"):
            if key in item:
                item[key] = more(item[key])


@st.composite
def anything(draw: st.DrawFn) -> Document:
    """Draw sites in which anything may be missing, hot, plastic, unknown or absurd."""
    site = draw(under_pressure(plugs=(0, 3)))
    odd = [
        {"material": "PVC", "wall": "sch 40"},
        {**TWO, "material": "unknown", "outside_diameter": "60 mm", "wall_thickness": "3 mm"},
        {"material": "copper", "wall": "type L", "pressure_rating": "100 psi"},
        {**TWO, "material": "HDPE", "outside_diameter": "63 mm", "wall_thickness": "5.8 mm"},
    ]
    for pipe in site["pipes"]:
        if draw(st.integers(0, 3)) == 0:
            for key in ("material", "wall", "outside_diameter", "wall_thickness"):
                pipe.pop(key, None)
            pipe.update(draw(st.sampled_from(odd)))
    hot = [None, "33 degF", "50 degF", "140 degF", "200 degF"]
    place = {**site["site"], "water_temperature": draw(st.sampled_from(hot))}
    place["air_temperature"] = draw(st.sampled_from([None, "0 degF", "65 degF", "130 degF"]))
    place["room"] = draw(st.sampled_from([None, "R"]))
    place["rooms"] = [
        draw(st.sampled_from([room, {"id": "R"}, {**room, "air_changes": None}]))
        for room in place["rooms"]
    ]
    for key in ("volume", "floor_area", "flood_depth", "carbon_dioxide_meter"):
        if draw(st.integers(0, 7)) == 0:
            place["rooms"] = [{**room, key: None} for room in place["rooms"]]
    stored = draw(st.sampled_from([None, "65 degF", "100 degF", "-60 degF", "-100 degF"]))
    place["stock"] = [
        {**row, "cylinders": draw(st.sampled_from([0, 1, 5000])), "storage_temperature": stored}
        for row in place["stock"]
    ]
    if draw(st.integers(0, 3)) == 0:
        place["stock"].append({"coolant": "nitrogen", "cylinders": 3, "mass_each": "160 kg"})
    site["site"] = place
    for name, key in (
        ("junctions", "elevation"),
        ("sources", "pressure"),
        ("pumps", "shutoff_head"),
        ("equipment", "level"),
    ):
        for row in site[name]:
            if draw(st.integers(0, 7)) == 0:
                row.pop(key, None)
    if draw(st.integers(0, 7)) == 0:
        del site["work"]
    cleaned: Document = _without_nothing(site)
    return cleaned


def _without_nothing(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _without_nothing(v) for k, v in value.items() if v is not None}
    return [_without_nothing(v) for v in value] if isinstance(value, list) else value


def case_of(document: Document) -> Case:
    return Case.of(parse_layout(document), default_pack())


# --- sections, by walking -------------------------------------------------------------------------


def walk(network: Network, shut: set[int], start: int) -> set[int]:
    """Walk from a node over all pieces but those that are shut."""
    near = defaultdict(list)
    for piece in network.pieces:
        if piece.index not in shut:
            near[piece.u].append(piece.v)
            near[piece.v].append(piece.u)
    seen, queue = {start}, [start]
    while queue:
        for node in near[queue.pop()]:
            if node not in seen:
                seen.add(node)
                queue.append(node)
    return seen


def at(row: dict[str, Any], moment: str) -> str | None:
    """Give an element's stated state at a moment."""
    state = row.get("state")
    found: str | None = state.get(moment) if isinstance(state, dict) else state
    return found


def surely_open(document: Document, valve: str) -> bool:
    row = next(v for v in document["valves"] if v["id"] == valve)
    return at(row, "freezing") == "open" and row.get("kind") != "check"


def shut_for_good(document: Document, network: Network, shut: set[int]) -> set[int]:
    """Add the valves that the work shuts, where what is opened does not lie in the same part."""
    work = {n for place in network.work for n in place.nodes}
    states = {v["id"]: at(v, "working") for v in document["valves"]}
    closing = {
        p.index
        for p in network.pieces
        if p.kind is PieceKind.VALVE and p.index not in shut and states[p.element] == "closed"
    }
    return shut | {i for i in closing if not work & walk(network, shut, network.pieces[i].u)}


def sure_ways_out(document: Document, network: Network, nodes: set[int]) -> list[str]:
    """Name what surely takes pushed water: sources, tanks not locked off, outlets kept open."""
    found = [f"source {n}" for k in nodes for n in network.sources.get(k, ())]
    for row in document["equipment"]:
        locked = row.get("locked_off", False)
        locked = locked.get("freezing", False) if isinstance(locked, dict) else locked
        if not locked and any(row["id"] in network.tanks.get(k, ()) for k in nodes):
            found.append(f"tank {row['id']}")
    for row in document["outlets"]:
        here = any(row["id"] in network.outlets.get(k, ()) for k in nodes)
        work = {n for place in network.work for n in place.nodes}
        stays = at(row, "working") != "locked off" or bool(work & nodes)
        if at(row, "freezing") == "kept open" and here and stays:
            found.append(f"outlet {row['id']}")
    return sorted(found)


@settings(max_examples=some(150))
@given(documents(plugs=(1, 3)))
def test_sections_are_what_can_be_walked_to_from_a_plugs_face(document: Document) -> None:
    case = case_of(document)
    network = case.network
    plugged = {p.spot.piece for p in case.plugs}
    shut = set(plugged)
    for piece in network.pieces:
        if piece.kind is PieceKind.VALVE and not surely_open(document, piece.element):
            shut.add(piece.index)
    shut = shut_for_good(document, network, shut)
    wanted: Counter[tuple[frozenset[int], tuple[str, ...]]] = Counter()
    faces: dict[frozenset[int], list[str]] = defaultdict(list)
    for index in plugged:
        piece = network.pieces[index]
        here = sorted((p.spot.offset, p.id) for p in case.plugs if p.spot.piece == index)
        faces[frozenset(walk(network, shut, piece.u))].append(here[0][1])
        faces[frozenset(walk(network, shut, piece.v))].append(here[-1][1])
        for (_, one), (_, two) in pairwise(here):
            wanted[frozenset(), tuple(sorted((one, two)))] += 1
    for nodes, plugs in faces.items():
        wanted[nodes, tuple(sorted(plugs))] += 1
    sections = sections_of(case)
    assert Counter((frozenset(s.nodes), s.plugs) for s in sections) == wanted
    assert len({s.name for s in sections}) == len(sections)
    for section in sections:
        assert list(section.reliefs) == sure_ways_out(document, network, set(section.nodes))


@settings(max_examples=some(100))
@given(documents(plugs=(1, 2)))
def test_a_section_holds_all_its_pipe_but_what_is_under_jackets(document: Document) -> None:
    """The water of each section, added up piece by piece."""
    case = case_of(document)
    network = case.network
    plugged = {p.spot.piece: p for p in case.plugs}
    assume(len(plugged) == len(case.plugs))
    for section in sections_of(case):
        total = 0.0
        for piece in network.pieces:
            if piece.kind is not PieceKind.PIPE:
                continue
            area = math.pi / 4 * network.dimensions[piece.element].inside_diameter ** 2
            if piece.index not in plugged:
                total += area * piece.length if piece.u in section.nodes else 0.0
                continue
            plug = plugged[piece.index]
            near, far = plug.spot.offset - plug.jacket / 2, plug.spot.offset + plug.jacket / 2
            total += area * max(0.0, near) if piece.u in section.nodes else 0.0
            total += area * max(0.0, piece.length - far) if piece.v in section.nodes else 0.0
        assert math.fsum(s.volume for s in section.segments) == pytest.approx(total, abs=1e-12)


# --- heads, by sampling ---------------------------------------------------------------------------


@settings(max_examples=some(80))
@given(under_pressure(), st.lists(st.integers(0, 12), min_size=1, max_size=5))
def test_where_the_head_is_low_enough(document: Document, steps: list[int]) -> None:
    """Between 0 and 12 bar: a place lies in the stretch exactly when its head is low enough."""
    case = case_of(document)
    network, heads = case.network, heads_of(case)
    limits = np.array([1e5 * steps[i % len(steps)] for i in range(len(network.pieces))])
    stretches = heads.where_at_most(limits)
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE:
            continue
        for share in np.linspace(0.0, 1.0, 17):
            spot = Spot(piece.index, float(share) * piece.length)
            pressure = heads.at(spot).pressure
            assert pressure is not None
            inside = any(a - 1e-9 <= spot.offset <= b + 1e-9 for a, b in stretches.of(piece.index))
            over = pressure - limits[piece.index]
            if not 0.9 < over < 1.1:  # a pascal is let through
                assert inside == (over < 1.0), (pressure, limits[piece.index])


@settings(max_examples=some(80))
@given(under_pressure())
def test_the_head_is_the_highest_of_all_that_connects(document: Document) -> None:
    """Walk from each plug over what is not proven shut, and take the highest of all it meets."""
    case = case_of(document)
    network, layout = case.network, case.layout
    world = case.worlds.working(Trust.PROVEN)
    shut = {p.index for p in network.pieces if not world.connects[p.index]}
    pressures = {s.id: s.pressure for s in layout.sources}
    levels = {g.id: g.level for g in layout.equipment}
    for plug in case.plugs:
        nodes = walk(network, shut, network.pieces[plug.spot.piece].u)
        totals = [float(network.elevation[n]) for n in nodes]  # m of water
        for node in nodes:
            for name in network.sources.get(node, ()):
                totals.append((pressures[name] or 0.0) / 9806.65 + float(network.elevation[node]))
            totals += [levels[name] or 0.0 for name in network.tanks.get(node, ())]
        running = [p for p in world.running_pumps if network.pieces[p].u in nodes]
        rise = sum(10 * 6894.757293168 / 9806.65 for _ in running)  # every pump: 10 psi
        height = network.elevation_at(plug.spot)
        wanted = max(0.0, (max(totals) + rise - height) * 9806.65)
        assert heads_of(case).at(plug.spot).pressure == pytest.approx(wanted, abs=0.01)


# --- held water, by cutting -----------------------------------------------------------------------


@settings(max_examples=some(100))
@given(documents(plugs=(0, 2)), st.sampled_from([Trust.PROVEN, Trust.STATED]))
def test_held_water_by_cutting_each_piece(document: Document, trust: Trust) -> None:
    case = case_of(document)
    network, world = case.network, case.worlds.working(trust)
    plugged = {p.spot.piece for p in case.plugs}
    found = held_water(world, sorted(plugged))
    opened = opened_pieces(network)
    shut = {i for i in range(len(network.pieces)) if not world.connects[i]} | plugged
    shut -= opened
    before = reach_of_work(network, shut)
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE or piece.index in shut:
            continue
        if piece.index in opened:
            continue  # no plug counts there
        far = before - reach_of_work(network, shut | {piece.index})
        wanted = water_above(network, world, far, shut | {piece.index})
        assert found[piece.index] == pytest.approx(wanted, abs=1e-12), piece


def reach_of_work(network: Network, shut: set[int]) -> set[int]:
    found: set[int] = set()
    for node in {n for place in network.work for n in place.nodes}:
        if node not in found:
            found |= walk(network, shut, node)
    return found


def water_above(network: Network, world: World, nodes: set[int], shut: set[int]) -> float:
    lowest = min(float(network.elevation[n]) for place in network.work for n in place.nodes)
    total = 0.0
    for piece in network.pieces:
        both = piece.u in nodes and piece.v in nodes
        if piece.kind is not PieceKind.PIPE or piece.index in shut or not both:
            continue
        low, high = sorted(float(network.elevation[n]) for n in (piece.u, piece.v))
        if high <= lowest:
            continue
        share = 1.0 if low >= lowest else (high - lowest) / (high - low)
        bore = network.dimensions[piece.element].inside_diameter
        total += math.pi / 4 * bore**2 * piece.length * share
    return total


# --- promises -------------------------------------------------------------------------------------


@settings(max_examples=some(50))
@given(under_pressure())
def test_a_place_is_allowed_exactly_where_its_rule_holds(document: Document) -> None:
    """For the rules that go by head and wall, on every piece, each step and a half."""
    case = case_of(document)
    for name in (HOLDING, WALL):
        rule = all_rules()[name]
        assert isinstance(rule, PlacingRule)
        for plug in case.plugs:
            allowed = rule.allows(case, plug)
            for piece in case.network.pieces:
                if piece.kind is not PieceKind.PIPE:
                    continue
                spans = allowed.of(piece.index)
                count = max(1, math.ceil(piece.length / (4 * STEP)))
                for offset in np.linspace(0.0, piece.length, count + 1):
                    if any(abs(offset - end) < 2e-4 for span in spans for end in span if end > 0.0):
                        continue  # within the pascal that is let through
                    moved = case.moved(plug, Spot(piece.index, float(offset)))
                    own = moved.plug(plug.id)
                    holds = rule.judge_plug(moved, own).outcome is Outcome.HOLDS
                    inside = any(a <= offset <= b for a, b in spans)
                    good = inside and rule.settles(moved, own)
                    assert good == holds, (name, plug.id, piece, offset)


@settings(max_examples=some(60))
@given(under_pressure())
def test_no_plug_holds_that_does_not_surely_close(document: Document) -> None:
    case = case_of(document)
    for finding in all_rules()[HOLDING].judge(case):
        plug = case.plug(finding.subject.id)
        if finding.outcome is Outcome.HOLDS:
            freeze = freeze_of(case, plug)
            assert freeze.closes
            assert freeze.answer is not None
            # The solid length asked of the freeze bears the head with the factor of four, by hand.
            bore = case.dimensions_of(plug).inside_diameter
            pressure = heads_of(case).at(plug.spot).pressure
            assert pressure is not None
            length = 0.9 * freeze.answer.needed_solid_length
            assert 4 * (pressure - 2.0) <= 4 * 0.20e6 * length / bore
            assert 4 * (pressure - 2.0) <= 5e6
            assert freeze.answer.needed_solid_length <= plug.jacket * (1 + 1e-9)


@settings(max_examples=some(60))
@given(anything())
def test_no_rule_ever_fails_and_every_doubt_says_what_is_missing(document: Document) -> None:
    case = case_of(document)
    for finding in judge_case(case):
        assert finding.outcome is not Outcome.FAULT, finding
        assert "nan" not in finding.says.lower().split(), finding
        for amount in (finding.measured, finding.required):
            assert amount is None or math.isfinite(amount.value), finding
        if finding.outcome is Outcome.UNDECIDED:
            assert finding.missing, finding


@settings(max_examples=some(40))
@given(anything())
def test_a_report_is_plain_json_and_the_same_bytes_twice(document: Document) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in a report")

    first = glance(parse_layout(document)).to_json()
    json.loads(first, parse_constant=refuse)
    assert glance(parse_layout(json.loads(json.dumps(document)))).to_json() == first


def test_the_whole_check_is_the_same_bytes_twice() -> None:
    """Once with all its parts, on one small site with two plugs."""
    site: Document = {
        "format": "layoutcheck layout 1",
        "name": "An invented line between two mains",
        "junctions": [{"id": j, "elevation": "0 ft"} for j in ("S", "W", "T")],
        "pipes": [
            {"id": n, "from": a, "to": b, "size": "NPS 2", "material": "copper", "wall": "type L"}
            | {"length": "60 ft"}
            for n, a, b in (("one", "S", "W"), ("two", "W", "T"))
        ],
        "sources": [
            {"id": f"main {j}", "junction": j, "kind": "main", "pressure": "60 psi"} for j in "ST"
        ],
        "work": {"open": [{"junction": "W"}], "duration": "2 h"},
        "plugs": [
            {"id": n, "pipe": p, "station": "30 ft", "jacket": "12 in"}
            for n, p in (("A", "one"), ("B", "two"))
        ],
    }
    first, second = (check_document(json.loads(json.dumps(site))).to_json() for _ in range(2))
    assert first == second
