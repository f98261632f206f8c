"""The same site, written down otherwise, is judged the same.

Reordering must not change a byte of the report. Renaming, other units, a mirrored drawing, a pipe
written from its other end and a pipe cut in two at a plain joint must not change a verdict, an
outcome, or a length by more than a report's own rounding (1e-9 m) and that of the changed text.
Nothing here says what is right; it says that the answer does not hang on how a site is told.
"""

from __future__ import annotations

import copy
import json
import math
from collections import defaultdict
from collections.abc import Callable, Collection
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.network import build_network
from layoutcheck.quantities import parse_length
from layoutcheck.report import Report, check_document, run
from layoutcheck.report.model import Verdict
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.strategies import Document, documents
from tests.rules import changes
from tests.sizes import some

SITES = sorted(Path(__file__).parents[2].joinpath("fixtures").glob("*.json"))
CLOSE = 3e-9

Row = tuple[Any, ...]


@st.composite
def drawn(draw: st.DrawFn) -> Document:
    """Draw a site that is also drawn on paper, at random.

    The water's temperature is left out: no ice is computed then, and many sites can be judged.
    """
    document = draw(documents(plugs=(1, 3)))
    spots = st.tuples(st.integers(-20, 20), st.integers(-20, 20)).map(list)
    if draw(st.booleans()):
        for row in document["junctions"]:
            row["at"] = draw(spots)
    # Two plugs on one spot are no two plugs: which of them faces which way nobody can tell.
    spots_taken = {(p["pipe"], p["station"]): p for p in document["plugs"]}
    document["plugs"] = sorted(spots_taken.values(), key=lambda p: str(p["id"]))
    site = {k: v for k, v in document["site"].items() if k != "water_temperature"}
    return {**document, "site": site}


def as_told(text: str) -> str:
    return text


# What is asked of the writing, not of the site: stations told anew are told in metres.
NOT_COMPARED = {"mixed-units"}


def rows_of(report: Report, told: Callable[[str], str] = as_told) -> dict[Row, list[Row]]:
    """List the outcomes by rule and subject, with ids as first told."""
    rows: dict[Row, list[Row]] = defaultdict(list)
    for f in report.findings:
        subject = " + ".join(sorted(told(f.subject.id).split(" + ")))
        amounts = [None if a is None else a.value for a in (f.measured, f.required)]
        missing = sorted(map(told, f.missing))
        if f.rule in NOT_COMPARED:
            continue
        rows[f.rule, f.subject.kind, subject].append((f.outcome.value, f.reason, missing, *amounts))
    return {key: sorted(found, key=repr) for key, found in rows.items()}


def verdict_of(report: Report) -> Verdict:
    return run.verdict_of(f.outcome for f in report.findings if f.rule not in NOT_COMPARED)


def plugs_of(report: Report, told: Callable[[str], str] = as_told) -> dict[str, Row]:
    """List how each plug fares, and how far its nearest place is."""
    rows: dict[str, Row] = {}
    for p in report.plugs:
        travel = None if p.nearest is None else p.nearest.travel.value
        clear = None if p.clear_by is None else p.clear_by.value
        rows[told(p.id)] = (p.well_placed, p.no_place, travel, clear)
    return rows


def check_same(
    one: Report,
    two: Report,
    told: Callable[[str], str] = as_told,
    *,
    missing: bool = True,
    apart: Collection[str] = (),
) -> None:
    """Compare two reports of one site.

    missing: whether the same ids are there to be named. apart: plugs whose places are not compared.
    """
    first, second = rows_of(one), rows_of(two, told)
    assert set(first) == set(second)
    for key, found in first.items():
        for a, b in zip(found, second[key], strict=True):
            assert a[:2] == b[:2], (key, a, b)
            assert not missing or a[2] == b[2], (key, a, b)
            assert close(a[3:], b[3:]), (key, a, b)
    assert verdict_of(one) == verdict_of(two)
    ours, theirs = plugs_of(one), plugs_of(two, told)
    assert set(ours) == set(theirs)
    for name, row in ours.items():
        if name in apart:
            continue
        assert row[:2] == theirs[name][:2], (name, row, theirs[name])
        assert close(row[2:], theirs[name][2:]), (name, row, theirs[name])
    volumes = [r.drain.volume if r.drain else None for r in (one, two)]
    assert (volumes[0] is None) == (volumes[1] is None)
    if volumes[0] is not None and volumes[1] is not None:
        assert volumes[0].value == pytest.approx(volumes[1].value, abs=1e-8)


