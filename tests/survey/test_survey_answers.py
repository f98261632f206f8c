"""Each row says what `plan` says of the same work, and never more than `check` passes."""

from __future__ import annotations

import hashlib
import json
import time
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report import check_document
from layoutcheck.report.plans import UNDECIDED, plan_layout
from layoutcheck.rules.registry import default_pack
from layoutcheck.survey import ask as asking
from layoutcheck.survey.ask import Known, ask
from layoutcheck.survey.deadline import Deadline, OutOfTime
from layoutcheck.survey.items import Choice, Item, Settings, WorkKind, chosen, items_of
from layoutcheck.survey.row import Answer, Row, Stopped
from layoutcheck.survey.sites import Content
from layoutcheck.survey.tasks import AskItems, ListItems
from tests.sizes import WHOLE
from tests.survey.made_buildings import building

FIXTURES = Path(__file__).parents[2] / "fixtures"


# Searches that are compared end by themselves or after a number of steps, never by a clock.
NO_CLOCK = 1e6


def known(data: dict[str, Any], settings: Settings | None = None) -> Known:
    return Known(parse_layout(data), data, default_pack(), settings or Settings())


def asked(data: dict[str, Any], own: str, settings: Settings | None = None) -> Row:
    return ask(known(data, settings), Item(WorkKind.VALVE, own)).row


def stated(data: dict[str, Any], own: str) -> dict[str, Any]:
    """The document as somebody would write it by hand who wants the valve replaced."""
    work = {"duration": "4 h"} | data.get("work", {}) | {"open": [{"valve": own}]}
    return {k: v for k, v in data.items() if k != "plugs"} | {"work": work}


@pytest.mark.parametrize("seed", range(4 if WHOLE else 2))
def test_a_row_is_the_plan_for_the_layout_that_states_the_work(seed: int) -> None:
    data = building(seed)
    for valve in data["valves"]:
        row = asked(data, valve["id"], Settings(time_limit=NO_CLOCK))
        written = stated(data, valve["id"])
        report = plan_layout(parse_layout(written), data=written, top=1, time_limit=NO_CLOCK)
        assert row.found == ("no plan" if report.status == UNDECIDED else report.status)
        if report.status == UNDECIDED:
            assert row.answer is Answer.UNDECIDED
            assert row.to_settle == report.to_settle[: len(row.to_settle)]
        assert (row.answer is Answer.COMPLIANT) == bool(report.plans)
        assert row.duration_assumed == ("work" not in data)
        if row.plan is None:
            continue
        best = report.plans[0]
        assert check_document(best.document).exit_code == 0
        assert row.plan.points == best.cost.points
        assert [p.pipe for p in row.plan.plugs] == [p.pipe for p in best.plugs]
        closed = {v["id"] for v in best.document["valves"] if v.get("state") == "closed"}
        assert set(row.plan.valves_to_close) <= closed
        assert row.plan.valves_to_prove == best.cost.trusted_valves


def test_every_valve_pump_and_stated_work_of_a_fixture_is_listed() -> None:
    data = json.loads((FIXTURES / "heating-riser-mended.json").read_text(encoding="utf-8"))
    items = items_of(parse_layout(data))
    assert {i.id for i in chosen(items, [Choice.EVERY_VALVE])} == {v["id"] for v in data["valves"]}
    assert {i.id for i in chosen(items, [Choice.EVERY_PUMP])} == {p["id"] for p in data["pumps"]}
    assert chosen(items, [Choice.STATED]) == (Item(WorkKind.STATED),)


def test_the_stated_work_keeps_its_plugs_as_wishes() -> None:
    data = json.loads((FIXTURES / "heating-riser-mended.json").read_text(encoding="utf-8"))
    row = ask(known(data, Settings(time_limit=NO_CLOCK)), Item(WorkKind.STATED)).row
    report = plan_layout(parse_layout(data), data=data, top=1, time_limit=NO_CLOCK)
    assert row.answer is Answer.COMPLIANT
    assert row.plan is not None
    assert row.name == data["work"]["name"]
    assert [(p.id, p.pipe) for p in row.plan.plugs] == [
        (p.id, p.pipe) for p in report.plans[0].plugs
    ]
    total = sum(c.mass.value for c in report.plans[0].cost.coolant or ())
    # Rows keep four digits of an estimate.
    assert row.plan.carbon_dioxide_kg == pytest.approx(total, rel=5e-4)


