"""POST /v1/exports/{name}: a layout written out, or its plugs in the model that it came from."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Request, Response
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.document import Layout, LayoutFaults
from layoutcheck.report.exports import EXPORTS, Given, NoSource, make_export
from layoutcheck_service.access import needs
from layoutcheck_service.answers import WORK_KINDS, any_file, problems, schema_ref
from layoutcheck_service.body import FORM, answer_apart
from layoutcheck_service.envelope import read_check
from layoutcheck_service.forms import read_form
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, RequestFault, moved_under
from layoutcheck_service.small import LATER, Prefer
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["exports"], dependencies=[needs(Scope.CHECK)])

_REQUEST = {
    "requestBody": {"required": True, "content": {FORM: {"schema": schema_ref("ExportRequest")}}}
}


class ExportRequest(BaseModel):
    """Form of an export: the layout as JSON, and the model or drawing that it was read from."""

    model_config = ConfigDict(extra="forbid")

    layout: Layout
    source: bytes | None = Field(
        None,
        description="The .ifc or .dxf file's bytes: an export of that kind is a copy of it.",
        json_schema_extra={"format": "binary"},
        examples=["ISO-10303-21; …"],
    )


@router.post(
    "/exports/{name}",
    operation_id="exportLayout",
    summary="Write a layout out, or its plugs into its model",
    response_class=Response,
    responses={
        200: {"description": "The file. Nothing is judged.", "content": any_file(EXPORTS.values())},
        **LATER,
        **problems(*WORK_KINDS, Kind.UNREADABLE, Kind.NOT_A_FILE, Kind.NOT_FOUND),
    },
    openapi_extra=_REQUEST,
)
async def post_export(
    request: Request,
    name: Annotated[
        str, InPath(description="Which one.", json_schema_extra={"enum": sorted(EXPORTS)})
    ],
    prefer: Prefer = None,
) -> Response:
    """Write the layout in the long or short form, as sheets, or into a copy of its model.

    The same layout and model give the same bytes, here as on the command line.
    """
    if name not in EXPORTS:
        raise ProblemError(Kind.NOT_FOUND, f"There are exports {', '.join(sorted(EXPORTS))}.")
    limit = request.app.state.settings.max_import_bytes
    form = request.headers.get("content-type", "")
    return await answer_apart(
        request, _exported, name, form, limit=limit, content_type=FORM, long=True
    )


def _exported(body: Body, name: str, form: str) -> Response:
    parts = read_form(body, form, ("layout", "source"))
    data: Any = Body(body.limits, parts["layout"]).data() if "layout" in parts else None
    asked = read_check({} if data is None else {"layout": data})
    with tempfile.TemporaryDirectory() as folder:
        # A name from outside is never used as a path.
        source = Path(folder) / f"source{Path(name).suffix}" if "source" in parts else None
        if source is not None:
            source.write_bytes(parts["source"])
        try:
            made = make_export(name, Given(asked.layout, data, source))
        except NoSource as error:
            raise _refused(str(error)) from None
        except LayoutFaults as error:
            detail = "Each fault is listed with its place, what was found and a right example."
            faults = moved_under("/source", error.faults)
            raise ProblemError(Kind.UNUSABLE, detail, faults=faults) from None
    return Response(made, media_type=EXPORTS[name].media_type)


def _refused(problem: str) -> ProblemError:
    fault = RequestFault(
        pointer="/source",
        found="nothing",
        problem=problem,
        example="the .ifc or .dxf file that POST /v1/imports read",
    )
    return ProblemError(Kind.UNUSABLE, "There is nothing to copy.", faults=[fault])