def close(one: Row, two: Row) -> bool:
    """Compare numbers that may be missing; a head or a mass may be large, so relatively too."""
    return all(
        math.isclose(a, b, rel_tol=1e-9, abs_tol=CLOSE) if None not in (a, b) else a is b
        for a, b in zip(one, two, strict=True)
    )


def ids_of(report: Report) -> list[str]:
    return sorted(f.id for f in report.findings if f.rule not in NOT_COMPARED)


def judged(document: Document) -> Report:
    """Judge a document as first told; each demo site is told many times over."""
    return _judged(json.dumps(document))


@lru_cache(maxsize=2)
def _judged(text: str) -> Report:
    return check_document(json.loads(text))


def lengths_of(document: Document) -> dict[str, float]:
    return dict(build_network(parse_layout(document)).pipe_length)


# --- each change, on any document ----------------------------------------------------------------


def check_reordered(document: Document, seed: int) -> None:
    one = judged(document)
    two = check_document(changes.reordered(document, seed))
    assert one.layout.digest == two.layout.digest
    assert one.to_json() == two.to_json()


def check_renamed(document: Document, seed: int | None) -> None:
    other, told = changes.renamed(document, seed)
    check_same(judged(document), check_document(other), told)


def check_units(document: Document) -> None:
    one, two = judged(document), check_document(changes.in_other_units(document))
    check_same(one, two)
    assert ids_of(one) == ids_of(two)


def check_mirrored(document: Document) -> None:
    one, two = judged(document), check_document(changes.mirrored(document))
    check_same(one, two)
    assert ids_of(one) == ids_of(two)


def check_reversed(document: Document, turn: set[str]) -> None:
    other = changes.reversed_pipes(document, lengths_of(document), turn)
    one, two = judged(document), check_document(other)
    check_same(one, two)
    assert ids_of(one) == ids_of(two)


def check_split(document: Document, at: dict[str, float]) -> None:
    other = changes.split(document, lengths_of(document), at)
    apart = spare_plugs(document)
    check_same(judged(document), check_document(other), missing=False, apart=apart)


def spare_plugs(document: Document) -> list[str]:
    """Name the plugs without which the work is cut off all the same.

    They hold back standing water, and where else they may do so is reckoned from joint to joint.
    """
    spare = []
    for row in document["plugs"]:
        others = [p for p in document["plugs"] if p is not row]
        case = Case.of(parse_layout({**document, "plugs": others}), default_pack())
        found = all_rules()["isolation"].judge(case)
        if all(j.outcome is not Outcome.BROKEN for j in found):
            spare.append(row["id"])
    return spare


def taken(document: Document, pipe: str, length: float) -> list[tuple[float, float]]:
    """List what stands on a pipe and at its ends, as spans of stations (m), in order."""
    row = next(p for p in document["pipes"] if p["id"] == pipe)
    spans = [(0.0, 0.0), (length, length)]
    for kind in ("fittings", "valves", "pumps", "equipment"):
        for thing in document.get(kind, []):
            half = parse_length(thing.get("body", "0 m")) / 2
            if thing.get("pipe") == pipe:
                at = parse_length(thing["station"])
                spans.append((at - half, at + half))
            if thing.get("junction") == row["from"]:
                spans.append((0.0, half))
            if thing.get("junction") == row["to"]:
                spans.append((length - half, length))
    for item in document.get("work", {}).get("open", []):
        if item.get("pipe") == pipe:
            spans += [(at, at) for at in (parse_length(item[k]) for k in ("start", "end"))]
    return sorted(spans)


def clear_station(document: Document, pipe: str, length: float) -> float | None:
    """Find a station in the middle of the longest bare stretch of a pipe; None if it has none."""
    spans = taken(document, pipe, length)
    for row in document["plugs"]:
        if row.get("pipe") == pipe:
            # Of a jacket over a joint, what lies beyond the joint is still counted as water that
            # drains. More is the safe side there, but it is a difference.
            at, half = parse_length(row["station"]), parse_length(row["jacket"]) / 2
            spans.append((at - half, at + half))
    gaps, here = [(0.0, 0.0)], 0.0
    for low, high in sorted(spans):
        gaps.append((low - here, (here + low) / 2))
        here = max(here, high)
    widest, middle = max(gaps)
    return middle if widest > 0.01 else None


