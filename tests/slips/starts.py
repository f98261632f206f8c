"""Where the hunt starts: sites that are 'not compliant' or 'undecided', mostly for one reason.

The demo sites' sketches; their mended twins with one statement of the sketch put back; the twins,
and a small sound site, with one thing wrong of which the report knows; and the hand-worked cases
that do not hold. All are invented.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from layoutcheck.document import Layout, LayoutFaults, parse_layout
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Judgement, Outcome
from layoutcheck.rules.registry import default_pack
from tests.conformance.cases import CASES
from tests.rules.test_cases import cases, document
from tests.sites.every import DEMOS
from tests.slips.keyboard import Document, Slip, slips_of

LIVE = {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}


@dataclass(frozen=True)
class Start:
    """A site to slip on, with what was judged of it."""

    name: str
    document: Document
    layout: Layout
    judged: tuple[Judgement, ...]

    @property
    def live(self) -> frozenset[str]:
        """The rules that do not hold."""
        return frozenset(j.rule for j in self.judged if j.outcome in LIVE)


def start_of(name: str, document: Document) -> Start | None:
    """Judge a document; None where it can not be used."""
    try:
        layout = parse_layout(document)
    except LayoutFaults:
        return None
    case = Case.of(layout, default_pack())
    return Start(name, document, layout, tuple(judge_case(case)))


def starts_of_demo(name: str, *, faults: int, seed: int) -> list[Start]:
    """Give the starts of one demo site, `faults` of them slips on its twin that a rule finds."""
    demo = next(d for d in DEMOS if d.name == name)
    sketch, mended = demo.sketch(), demo.mended()
    made = [(f"{name}-sketch", sketch)]
    made += [(f"{name}-back-{i}", d) for i, d in enumerate(_put_back(mended, sketch))]
    found = [start_of(own, document) for own, document in made]
    chance = random.Random(f"{seed} {name}")
    return [*_live(found), *_faulty(name, mended, faults, chance)]


def starts_of_cases(*, step: int = 1) -> list[Start]:
    """Give the hand-worked cases that do not hold, by the built-in figures; one in `step`."""
    every = sorted(cases().items())[::step]
    plain = [(n, c) for n, c in every if "pack" not in c and "judged" not in c]
    return list(_live([start_of(name, document(case)) for name, case in plain]))


def starts_of_small(*, each: int) -> list[Start]:
    """Give a small sound site with each one slip that a rule finds, at most `each` for a fault.

    There the hunt can be whole: every slip on every fault.
    """
    sound = next(c.layout for c in CASES if c.name == "mended")
    assert start_of("sound", sound) is not None
    taken: Counter[tuple[frozenset[str], str]] = Counter()
    found = []
    for slip in slips_of(sound):
        start = start_of(f"small-{_told(slip)}", slip.done_to(sound))
        if start is None or not start.live:
            continue
        taken[start.live, slip.field] += 1
        if taken[start.live, slip.field] <= each:
            found.append(start)
    return found


def _live(found: list[Start | None]) -> Iterator[Start]:
    yield from (s for s in found if s is not None and s.live)


def _put_back(mended: Document, sketch: Document) -> Iterator[Document]:
    """The mended twin with one list entry, or one statement of the site, as the sketch has it."""
    for key, there in sketch.items():
        here = mended.get(key)
        if key == "note" or here == there:
            continue
        if isinstance(there, dict) and isinstance(here, dict):
            for name, value in there.items():
                if here.get(name) != value:
                    yield {**mended, key: {**here, name: value}}
        elif isinstance(there, list) and isinstance(here, list):
            old = {e["id"]: e for e in there}
            for i, element in enumerate(here):
                if element["id"] in old and old[element["id"]] != element:
                    yield {**mended, key: [*here[:i], old[element["id"]], *here[i + 1 :]]}


def _faulty(name: str, mended: Document, most: int, chance: random.Random) -> Iterator[Start]:
    """The twin with one slip that a rule finds: not more than a few for each rule."""
    slips = list(slips_of(mended))
    chance.shuffle(slips)
    taken: dict[frozenset[str], int] = {}
    found = 0
    for number, slip in enumerate(slips):
        if found >= most:
            return
        start = start_of(f"{name}-{_told(slip)}", slip.done_to(mended))
        if start is None or not start.live or taken.get(start.live, 0) >= max(1, most // 8):
            continue
        taken[start.live] = taken.get(start.live, 0) + 1
        found += 1
        yield start
        if number > 8 * most:
            return


def _told(slip: Slip) -> str:
    return f"{'/'.join(map(str, slip.path))} {slip.how} {slip.value}"
