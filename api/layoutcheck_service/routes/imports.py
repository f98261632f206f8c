"""POST /v1/imports: make a layout of a building model, a drawing, a network file or sheets."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.document import LayoutFaults
from layoutcheck.importers.read import KINDS, read_file
from layoutcheck.report.imports import ImportReport, import_report
from layoutcheck_service.access import needs
from layoutcheck_service.answers import WORK_KINDS, problems
from layoutcheck_service.body import FILE, answer_apart
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, moved_under
from layoutcheck_service.small import LATER, Prefer, json_answer, model_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["imports"], dependencies=[needs(Scope.IMPORT)])

_REQUEST: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {FILE: {"schema": {"type": "string", "format": "binary"}}},
    }
}

Name = Annotated[
    str,
    Query(
        min_length=1,
        max_length=200,
        description=f"The file's name; its end tells what it is: {', '.join(KINDS)}. "
        "A .zip holds CSV sheets, or one drawing and its map.toml.",
        examples=["model.ifc"],
    ),
]
System = Annotated[
    str | None,
    Query(max_length=200, description="The one system of a building model to read."),
]
# Four bytes a letter, each written with three: the address stays under the server's 64 kB.
Map = Annotated[
    str | None,
    Query(
        alias="map",
        max_length=4000,
        description="A drawing's map: the text of a TOML file. A longer one goes in a .zip.",
    ),
]
Names = Annotated[
    str | None,
    Query(
        max_length=4000,
        description="Own names of materials, sizes and walls: the text of a TOML file.",
    ),
]


class ImportAnswer(BaseModel):
    """A layout document, and all that is to be said of how it was read."""

    model_config = ConfigDict(extra="forbid")

    layout: dict[str, Any] = Field(
        description="A layout document that a check accepts; GET /v1/schemas/layout describes it."
    )
    report: ImportReport


@router.post(
    "/imports",
    operation_id="importFile",
    summary="Make a layout of a model, a drawing, a network file or sheets",
    response_model=ImportAnswer,
    response_description="The layout, with what was assumed and what is to be filled in by hand.",
    responses=LATER | problems(*WORK_KINDS, Kind.NOT_A_FILE),
    openapi_extra=_REQUEST,
)
async def post_import(
    request: Request,
    name: Name,
    system: System = None,
    mapping: Map = None,
    names: Names = None,
    prefer: Prefer = None,
) -> Response:
    """Read a file. Nothing is judged: what a model does not tell is listed, and never made up.

    The body is the file's bytes.
    """
    limit = request.app.state.settings.max_import_bytes
    return await answer_apart(
        request, _answered, name, system, mapping, names, limit=limit, content_type=FILE, long=True
    )


def _answered(
    body: Body, name: str, system: str | None, mapping: str | None, names: str | None
) -> Response:
    ending = Path(name).suffix.lower()
    with tempfile.TemporaryDirectory() as folder:
        # A name from outside is never used as a path; a lone sheet is one of pipes.
        path = Path(folder) / f"pipes{ending if ending in KINDS else ''}"
        body.put(path)
        try:
            imported = read_file(
                path,
                name=name,
                systems=(system,) if system else (),
                mapping=mapping,
                names=names,
            )
            report = import_report(imported)
        except LayoutFaults as error:
            detail = "Each fault is listed with its place, what was found and a right example."
            faults = moved_under("", error.faults)
            raise ProblemError(Kind.UNUSABLE, detail, faults=faults) from None
    return json_answer(model_text(ImportAnswer(layout=imported.document, report=report)))