def nothing_at_pipe_ends(document: Document, lengths: dict[str, float]) -> Document:
    """Leave out valves, pumps and equipment at the first or last station of a pipe.

    A bit of pipe of no length is left on one side of them, and the way the pipe is told says which.
    """

    def inside(row: Document) -> bool:
        if "pipe" not in row:
            return True
        return 1e-6 < parse_length(row["station"]) < lengths[row["pipe"]] - 1e-6

    kept = {k: [r for r in document[k] if inside(r)] for k in ("valves", "pumps", "equipment")}
    gone = {r["id"] for k in kept for r in document[k] if r not in kept[k]}
    opened = [r for r in document["work"]["open"] if not gone & set(r.values())]
    work = {**document["work"], "open": opened or [{"junction": document["junctions"][0]["id"]}]}
    return {**document, **kept, "work": work}


def without_plugs_on_things(document: Document, lengths: dict[str, float]) -> Document:
    """Leave out plugs centred on something: on which side of it they stand nothing tells.

    Such a plug breaks straight-run however it is read.
    """
    kept = []
    for row in document["plugs"]:
        at = parse_length(row["station"])
        spans = taken(document, row["pipe"], lengths[row["pipe"]])
        if not any(low - 1e-9 <= at <= high + 1e-9 for low, high in spans):
            kept.append(row)
    return {**document, "plugs": kept}


# --- on random sites -----------------------------------------------------------------------------


@settings(max_examples=some(30))
@given(drawn(), st.integers(0, 1000))
def test_order_changes_no_byte(document: Document, seed: int) -> None:
    check_reordered(document, seed)


@settings(max_examples=some(30))
@given(drawn(), st.one_of(st.none(), st.integers(0, 1000)))
def test_names_do_not_matter(document: Document, seed: int | None) -> None:
    check_renamed(document, seed)


@settings(max_examples=some(25))
@given(drawn())
def test_units_do_not_matter(document: Document) -> None:
    check_units(document)


@settings(max_examples=some(25))
@given(drawn())
def test_a_mirrored_drawing_is_the_same_site(document: Document) -> None:
    check_mirrored(document)


@settings(max_examples=some(60))
@given(drawn(), st.data())
def test_a_pipe_told_from_its_other_end_is_the_same_pipe(
    document: Document, data: st.DataObject
) -> None:
    ids = [p["id"] for p in document["pipes"]]
    lengths = lengths_of(document)
    document = without_plugs_on_things(nothing_at_pipe_ends(document, lengths), lengths)
    check_reversed(document, data.draw(st.sets(st.sampled_from(ids), min_size=1)))


@settings(max_examples=some(60))
@given(drawn(), st.data())
def test_a_plain_joint_changes_nothing(document: Document, data: st.DataObject) -> None:
    lengths = lengths_of(document)
    document = without_plugs_on_things(document, lengths)
    may = {n: clear_station(document, n, lengths[n]) for n in changes.may_split(document)}
    cuts = {n: at for n, at in may.items() if at is not None}
    if cuts:
        chosen = data.draw(st.sets(st.sampled_from(sorted(cuts)), min_size=1))
        check_split(document, {n: cuts[n] for n in chosen})


# --- on the demo sites ---------------------------------------------------------------------------


# By default a few sites: a ring, a plant room, one that is sound and one without a drawing.
BY_DEFAULT = {
    "no-drawing-sketch",
    "plant-room-sketch",
    "process-header-mended",
    "ring-main-sketch",
}


@pytest.fixture(
    scope="module",
    params=[
        pytest.param(p, id=p.stem, marks=() if p.stem in BY_DEFAULT else pytest.mark.nightly)
        for p in SITES
    ],
)
def site(request: pytest.FixtureRequest) -> Document:
    document: Document = json.loads(request.param.read_text(encoding="utf-8"))
    return copy.deepcopy(document)


def test_demo_sites_in_any_order(site: Document) -> None:
    check_reordered(site, 7)


def test_demo_sites_under_other_names(site: Document) -> None:
    check_renamed(site, None)
    check_renamed(site, 7)


def test_demo_sites_in_other_units(site: Document) -> None:
    check_units(site)


def test_demo_sites_mirrored(site: Document) -> None:
    check_mirrored(site)


def test_demo_sites_with_every_second_pipe_turned(site: Document) -> None:
    check_reversed(site, {p["id"] for p in site["pipes"][::2]})


def test_demo_sites_with_every_pipe_cut_in_two(site: Document) -> None:
    lengths = lengths_of(site)
    may = {n: clear_station(site, n, lengths[n]) for n in changes.may_split(site)}
    cuts = {n: at for n, at in may.items() if at is not None}
    assert cuts
    check_split(site, cuts)
