"""Plain joints change no answer: a pipe drawn as two like pipes in line is the same pipe.

A random pipe of a random invented site is parted at a random place by a joint that has no fitting,
with all that stands on it given anew. What may stand where, and what mends all plugs, must be the
same to the micrometre.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.placement import place_plug
from layoutcheck.planning.mend import mend
from layoutcheck.quantities import parse_length
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.oracles.strategies import STEP_INCHES, documents
from tests.plan.test_mend import marked_sites
from tests.sizes import some

Site = dict[str, Any]
# A site, the same with a pipe parted, that pipe, and where (m).
Parted = tuple[Site, Site, str, float]
INCH = 0.0254
# What intervals and programmes are exact to, a few times over.
NEAR = 5e-6
_ON_PIPES = ("valves", "pumps", "equipment", "fittings", "plugs")


def inches(text: str) -> float:
    return parse_length(text) / INCH


def split(site: Site, pipe_id: str, at: float) -> Site | None:
    """Part a pipe at a station (inches); None where something stands there."""
    made = copy.deepcopy(site)
    pipe = next(p for p in made["pipes"] if p["id"] == pipe_id)
    length = inches(pipe["length"])
    if not _is_bare(made, pipe, at, length):
        return None
    heights = {j["id"]: j.get("elevation") for j in made["junctions"]}
    low, high = (inches(heights[e]) for e in (pipe["from"], pipe["to"]))
    joint = {"id": "JOINT", "elevation": f"{(low + (high - low) * at / length) * INCH!r} m"}
    rest = {**pipe, "id": f"{pipe_id}-B", "from": "JOINT", "length": f"{length - at!r} in"}
    rows = [row for name in _ON_PIPES for row in made.get(name) or ()]
    for row in (*rows, *made["work"]["open"]):
        if row.get("pipe") == pipe_id and inches(row.get("start", row.get("station"))) > at:
            row["pipe"] = rest["id"]
            for key in {"start", "end", "station"} & set(row):
                row[key] = f"{inches(row[key]) - at!r} in"
    pipe |= {"to": "JOINT", "length": f"{at!r} in"}
    made["pipes"].append(rest)
    made["junctions"].append(joint)
    return made


def _is_bare(site: Site, pipe: Site, at: float, length: float) -> bool:
    """Tell whether a station (inches) lies on bare pipe, with nothing on it but a jacket."""
    spans = []
    for row in (row for name in _ON_PIPES for row in site.get(name) or ()):
        half = inches(row.get("body", "0 in")) / 2
        if row.get("pipe") == pipe["id"]:
            spans.append((inches(row["station"]) - half, inches(row["station"]) + half))
        if row.get("junction") in (pipe["from"], pipe["to"]):
            spans += [(0.0, half), (length - half, length)]
    opened = [row for row in site["work"]["open"] if row.get("pipe") == pipe["id"]]
    spans += [(inches(row["start"]), inches(row["end"])) for row in opened]
    return all(at < low - 1e-6 or at > high + 1e-6 for low, high in spans)


@st.composite
def parted(draw: st.DrawFn, sites: st.SearchStrategy[Site]) -> tuple[Site, Site, str, float]:
    """Draw a site, and the same with one pipe parted; with the pipe and where (m)."""
    site = draw(sites)
    long = [p["id"] for p in site["pipes"] if inches(p["length"]) >= 2 * STEP_INCHES]
    assume(long)
    pipe = draw(st.sampled_from(long))
    length = inches(next(p["length"] for p in site["pipes"] if p["id"] == pipe))
    at = draw(st.integers(1, 15)) / 16 * length
    made = split(site, pipe, at)
    assume(made is not None)
    assert made is not None
    return site, made, pipe, at * INCH


def case_of(site: Site) -> Case:
    try:
        return Case.of(parse_layout(site), default_pack())
    except LayoutFaults:
        assume(False)
        raise


def as_before(pipe: str, at: float, name: str, station: float) -> tuple[str, float]:
    """Give a station on the parted pipe as it was before."""
    return (pipe, station + at) if name == f"{pipe}-B" else (name, station)


def stretches(case: Case, plug: str, pipe: str, at: float) -> list[tuple[str, float, float]]:
    rows = []
    for c in place_plug(case, case.plug(plug)).clear:
        (name, start), (_, end) = (as_before(pipe, at, c.pipe, x) for x in (c.start, c.end))
        rows.append((name, start, end))
    joined: list[tuple[str, float, float]] = []
    for name, start, end in sorted(rows):
        if joined and joined[-1][0] == name and start - joined[-1][2] <= NEAR:
            joined[-1] = (name, joined[-1][1], max(joined[-1][2], end))
        else:
            joined.append((name, start, end))
    return joined


def alike(first: list[tuple[str, float, float]], second: list[tuple[str, float, float]]) -> bool:
    return [r[0] for r in first] == [r[0] for r in second] and [
        x for r in first for x in r[1:]
    ] == pytest.approx([x for r in second for x in r[1:]], abs=NEAR)


def same_clear(drawn: Parted) -> None:
    """Hold what may stand where, and the nearest place of each plug, to those of the whole pipe."""
    whole, made, pipe, at = drawn
    before, after = case_of(whole), case_of(made)
    for plug in before.plugs:
        first = stretches(before, plug.id, pipe, at)
        assert alike(first, stretches(after, plug.id, pipe, at)), plug.id
        one, two = (place_plug(c, c.plug(plug.id)) for c in (before, after))
        assert one.isolates == two.isolates
        assert (one.nearest is None) == (two.nearest is None)
        if one.nearest is not None and two.nearest is not None:
            assert one.nearest.travel == pytest.approx(two.nearest.travel, abs=NEAR)
            place = as_before(pipe, at, two.nearest.pipe, two.nearest.station)
            assert (one.nearest.pipe, one.nearest.station) == (place[0], near(place[1]))


def same_mending(drawn: Parted) -> None:
    """Hold what mends all plugs, move by move, to what mends those of the whole pipe."""
    whole, made, pipe, at = drawn
    one, two = mend(case_of(whole)), mend(case_of(made))
    assert one.status == two.status
    assert {(e.kind, e.id) for e in one.done} == {(e.kind, e.id) for e in two.done}
    assert (one.used.over, one.used.corners) == (two.used.over, two.used.corners)
    assert one.travel == near(two.travel)
    before = {m.plug.id: (m.plug.pipe, m.plug.station) for m in one.moves}
    after = {m.plug.id: as_before(pipe, at, m.plug.pipe, m.plug.station) for m in two.moves}
    assert before.keys() == after.keys()
    for name, (own, station) in before.items():
        assert (own, station) == (after[name][0], near(after[name][1])), name


def near(length: float) -> Any:
    return pytest.approx(length, abs=NEAR)


_CLEAR = parted(documents(plugs=(1, 3)))
_MENDED = parted(marked_sites() | documents(plugs=(2, 3)))
_EVERY = list(HealthCheck)


@settings(max_examples=some(150), suppress_health_check=_EVERY)
@given(_CLEAR)
def test_clear_stretches_and_nearest_places(drawn: Parted) -> None:
    same_clear(drawn)


@settings(max_examples=some(60), suppress_health_check=_EVERY)
@given(_MENDED)
def test_the_joint_mending(drawn: Parted) -> None:
    same_mending(drawn)


@pytest.mark.nightly
@settings(max_examples=400, suppress_health_check=_EVERY)
@given(_CLEAR)
def test_clear_stretches_of_four_hundred_parted_pipes(drawn: Parted) -> None:
    same_clear(drawn)


@pytest.mark.nightly
@settings(max_examples=200, suppress_health_check=_EVERY)
@given(_MENDED)
def test_the_joint_mending_of_two_hundred_parted_pipes(drawn: Parted) -> None:
    same_mending(drawn)
