"""What a check is asked with: the layout, the company's pack, the day of judgement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.document import Layout, LayoutFaults, parse_layout
from layoutcheck.document.faults import pointer_to, shown
from layoutcheck.report.packs import Pack, read_pack_text
from layoutcheck_service.changes import MOST, Operation, changed_layout
from layoutcheck_service.problems import (
    Kind,
    ProblemError,
    RequestFault,
    inside_pack,
    moved_under,
)

_DAY = "2026-11-25"
_PACK = 'name = "our company"\n[figures.plug-spacing]\nper_inch = "14 in"'
_LAYOUT = '{"layout": {"format": "layoutcheck layout 1", "name": "…", "junctions": […], …}}'


class CheckRequest(BaseModel):
    """Body of a check. Read by `read_check`, which finds every fault; this gives its schema."""

    model_config = ConfigDict(extra="forbid")

    layout: Layout
    pack: str | None = Field(
        None,
        description="A company's rule pack: the text of a TOML file. Left out: built-in figures.",
        examples=[_PACK],
    )
    on: date | None = Field(
        None,
        description="The day of judgement, which only waivers need. The service never takes it "
        "from a clock: without it, a waiver is undecided.",
    )


class ChangeRequest(CheckRequest):
    """Body of a check of a layout that is changed first; changes are done before merge."""

    changes: list[Operation] | None = Field(
        None,
        max_length=MOST,
        description="Changes to the layout, one after the other (JSON Patch, RFC 6902). The "
        "report then says what differs.",
    )
    merge: dict[str, Any] | None = Field(
        None,
        description="What to lay over the layout (merge patch, RFC 7396): null takes out.",
        examples=[{"plugs": {"F1": "riser at 8 ft, jacket 12 in"}}],
    )


@dataclass(frozen=True)
class Asked:
    """A request to check, sound in every part."""

    layout: Layout
    pack: Pack | None
    on: date | None


def read_check(data: object) -> Asked:
    """Read a check's body. Raises ProblemError with every fault of all its parts."""
    faults: list[RequestFault] = []
    if not isinstance(data, Mapping):
        faults.append(_fault("", data, "the body is one object that holds a layout", "layout"))
        raise _unusable(faults)
    if "layout" not in data and "junctions" in data:
        problem = "is not there; a layout stands in its place, and belongs inside 'layout'"
        raise _unusable([_missing(problem)])
    layout = _layout(data, faults)
    pack = _pack(data.get("pack"), faults)
    on = _day(data.get("on"), faults)
    for name in sorted(set(data) - set(CheckRequest.model_fields)):
        problem = "is not a field of this request"
        faults.append(_fault(pointer_to(name), data[name], problem, "leave it out"))
    if faults or layout is None:
        raise _unusable(faults)
    return Asked(layout, pack, on)


def read_change(data: object) -> tuple[Asked | None, Asked]:
    """Read a check's body with changes in it: the layout before, if it is changed, and after.

    Raises ProblemError; places in a layout are those in the changed one.
    """
    if not isinstance(data, Mapping) or not {"changes", "merge"} & data.keys():
        return None, read_check(data)
    rest = {k: v for k, v in data.items() if k not in {"changes", "merge"}}
    before = read_check(rest)
    return before, read_check({**rest, "layout": changed_layout(rest["layout"], data)})


def _layout(data: Mapping[str, object], faults: list[RequestFault]) -> Layout | None:
    if "layout" not in data:
        faults.append(_missing("is required and is not there"))
        return None
    try:
        return parse_layout(data["layout"])
    except LayoutFaults as error:
        faults += moved_under("/layout", error.faults)
        return None


def _pack(value: object, faults: list[RequestFault]) -> Pack | None:
    if value is None:
        return None
    if not isinstance(value, str):
        faults.append(_fault("/pack", value, "is the text of a TOML file", _PACK))
        return None
    try:
        return read_pack_text(value)
    except LayoutFaults as error:
        faults += inside_pack("/pack", error.faults)
        return None


def _day(value: object, faults: list[RequestFault]) -> date | None:
    if value is None:
        return None
    try:
        if isinstance(value, str) and len(value) == len(_DAY):
            return date.fromisoformat(value)
    except ValueError:
        pass
    faults.append(_fault("/on", value, "is a day, written year-month-day", _DAY))
    return None


def _missing(problem: str) -> RequestFault:
    return RequestFault(pointer="/layout", found="nothing", problem=problem, example=_LAYOUT)


def _fault(pointer: str, value: object, problem: str, example: str) -> RequestFault:
    return RequestFault(pointer=pointer, found=_found(value), problem=problem, example=example)


def _found(value: object) -> str:
    """Show a plain value; name the kind of one that holds others, however deep it goes."""
    if isinstance(value, Mapping):
        return "an object"
    return "a list" if isinstance(value, list) else shown(value)


def _unusable(faults: list[RequestFault]) -> ProblemError:
    many = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    detail = f"{many} found; each is listed with its place, what was found and a right example."
    return ProblemError(Kind.UNUSABLE, detail, faults=faults)
