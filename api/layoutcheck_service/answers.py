"""Pieces of the OpenAPI document that the routes share."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol

from layoutcheck_service.problems import PROBLEM_JSON, Kind, problem_data, problem_of

_WHAT_HAPPENED = {
    Kind.UNREADABLE: "Send one JSON text in UTF-8, without repeated names and without NaN.",
    Kind.NOT_FOUND: "GET /v1/rules lists the rules there are.",
    Kind.TOO_LARGE: "The service reads bodies of up to 4194304 bytes.",
    Kind.WRONG_TYPE: "Send the body as content type application/json.",
    Kind.NOT_A_FILE: "Send the body as content type application/octet-stream.",
    Kind.UNUSABLE: "1 fault found; each is listed with its place.",
    Kind.TOO_HEAVY: "The work takes longer than the 120 s that one may.",
    Kind.TOO_SLOW: "The body did not come within 60 s.",
    Kind.NO_KEY: "Send 'Authorization: Bearer KEY'; who runs this service makes keys.",
    Kind.NOT_ALLOWED: "This needs a key with the scope 'plan'.",
    Kind.WRONG_HOST: "Ask for it by a name that it has.",
    Kind.SHARE_USED: "This key's owner has 24 requests in hand already.",
    Kind.BUSY: "Everyone who works here is busy, and enough wait already. Nothing was judged.",
    Kind.STOPPING: "The service is starting or stopping. Nothing was judged; ask again.",
    Kind.NO_RECORD: "Who runs this service has not set LAYOUTCHECK_RECORD.",
    Kind.RECORD_AWAY: "Others hold the record. Nothing was recorded; try again.",
    Kind.RECORD_FAULT: "The record is damaged or was changed. Verify it; nothing more is recorded.",
    Kind.INTERNAL: "The request was not judged. Nothing in it counts as checked.",
}
_RETRY = {
    "Retry-After": {
        "description": "Seconds after which it is worth while to ask again.",
        "required": True,
        "schema": {"type": "string", "pattern": "^[0-9]+$"},
    }
}
_ASK_FOR_KEY = {
    "WWW-Authenticate": {
        "description": "What a request must carry (RFC 6750).",
        "required": True,
        "schema": {"type": "string"},
    }
}
_HEADERS = {401: _ASK_FOR_KEY, 403: _ASK_FOR_KEY, 429: _RETRY, 503: _RETRY}


class HasType(Protocol):
    """What is made by a name, of one media type."""

    @property
    def media_type(self) -> str:
        """The media type, with its parameters."""


def any_file(made: Iterable[HasType]) -> dict[str, Any]:
    """Describe a file of one of several media types.

    The plain one stands first although nothing is sent as it: a program that is generated from the
    description takes the first, and hands on the bytes, whatever they are.
    """
    kinds = sorted({one.media_type.partition(";")[0] for one in made})
    binary = {"schema": {"type": "string", "format": "binary"}}
    return {"application/octet-stream": binary, **dict.fromkeys(kinds, binary)}


def schema_ref(name: str) -> dict[str, str]:
    """Refer to a schema of the OpenAPI document."""
    return {"$ref": f"#/components/schemas/{name}"}


def json_body(schema: str, **described: Any) -> dict[str, Any]:  # noqa: ANN401 - OpenAPI's own parts
    """Describe a JSON body that a route reads by hand; the schema is named."""
    content = {"schema": schema_ref(schema), **described}
    return {"requestBody": {"required": True, "content": {"application/json": content}}}


def problems(*kinds: Kind) -> dict[int | str, dict[str, Any]]:
    """Describe the problems that a route may answer with: one answer for each status."""
    by_status: dict[int, list[Kind]] = {}
    for kind in kinds:
        by_status.setdefault(int(kind.value.status), []).append(kind)
    return {status: _described(status, same) for status, same in by_status.items()}


def _described(status: int, kinds: list[Kind]) -> dict[str, Any]:
    shown = {k.value.name: problem_data(problem_of(k, _WHAT_HAPPENED[k])) for k in kinds}
    content: dict[str, Any] = {"schema": schema_ref("Problem")}
    if len(kinds) == 1:
        content["example"] = shown[kinds[0].value.name]
    else:
        content["examples"] = {
            kind.value.name: {"summary": kind.value.title, "value": shown[kind.value.name]}
            for kind in kinds
        }
    described: dict[str, Any] = {
        "description": ", or: ".join(k.value.title for k in kinds) + ".",
        "content": {PROBLEM_JSON: content},
    }
    return described | ({"headers": _HEADERS[status]} if status in _HEADERS else {})


# What a route whose work is done apart may answer with, whatever its body is.
WORK_KINDS = (
    Kind.NO_KEY,
    Kind.NOT_ALLOWED,
    Kind.TOO_SLOW,
    Kind.TOO_LARGE,
    Kind.TOO_HEAVY,
    Kind.UNUSABLE,
    Kind.SHARE_USED,
    Kind.INTERNAL,
    Kind.BUSY,
    Kind.STOPPING,
)
# The same, where the body is JSON.
BODY_KINDS = (Kind.UNREADABLE, Kind.WRONG_TYPE, *WORK_KINDS)
