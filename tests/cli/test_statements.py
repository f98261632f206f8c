"""--set and --with: facts stated over a layout, for one call or kept beside it."""

from __future__ import annotations

import json
from typing import Any

import pytest

from layoutcheck.cli.app import COMMANDS
from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.document.overlay import laid_over, statement
from tests.cli.conftest import Run, Write
from tests.cli.small_layout import small_layout


def bare() -> dict[str, Any]:
    """The small layout without what a site is asked for, and one pipe of copper."""
    document = small_layout()
    document.pop("site", None)
    for pipe in document["pipes"]:
        del pipe["material"], pipe["wall"]
    document["pipes"][1] |= {"material": "copper", "wall": "type L"}
    return document


def stated(document: dict[str, Any], *texts: str) -> dict[str, Any]:
    made = laid_over(document, [statement(t) for t in texts])
    parse_layout(made)
    return made


def test_a_statement_for_every_pipe_leaves_what_one_says_itself() -> None:
    made = stated(bare(), "pipes.*.material=carbon steel")
    materials = [p["material"] for p in made["pipes"]]
    assert materials.count("copper") == 1
    assert set(materials) == {"copper", "carbon steel"}
    assert bare()["pipes"][0].get("material") is None  # nothing is written into what was given


def test_a_statement_for_one_element_rules_over_what_it_says() -> None:
    second = bare()["pipes"][1]["id"]
    made = stated(bare(), f"pipes.{second}.length=99 ft", "valves.V1.state.working=closed")
    assert made["pipes"][1]["length"] == "99 ft"
    assert made["valves"][0]["state"] == {"working": "closed"}


def test_an_element_is_found_by_its_id_in_the_model_and_dots_in_an_id_do_no_harm() -> None:
    document = bare()
    document["valves"][0] |= {"ref": "2O2Fr$t4X7Zf8NOew3FLOH"}
    document["sources"][0]["id"] = "main no. 1"
    made = stated(
        document,
        "valves.2O2Fr$t4X7Zf8NOew3FLOH.tightness=proven",
        "sources.main no. 1.pressure=1 bar",
    )
    assert made["valves"][0]["tightness"] == "proven"
    assert made["sources"][0]["pressure"] == "1 bar"


def test_new_rooms_and_stock_come_with_a_file(run: Run, write: Write) -> None:
    layout = write("layout.json", bare())
    more = write(
        "more.yaml",
        "site:\n  water_temperature: 60 degF\n  room: plant\n"
        "  rooms:\n    plant: {floor_area: 200 ft2, height: 10 ft, air_changes: 6 per hour}\n"
        "pipes:\n  '*': {material: carbon steel, clear_space: 12 in}\n",
    )
    before = json.loads(run("check", str(layout), "--format", "json").out)
    after = json.loads(run("check", str(layout), "--with", str(more), "--format", "json").out)
    assert before["counts"]["undecided"] > after["counts"]["undecided"]
    assert json.loads(layout.read_text()) == bare()  # kept apart


def test_check_and_plan_take_facts_without_editing(run: Run, write: Write) -> None:
    layout = write("layout.json", bare())
    done = run("check", str(layout), "--set", "site.water_temperature=50 degF")
    assert "water temperature" not in done.text.split("TO SETTLE")[-1].split("MAY FLOW")[0]
    assert run("plan", str(layout), "--set", "site.water_temperature=50 degF").code in {0, 1, 3}


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_every_command_that_reads_a_layout_takes_statements(run: Run, command: str) -> None:
    action = ["add"] if command == "record" else []
    told = run(command, *action, "--help").text
    reads = "LAYOUT" in told.partition("Arguments:")[2].partition("Options:")[0]
    reads |= command in {"survey", "import"}
    assert ("--set FIELD=VALUE" in told) is reads
    assert ("--with FILE" in told) is reads


def test_what_is_written_holds_what_was_stated(run: Run, write: Write) -> None:
    layout = str(write("layout.json", bare()))
    done = run("expand", layout, "--set", "site.water_temperature=50 degF")
    assert json.loads(done.out)["site"]["water_temperature"] == "50 degF"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("site.water_temperature", "is no statement"),
        ("=3", "is no statement"),
        ("pipes..length=3 ft", "is no statement"),
    ],
)
def test_what_is_no_statement_is_told(text: str, says: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        statement(text)
    (fault,) = raised.value.faults
    assert says in fault.problem
    statement(fault.example)  # the right example is right


def test_a_pipe_that_is_not_there_is_told_with_the_nearest(run: Run, write: Write) -> None:
    layout = write("layout.json", bare())
    done = run("check", str(layout), "--set", "pipes.P99.length=3 ft")
    assert done.code == 2
    assert "names one of the pipes that the layout does not have" in " ".join(done.err.split())
    assert "P1" in done.err