def test_a_valve_takes_the_size_of_its_pipe_and_at_a_junction_the_largest() -> None:
    data = building(0)
    assert asked(data, "V1").size == "NPS 3/4"
    data["valves"] = [v for v in data["valves"] if v["id"] != "V4"]
    # The last branch begins at the top of the riser: a valve at the corner is in both sizes.
    data["valves"].append({"id": "VC", "junction": "J4", "state": "open"})
    assert asked(data, "VC").size == data["pipes"][0]["size"]


# In building 1 no jacket fits between the main and V0, and nothing is unstated. Each change leaves
# something open; then the search without a plan shows nothing, and 'none' would be a guess.
@pytest.mark.parametrize(
    ("change", "settle"),
    [
        (lambda d: None, ""),
        (lambda d: d["valves"][1].pop("state", None), "how each valve stands"),
        (lambda d: d["sources"][0].pop("pressure"), "pressure"),
        (lambda d: d["site"].pop("stock"), "coolant on hand"),
        (lambda d: d["site"].pop("clear_space"), "free space"),
        (lambda d: d["junctions"][2].pop("elevation"), "height"),
    ],
)
def test_without_a_plan_it_is_none_only_if_nothing_is_open(change: Any, settle: str) -> None:
    data = json.loads(json.dumps(building(1)))
    for valve in data["valves"]:
        valve["state"] = "open"
    change(data)
    row = asked(data, "V0")
    assert row.plan is None
    assert row.found == "no plan"
    if settle:
        assert row.answer is Answer.UNDECIDED
        assert any(settle in text for text in row.to_settle)
    else:
        assert row.answer is Answer.NONE


def test_a_search_cut_short_without_a_plan_is_undecided() -> None:
    row = asked(building(1), "V0", Settings(steps=1))
    assert (row.answer, row.stopped) == (Answer.UNDECIDED, Stopped.STEPS)


def test_what_a_layout_leaves_unsaid_of_the_work_comes_from_the_settings() -> None:
    settings = Settings(duration="6 h", if_a_plug_goes="The invented watchman.")
    row = asked(building(0), "V0", settings)
    assert (row.duration_s, row.duration_assumed) == (6 * 3600.0, True)
    assert (asked(building(1), "V0", settings).duration_s) == 3 * 3600.0


def test_a_fault_inside_is_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(asking, "plan_layout", broken)
    got = ask(known(building(0)), Item(WorkKind.VALVE, "V1"))
    assert got.settled
    assert got.row.answer is Answer.FAILED
    assert "ZeroDivisionError" in got.row.reason


def test_one_step_that_never_ends_is_broken_off(monkeypatch: pytest.MonkeyPatch) -> None:
    def endless(*_: object, **__: object) -> None:
        while True:
            try:
                time.sleep(0.01)
            except Exception:  # a rule that guards itself must not swallow the end
                continue

    monkeypatch.setattr(asking, "plan_layout", endless)
    monkeypatch.setattr(Settings, "hard_limit", 0.2)
    got = ask(known(building(0)), Item(WorkKind.VALVE, "V1"))
    assert not got.settled
    assert got.row.answer is Answer.FAILED
    assert "broken off" in got.row.reason


def test_a_deadline_that_was_kept_strikes_no_more() -> None:
    for _ in range(200):
        try:
            with Deadline(0.001):
                time.sleep(0.001)
        except OutOfTime:
            pass
        for _ in range(50):
            pass  # would be struck here
    time.sleep(0.01)


def test_a_task_gives_back_what_it_has_after_its_slice(monkeypatch: pytest.MonkeyPatch) -> None:
    text = json.dumps(building(0)).encode()
    content = Content(text, ".json", hashlib.sha256(text).hexdigest())
    items = chosen(ListItems(content).run().items, [Choice.EVERY_VALVE])
    monkeypatch.setattr("layoutcheck.survey.tasks.SLICE", 0.0)
    assert [a.item for a in AskItems(content, items, Settings()).run()] == [items[0]]
    monkeypatch.setattr("layoutcheck.survey.tasks.SLICE", 60.0)
    assert [a.item for a in AskItems(content, items, Settings()).run()] == list(items)
