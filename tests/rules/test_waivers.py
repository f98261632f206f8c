"""A waiver says what it was agreed on, and covers that and nothing worse.

Whatever a report asks to be written into a waiver can be pasted in as it stands, and then covers.
Words and names: what is refused here is common practice, no published source.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.document.models import Layout
from layoutcheck.quantities import UnitSystem
from layoutcheck.rules.amounts import PARSERS, read_amount, typed_amount
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Amount, Dimension, Judgement, Outcome
from layoutcheck.rules.pack import Tighter
from layoutcheck.rules.registry import all_rules, default_pack
from tests.rules.test_cases import cases, document
from tests.sites.every import DEMOS

TODAY = date(2026, 11, 25)
LIVE = {Outcome.BROKEN, Outcome.UNDECIDED}
Document = dict[str, Any]


def judged(given: Document) -> list[Judgement]:
    layout: Layout = parse_layout(given)
    return judge_case(Case.of(layout, default_pack()), on=TODAY)


@cache
def sites() -> list[tuple[str, Document, list[Judgement]]]:
    """One sketch, and the hand-worked cases until every rule that may be waived is not kept."""
    wanted = {name for name, rule in all_rules().items() if rule.waivable}
    found = []
    for name, site in _sites():
        if not wanted:
            break
        judgements = judged(site)
        news = {j.rule for j in judgements if j.outcome in LIVE} & wanted
        if news:
            wanted -= news
            found.append((name, site, judgements))
    assert not wanted
    return found


def _sites() -> Iterator[tuple[str, Document]]:
    yield DEMOS[0].name, DEMOS[0].sketch()
    for name, case in cases().items():
        if "pack" not in case and "judged" not in case:
            yield name, document(case)


def waiver(found: Judgement, **more: str) -> Document:
    told = {"reason": "somebody stands by it (invented)", "by": "A. Example", "until": "2027-01-31"}
    return {"rule": found.rule, "subject": found.subject.id, **told, **more}


def asked_for(found: list[Judgement]) -> dict[str, str]:
    """The text that a report asks to be written into a waiver, read as JSON."""
    (told,) = {j.todo for j in found if j.subject.kind == "waiver"}
    text: dict[str, str] = json.loads("{" + told.partition("waiver: ")[2] + "}")
    return text


def test_what_a_report_asks_to_be_written_into_a_waiver_covers() -> None:
    tried: set[str] = set()
    for name, site, judgements in sites():
        for found in judgements:
            kind = f"{found.rule} {found.reason}"
            if found.outcome not in LIVE or not all_rules()[found.rule].waivable or kind in tried:
                continue
            tried.add(kind)
            again = judged({**site, "waivers": [waiver(found)]})
            pasted = waiver(found, **asked_for(again))
            after = judged({**site, "waivers": [pasted]})
            (now,) = [j for j in after if (j.rule, j.subject) == (found.rule, found.subject)]
            assert now.outcome is Outcome.WAIVED, (name, pasted, [j.says for j in after])
    waivable = {n for n, r in all_rules().items() if r.waivable}
    assert {kind.split()[0] for kind in tried} == waivable


@given(
    st.sampled_from(sorted(PARSERS)),
    st.sampled_from(list(UnitSystem)),
    st.floats(1e-3, 1e4, allow_nan=False),
)
def test_what_is_typed_is_read_as_what_was_printed(
    dimension: Dimension, units: UnitSystem, value: float
) -> None:
    """So the value that a report prints covers the finding it was printed of, however it rounds."""
    # Nothing here is colder than 73 K: nitrogen boils at 77 K. Over 1000 K none is read.
    value = 73.0 + value / 15.0 if dimension is Dimension.TEMPERATURE else value
    printed = typed_amount(Amount(value, dimension), units)
    read = read_amount(printed, dimension)
    assert read is not None, printed
    assert typed_amount(read, units) == printed


def test_each_rule_that_measures_and_may_be_waived_says_which_way_is_safer() -> None:
    measures = {
        found.rule for _, _, judgements in sites() for found in judgements if found.measured
    }
    unsaid = {
        n for n in measures if all_rules()[n].waivable and all_rules()[n].safer is Tighter.NEITHER
    }
    assert not unsaid


@pytest.mark.parametrize(
    "reason", ["     ", "?", "-----", "?????", ".. ..", "xxxxx", "aaaa a", "n/a", "x y z"]
)
def test_a_reason_without_words_is_refused(reason: str) -> None:
    site = {**DEMOS[0].mended(), "waivers": [_plain(reason=reason)]}
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(site)
    assert [f.pointer for f in raised.value.faults] == ["/waivers/0/reason"]


@pytest.mark.parametrize(
    "by", ["?", "no", "No.", "--", "x", "XX", "tbd", "N/A", "nobody", "   ", "12"]
)
def test_what_is_no_name_is_refused(by: str) -> None:
    site = {**DEMOS[0].mended(), "waivers": [_plain(by=by)]}
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(site)
    assert [f.pointer for f in raised.value.faults] == ["/waivers/0/by"]


@pytest.mark.parametrize(
    "by", ["Bo Li", "R. Example", "Ng", "Ødegård", "李雷", "J. O'Neil (site manager)"]
)
def test_short_and_foreign_names_are_names(by: str) -> None:
    parse_layout({**DEMOS[0].mended(), "waivers": [_plain(by=by)]})


def test_nobody_stops_the_water_with_a_question_mark() -> None:
    site = DEMOS[0].mended()
    site["work"]["if_a_plug_goes"] = "?"
    site["pipes"][0]["low_temperature_accepted_by"] = "-"
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(site)
    pointers = [f.pointer for f in raised.value.faults]
    assert pointers == ["/pipes/0/low_temperature_accepted_by", "/work/if_a_plug_goes"]


def _plain(**changed: str) -> Document:
    told = {
        "rule": "plug-loss",
        "subject": "F1",
        "reason": "a fitter stands by",
        "by": "A. Example",
    }
    return {**told, "until": "2027-01-31", **changed}
