"""From a building model to a plan in three commands: read it, plan, check what was planned.

The model is small and invented: a main, a valve to be changed, a tap at the far end. The facts that
no model holds are typed as the import prints them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from layoutcheck.document import parse_layout
from tests.cli.conftest import Run
from tests.importers.made_models import Maker

SITE: dict[str, Any] = {
    "format": "layoutcheck layout 1",
    "name": "An invented line with a valve to be changed",
    "units": "metric",
    "drawing": {"kind": "plan", "scale": "1 m"},
    "junctions": [
        {"id": "S", "at": [0, 0], "elevation": "0 m"},
        {"id": "C", "at": [32, 0], "elevation": "0 m"},
    ],
    "pipes": [
        {"id": "feed", "from": "S", "to": "C", "size": "DN 50", "length": "32 m"},
    ],
    "valves": [{"id": "V2", "pipe": "feed", "station": "20 m", "kind": "gate"}],
    "sources": [{"id": "main", "junction": "S", "kind": "main"}],
    "outlets": [{"id": "tap", "junction": "C"}],
}

# What a person knows of the site and no model holds. Kept apart, so that a new model is read again.
FACTS: dict[str, Any] = {
    "site": {
        "material": "carbon steel",
        "wall": "sch 40",
        "water_temperature": "12 degC",
        "air_temperature": "20 degC",
        "fluid": "plain water",
        "clear_space": "0.3 m",
        "room": "plant",
        "rooms": {
            "plant": {
                "volume": "1700 m3",
                "floor_area": "370 m2",
                "height": "4.6 m",
                "air_changes": "10 per hour",
                "below_ground": False,
                "carbon_dioxide_meter": True,
                "oxygen_meter": True,
                "flood_depth": "0.1 m",
            }
        },
        "stock": [
            {
                "coolant": "carbon dioxide",
                "cylinders": 40,
                "mass_each": "23 kg",
                "storage_temperature": "20 degC",
                "dip_tube": True,
                "high_pressure": True,
                "upright": True,
            }
        ],
    },
    "pipes": {
        "*": {"low_temperature_accepted_by": "an invented engineer, for this test"},
    },
    "work": {
        "duration": "2 h",
        "if_a_plug_goes": "The invented foreman shuts the main's own valve in the street",
    },
}


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("model") / "line.ifc"
    Maker(parse_layout(SITE)).make().model.write(str(path))
    return path


def test_the_import_says_what_to_state_site_first_and_each_can_be_pasted(
    run: Run, model: Path
) -> None:
    report = json.loads(run("import", str(model), "--format", "json").out)
    fields = [t["field"] for t in report["to_fill"]]
    assert fields[:2] == ["site.material", "site.water_temperature"]
    assert fields.index("site.stock") < fields.index("work")
    assert all(t["paste"].startswith("--set ") for t in report["to_fill"])
    text = run("import", str(model)).text
    assert "--set 'site.water_temperature=15 degC'" in text


def test_from_a_model_to_a_plan_that_passes(run: Run, model: Path, tmp_path: Path) -> None:
    layout, facts, planned = (tmp_path / n for n in ("site.json", "facts.yaml", "planned.json"))
    imported = json.loads(run("import", str(model), "--format", "json").out)
    assert imported["made"]["valves"] == 1
    run("import", str(model), "-o", str(layout))
    document = json.loads(layout.read_text())
    valve = document["valves"][0]["id"]
    FACTS["work"]["open"] = [{"valve": valve}]
    FACTS["valves"] = {valve: {"state": "open"}}
    FACTS["sources"] = {s["id"]: {"pressure": "4 bar"} for s in document["sources"]}
    facts.write_text(yaml.safe_dump(FACTS, sort_keys=False))
    # The three commands.
    assert run("import", str(model), "--with", str(facts), "-o", str(layout)).code == 0
    done = run("plan", str(layout), "--format", "json")
    answer = json.loads(done.out)
    assert done.code == 0, (answer["says"], answer["to_settle"], answer["near_miss"])
    planned.write_text(json.dumps(answer["plans"][0]["document"]))
    assert run("check", str(planned)).code == 0


def test_without_a_way_out_for_the_water_plan_says_what_to_fit(
    run: Run, model: Path, tmp_path: Path
) -> None:
    """The tap's end is a cap now: what the plug pushes has nowhere to go."""
    layout = tmp_path / "site.json"
    run("import", str(model), "-o", str(layout))
    document = json.loads(layout.read_text())
    tap = document.pop("outlets")[0]
    end = next(j for j in document["junctions"] if j["id"] == tap["junction"])
    end["fitting"] = "cap"
    valve = document["valves"][0]["id"]
    more = {
        **FACTS,
        "work": {**FACTS["work"], "open": [{"valve": valve}]},
        "valves": {valve: {"state": "open"}},
        "sources": {s["id"]: {"pressure": "4 bar"} for s in document["sources"]},
    }
    layout.write_text(json.dumps(document))
    facts = tmp_path / "more.yaml"
    facts.write_text(yaml.safe_dump(more, sort_keys=False))
    done = run("plan", str(layout), "--with", str(facts), "--format", "json")
    answer = json.loads(done.out)
    assert answer["plans"] == []
    (add,) = [t for t in answer["to_add"] if "bleed" in t]
    assert add.startswith(f"Fit an outlet that can bleed between cap {end['id']} and plug F1")


