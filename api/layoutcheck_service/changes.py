"""Changes to a layout that is known already: JSON Patch (RFC 6902) or merge patch (RFC 7396)."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from typing import Annotated, Any, Literal

import jsonpatch
from jsonpointer import JsonPointerException
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from layoutcheck.document.faults import pointer_to, shown
from layoutcheck_service.problems import Kind, ProblemError, RequestFault

MOST = 1000
# A copy may double what is there: what is written out is no longer than this (characters).
_LONGEST = 64_000_000
_PATH = Field(description="JSON Pointer (RFC 6901) into the layout.", examples=["/plugs/0/station"])
_FROM = Field(
    alias="from",
    description="JSON Pointer to what is taken; needed by 'move' and 'copy'.",
    examples=["/plugs/0"],
)


class _Operation(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SetOperation(_Operation):
    """Put a value somewhere, put another in its place, or ask that it be there."""

    op: Literal["add", "replace", "test"] = Field(description="What is done.")
    path: str = _PATH
    value: Any = Field(description="The value, as in a layout.", examples=["8 ft"])


class RemoveOperation(_Operation):
    """Take something out."""

    op: Literal["remove"] = Field(description="What is done.")
    path: str = _PATH


class TakeOperation(_Operation):
    """Move something, or copy it."""

    op: Literal["move", "copy"] = Field(description="What is done.")
    path: str = _PATH
    from_: str = _FROM


Operation = Annotated[SetOperation | RemoveOperation | TakeOperation, Field(discriminator="op")]
_OPERATION: TypeAdapter[Operation] = TypeAdapter(Operation)


def changed_layout(layout: object, data: Mapping[str, Any]) -> object:
    """Give a layout with the changes of a request done; the given one is left as it is.

    data: the request, with 'changes' or 'merge'. Raises ProblemError with the place in the request.
    """
    made = copy.deepcopy(layout)
    if "changes" in data:
        made = _patched(made, data["changes"])
    if data.get("merge") is not None:
        if not isinstance(data["merge"], Mapping):
            raise _fault("/merge", data["merge"], "is an object", '{"plugs": …}')
        made = _merged(made, data["merge"])
    return made


def _patched(layout: object, changes: object) -> object:
    if changes is None:
        return layout
    if not isinstance(changes, list) or len(changes) > MOST:
        problem = f"is a list of at most {MOST} operations (RFC 6902)"
        raise _fault("/changes", changes, problem, _EXAMPLE)
    for number, change in enumerate(changes):
        layout = _done(layout, change, pointer_to("changes", number))
    return layout


_EXAMPLE = '[{"op": "replace", "path": "/plugs/0/station", "value": "8 ft"}]'


def _done(layout: object, change: Any, place: str) -> object:  # noqa: ANN401 - JSON data
    try:
        _OPERATION.validate_python(change)
        made: object = jsonpatch.apply_patch(layout, [change], in_place=True)
    except ValidationError:
        raise _fault(place, change, "is no operation of RFC 6902", _EXAMPLE[1:-1]) from None
    except jsonpatch.JsonPatchTestFailed:
        raise _fault(place, change, "asks for a value that is not there", "another value") from None
    except (jsonpatch.JsonPatchException, JsonPointerException, TypeError, ValueError):
        problem = "leads to no place in the layout as it is by then"
        raise _fault(f"{place}/path", _path(change), problem, "/plugs/0/station") from None
    if isinstance(change, Mapping) and change["op"] == "copy" and _is_too_long(made):
        raise _fault(place, change, "makes the layout larger than is read", "fewer copies")
    return made


def _path(change: object) -> object:
    return change.get("path") if isinstance(change, Mapping) else change


def _is_too_long(layout: object) -> bool:
    return len(json.dumps(layout)) > _LONGEST


def _merged(target: object, patch: Mapping[str, Any]) -> dict[str, Any]:
    """Merge as RFC 7396, section 2, writes it."""
    made: dict[str, Any] = dict(target) if isinstance(target, Mapping) else {}
    for name, value in patch.items():
        if value is None:
            made.pop(name, None)
        elif isinstance(value, Mapping):
            made[name] = _merged(made.get(name), value)
        else:
            made[name] = value
    return made


def _fault(pointer: str, value: object, problem: str, example: str) -> ProblemError:
    fault = RequestFault(pointer=pointer, found=shown(value), problem=problem, example=example)
    return ProblemError(Kind.UNUSABLE, "The changes can not be done.", faults=[fault])
