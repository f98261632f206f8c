"""The model's own words stand beside the id in everything that is handed out.

The model is invented. Its valve bears a tag, a type mark and a storey; both pipes are named 'R'.
"""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.document.overlay import laid_over, statement
from layoutcheck.report import check
from layoutcheck.report.handouts import make_handout
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.text import full_text, report_text
from layoutcheck.report.text_plans import plans_text
from tests.importers.small_models import Small

WORDS = ("tag HV-12", "type SV-DN50", "on Level 3")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], str]:
    """A line of two pipes with a valve between them, a plug before it; the valve's GlobalId."""
    small = Small()
    small.pipe("R", (0, 0, 0), (6, 0, 0))
    valve = small.add("IfcValve", "Valve", (6, 0, 0), (6.2, 0, 0), Tag="HV-12")
    small.ports["first", 0] = small.ports["R", 1]
    small.pipe("R", (6.2, 0, 0), (12, 0, 0))
    small.join("first", 0, "Valve", 0)
    small.join("Valve", 1, "R", 0)
    small.property(valve, "TypeMark", "IfcLabel", "SV-DN50")
    storey = small.root("IfcBuildingStorey", Name="Level 3")
    parts = [*small.model.by_type("IfcPipeSegment"), valve]
    small.root("IfcRelContainedInSpatialStructure", RelatedElements=parts, RelatingStructure=storey)
    imported = small.read(tmp_path_factory.mktemp("model"))
    document: dict[str, Any] = imported.document
    first = max(document["pipes"], key=lambda p: float(p["length"].removesuffix(" m")))["id"]
    plug = f"plugs.F1={{pipe: {json.dumps(first)}, station: 2 m, jacket: 0.3 m}}"
    # The valve is named by its GlobalId, as whoever works in the model knows it.
    work = f"work={{open: [{{valve: {valve.GlobalId}}}], duration: 2 h}}"
    return laid_over(document, [statement(plug), statement(work)]), valve.GlobalId


def test_one_id_for_each_and_the_model_s_words_beside_it(made: tuple[dict[str, Any], str]) -> None:
    document, guid = made
    (valve,) = document["valves"]
    assert len({p["id"] for p in document["pipes"]}) == 2  # both are named 'R' in the model
    assert valve["ref"] == guid
    assert all(word in valve["name"] for word in WORDS)


def test_text_json_sheet_drawing_and_issues_name_it(made: tuple[dict[str, Any], str]) -> None:
    document, guid = made
    layout = parse_layout(document)
    report = check(layout)
    told = {
        "text": report_text(report),
        "full text": full_text(report),
        "json": report.to_json(),
        "html": make_handout("report.html", layout, report).decode(),
        "sheet": make_handout("sheet.html", layout, report).decode(),
        "drawing": make_handout("drawing.svg", layout, report).decode(),
        "plan": plans_text(plan_layout(layout, data=document, top=1)),
    }
    for name, text in told.items():
        flat = " ".join(text.split())
        for word in (*WORDS, guid):
            assert word in flat, f"{name} does not tell {word}"


def test_an_issue_of_a_plug_names_its_pipe(made: tuple[dict[str, Any], str]) -> None:
    layout = parse_layout(made[0])
    pipe = next(p for p in layout.pipes if p.id == layout.plugs[0].pipe)
    assert pipe.ref is not None and pipe.name is not None
    archive = zipfile.ZipFile(io.BytesIO(make_handout("issues.bcf", layout, check(layout))))
    texts = [archive.read(n).decode() for n in archive.namelist() if n.endswith("markup.bcf")]
    assert any(pipe.ref in text and "on Level 3" in text for text in texts)


def test_a_layout_without_a_model_says_nothing_of_one() -> None:
    path = Path(__file__).parents[2] / "fixtures" / "heating-riser-sketch.json"
    report = check(parse_layout(json.loads(path.read_text())))
    assert "in_model" not in json.loads(report.to_json())
    assert "IN THE MODEL" not in full_text(report)