def test_an_end_that_nobody_has_told_of_is_asked_with_the_plan_it_stands_before(
    run: Run, tmp_path: Path
) -> None:
    """A branch ends with nothing on it. Once it is said what ends it, the plan shown is one.

    No closure and no plug settles that end: the search must not try every set against it.
    """
    drawn = {
        **SITE,
        "junctions": [
            *SITE["junctions"],
            {"id": "T", "at": [6, 0], "elevation": "0 m", "fitting": "tee"},
            {"id": "X", "at": [6, 9], "elevation": "0 m"},
        ],
        "pipes": [
            {"id": "feed", "from": "S", "to": "T", "size": "DN 50", "length": "6 m"},
            {"id": "run", "from": "T", "to": "C", "size": "DN 50", "length": "26 m"},
            {"id": "stub", "from": "T", "to": "X", "size": "DN 50", "length": "9 m"},
        ],
        "valves": [{"id": "V2", "pipe": "run", "station": "16 m", "kind": "gate"}],
    }
    model, layout, facts = (tmp_path / n for n in ("m.ifc", "site.json", "more.yaml"))
    Maker(parse_layout(drawn)).make().model.write(str(model))
    run("import", str(model), "-o", str(layout))
    document = json.loads(layout.read_text())
    (end,) = [j["id"] for j in document["junctions"] if j["at"] == [6.0, 9.0]]
    (valve,) = [v["id"] for v in document["valves"]]
    more = {
        **FACTS,
        "work": {**FACTS["work"], "open": [{"valve": valve}]},
        "valves": {valve: {"state": "open"}},
        "sources": {s["id"]: {"pressure": "4 bar"} for s in document["sources"]},
    }
    facts.write_text(yaml.safe_dump(more, sort_keys=False))
    plan = ("plan", str(layout), "--with", str(facts), "--top", "1", "--format", "json")
    asked = json.loads(run(*plan).out)
    assert (asked["status"], asked["plans"]) == ("undecided", [])
    assert "as soon as what the sketch leaves open is stated" in asked["says"]
    (add,) = asked["to_add"]
    assert end in add
    told = json.loads(run(*plan, "--set", f"junctions.{end}.fitting=cap").out)
    (shown,) = told["plans"]
    assert [p["pipe"] for p in asked["near_miss"]["plugs"]] == [p["pipe"] for p in shown["plugs"]]
    assert asked["tried"] <= told["tried"] + 1
