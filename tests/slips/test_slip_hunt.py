"""One slip of the keyboard never ends in 'compliant' unsaid: a seeded part of the hunt.

All of it: python -m tests.slips. The makers of slips and the marks are tried by hand here, so that
a hunt that finds nothing means something.
"""

from __future__ import annotations

import random
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from tests.sites.broken import sound
from tests.sites.every import DEMOS
from tests.slips.hunt import Fate, Tried, try_all
from tests.slips.keyboard import Slip, slips_of
from tests.slips.knowable import marks_of
from tests.slips.starts import start_of, starts_of_cases

# Of each start; the whole hunt tries hundreds.
SOME = 12
BAD = {Fate.LEFT, Fate.CRASHED}


def told(tried: Tried) -> str:
    return f"{tried.start}: {tried.slip.kind} {tried.slip.path} {tried.slip.value} {tried.marks}"


def test_no_slip_on_a_hand_worked_case_ends_in_compliant_unsaid() -> None:
    chance = random.Random(16)
    starts = starts_of_cases(step=7)
    bad, tried = [], 0
    for start in starts:
        slips = list(slips_of(start.document))
        for one in try_all(start, chance.sample(slips, min(SOME, len(slips)))):
            tried += one.fate is not Fate.NO_CHANGE
            bad += [told(one)] if one.fate in BAD else []
    assert tried > 200
    assert not bad


def test_no_slip_on_a_demo_site_s_sketch_ends_in_compliant_unsaid() -> None:
    chance = random.Random(16)
    for demo in DEMOS[3:6]:
        start = start_of(demo.name, demo.sketch())
        assert start is not None
        slips = chance.sample(list(slips_of(start.document)), 20)
        assert not [told(t) for t in try_all(start, slips) if t.fate in BAD]


@pytest.mark.parametrize(
    ("path", "kind", "value"),
    [
        (("pipes", 0, "length"), "unit", "20 m"),
        (("pipes", 0, "length"), "digit dropped", "2 ft"),
        (("pipes", 0, "length"), "digit doubled", "200 ft"),
        (("pipes", 0, "length"), "digits transposed", "02 ft"),
        (("pipes", 0, "length"), "point moved", "2.0 ft"),
        (("pipes", 0, "length"), "digit beside", "30 ft"),
        (("pipes", 3, "to"), "another's id", "J1"),
        (("pipes", 0, "to"), "key", "2J"),
        (("junctions", 1, "fitting"), "word swapped", "cap"),
        (("site", "stock", 0, "upright"), "word swapped", False),
        (("sources", 0, "pressure"), "unit", "60 kPa"),
        (("plugs", 0, "jacket"), "unit", "1 m"),
        (("pipes", 1, "from"), "another's statement", "J1"),
    ],
)
def test_the_likely_slips_are_among_those_tried(path: Any, kind: str, value: Any) -> None:
    made = [(s.path, s.kind, s.value) for s in slips_of(sound())]
    assert (path, kind, value) in made
    assert len({(s.path, s.how, repr(s.value)) for s in slips_of(sound())}) == len(made)


def test_a_slip_leaves_its_start_as_it_was() -> None:
    document = sound()
    before = repr(document)
    for slip in slips_of(document):
        assert slip.done_to(document) != document, slip
    assert repr(document) == before


@pytest.mark.parametrize(
    ("slip", "mark"),
    [
        (Slip("", "", ("outlets", 0, "junction"), "J3"), ("open end", "J4")),
        (Slip("", "", ("outlets", 0, "junction"), "J3"), ("end in the run", "J3")),
        (Slip("", "", ("sources", 0, "junction"), "J4"), ("two ends at one junction", "J4")),
        (Slip("", "", ("pipes", 3, "from"), "J5"), ("pipe to itself", "P4")),
        (Slip("", "", ("pipes", 2, "size"), "NPS 8"), ("step in size", "J3")),
        (Slip("", "", ("junctions", 1, "fitting"), "elbow"), ("fitting does not fit", "J2")),
        (Slip("", "", ("sources", 0, "pressure"), "6 psi"), ("range of pressure", "MAIN")),
        (
            Slip("", "", ("site", "stock", 0, "mass_each"), "50 kg"),
            ("unit of the other system", "site/stock/0/mass_each"),
        ),
        (
            Slip("", "", ("sources", 0, "pressure"), "060 psi"),
            ("leading zero", "sources/0/pressure"),
        ),
    ],
)
def test_a_mark_is_seen(slip: Slip, mark: tuple[str, str]) -> None:
    """The layout as it was, and the document with the slip: some slips are refused on reading."""
    document = slip.done_to(sound())
    layout = parse_layout(sound())
    try:
        layout = parse_layout(document)
    except ValueError:
        layout = type(layout).model_construct(**dict(layout))
    if layout != parse_layout(sound()):
        assert mark in marks_of(document, layout) - marks_of(sound(), parse_layout(sound()))


def test_a_sound_site_has_no_marks() -> None:
    """What the marks call odd in a sound site can be told from nothing, and must stay out."""
    for demo in DEMOS:
        document = demo.mended()
        soft = {
            "end in the run",
            "step in size",
            "island",
            "two ends at one junction",
            "fitting does not fit",
        }
        found = {m for m in marks_of(document, parse_layout(document)) if m[0] not in soft}
        assert not found, demo.name
