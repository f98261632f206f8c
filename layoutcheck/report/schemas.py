"""JSON Schemas of the documents that layoutcheck reads and writes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode

from layoutcheck.document import Layout
from layoutcheck.report.freeze import FreezeQuestion, PipeFreeze
from layoutcheck.report.glossary import describe_fields
from layoutcheck.report.imports import ImportReport
from layoutcheck.report.log.model import FreezeLog, LogReport
from layoutcheck.report.manuals import RuleManual
from layoutcheck.report.model import Refusal, Report
from layoutcheck.report.plans import PlanReport
from layoutcheck.report.takeoff import Takeoff

DIALECT = "https://json-schema.org/draft/2020-12/schema"

# What has a schema: name -> (the model, which side of it is described).
# A layout is described as people write it, a report as it is written out.
SCHEMAS: Mapping[str, type[BaseModel]] = MappingProxyType(
    {
        "layout": Layout,
        "report": Report,
        "plans": PlanReport,
        "refusal": Refusal,
        "rule": RuleManual,
        "freeze-question": FreezeQuestion,
        "freeze": PipeFreeze,
        "import": ImportReport,
        "log": FreezeLog,
        "log-report": LogReport,
        "takeoff": Takeoff,
    }
)


def schema_of(name: str) -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of a document by its name; raises KeyError.

    Its $id is a URN: a schema is looked up in this project, not on the network.
    """
    model = SCHEMAS[name]
    read = model in {Layout, FreezeQuestion, FreezeLog}
    side: JsonSchemaMode = "validation" if read else "serialization"
    made = model.model_json_schema(by_alias=True, mode=side)
    describe_fields({**made.get("$defs", {}), model.__name__: made})
    return {"$schema": DIALECT, "$id": f"urn:layoutcheck:{name}:1", **made}


def schema_text(name: str) -> str:
    """Write a schema as it is printed and kept; raises KeyError."""
    return json.dumps(schema_of(name), indent=2, ensure_ascii=False) + "\n"
