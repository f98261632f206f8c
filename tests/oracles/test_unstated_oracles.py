"""What is said with a length left out must be true of the same site with the length put in.

A site is drawn whole; then some of its pipes lose their length or size. Whatever still holds, is
broken or does not apply must be so on the whole site too, however long its pipes are: the whole
site is one way in which the unknown may turn out.
"""

from __future__ import annotations

import copy

from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.document.read import parse_layout
from layoutcheck.network import Trust
from layoutcheck.network.drain import drained_water
from layoutcheck.report import check_document
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.strategies import Document, documents

SETTLED = {Outcome.HOLDS, Outcome.BROKEN, Outcome.DOES_NOT_APPLY}


@given(whole=documents(), data=st.data())
def test_what_stands_without_a_length_stands_with_it(whole: Document, data: st.DataObject) -> None:
    sketch = _without(whole, data, ["length", "length", "size"])
    known = Case.of(parse_layout(whole), default_pack())
    asked = Case.of(parse_layout(sketch), default_pack())
    truth = {(j.rule, j.subject): j.outcome for j in judge_case(known)}
    for judged in judge_case(asked):
        assert judged.outcome is not Outcome.FAULT, judged.says
        # What is asked of the writing changes with what is written.
        if all_rules()[judged.rule].as_stated:
            continue
        if judged.outcome in SETTLED:
            assert truth.get((judged.rule, judged.subject)) is judged.outcome, judged
        elif judged.reason == "pipe not stated":
            assert judged.missing


@given(whole=documents(), data=st.data())
def test_what_drains_is_at_least_what_is_told(whole: Document, data: st.DataObject) -> None:
    sketch = _without(whole, data, ["length"])
    drain = check_document(sketch).drain
    if drain is None or (drain.volume is None and drain.at_least is None):
        return
    known = Case.of(parse_layout(whole), default_pack())
    plugs = [(p.spot, p.jacket / 2) for p in known.plugs]
    truth = drained_water(known.worlds.working(Trust.STATED), plugs).volume
    assert truth is not None
    # A report rounds to 1e-9 m3.
    told = drain.volume or drain.at_least
    assert told is not None
    assert truth >= told.value - 2e-9
    if drain.volume is not None:
        assert abs(truth - drain.volume.value) <= 2e-9


def _without(whole: Document, data: st.DataObject, fields: list[str]) -> Document:
    """Take a field away from some pipes, at least one."""
    sketch = copy.deepcopy(whole)
    some = data.draw(st.sets(st.integers(0, len(sketch["pipes"]) - 1), min_size=1))
    for index in sorted(some):
        sketch["pipes"][index].pop(data.draw(st.sampled_from(fields)), None)
    return sketch
