"""The IDS file: valid by the published schema, and it tells a good model from a bare one.

Outside source: ids.xsd of buildingSMART IDS 1.0, as ifctester brings it, and ifctester itself.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import ifctester
from ifctester import ids
from lxml import etree

from layoutcheck.document import parse_layout
from tests.importers.made_models import Maker
from tests.importers.wanted_ids import wanted_ids

ROOT = Path(__file__).parents[2]
FIXTURE = ROOT / "fixtures" / "metric-block-mended.json"


def test_the_file_is_valid_by_the_published_schema() -> None:
    root = etree.fromstring(wanted_ids())
    assert root.tag == "{http://standards.buildingsmart.org/IDS}ids"
    import xmlschema  # noqa: PLC0415 - heavy, and a dependency of ifctester

    schema = xmlschema.XMLSchema(str(Path(ifctester.__file__).parent / "ids.xsd"))
    schema.validate(wanted_ids().decode())


def test_the_same_bytes_each_time() -> None:
    assert wanted_ids() == wanted_ids()


def model() -> Any:
    return Maker(parse_layout(json.loads(FIXTURE.read_text()))).make().model


def failed(opened: Any) -> set[str]:
    asked = ids.from_string(wanted_ids().decode())
    asked.validate(opened)
    return {s.name for s in asked.specifications if not s.status}


def test_a_model_that_tells_sizes_and_names_passes_those_lines() -> None:
    found = failed(model())
    assert not found & {"Pipes have a nominal size", "Piping has names"}
    assert "Piping belongs to a system" in found  # the made model has none


def test_a_model_without_sizes_is_told_so() -> None:
    opened = model()
    for value in opened.by_type("IfcPropertySingleValue"):
        if value.Name == "NominalDiameter":
            value.Name = "Colour"
    assert "Pipes have a nominal size" in failed(opened)


def test_what_is_shared_is_what_the_importer_wants() -> None:
    kept = ROOT / "shared" / "wanted-model.ids"
    assert kept.read_bytes() == wanted_ids(), "run: python tests/refresh.py"
