"""Which portions of a report a caller is sent: the whole is large, and few need all of it.

A field says itself to which portion it belongs (`Of`). What belongs to none is always there.
"""

from __future__ import annotations

from collections.abc import Collection
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel, Field
from pydantic.fields import FieldInfo

if TYPE_CHECKING:
    from layoutcheck.report.model import Report

_MARK = "x-portion"


class Portion(StrEnum):
    """A portion of a report.

    findings: those that do not hold; held: the rest. stretches: where each plug may go and what
    shuts it out elsewhere. courses: each estimate in full. proposal: the layout with the joint
    mending done.
    """

    VERDICT = "verdict"
    ACTIONS = "actions"
    FINDINGS = "findings"
    HELD = "held"
    PLUGS = "plugs"
    STRETCHES = "stretches"
    COURSES = "courses"
    MENDING = "mending"
    PROPOSAL = "proposal"
    FLOWING = "flowing"
    ASSUMPTIONS = "assumptions"
    CAUTIONS = "cautions"


EVERY = frozenset(Portion)
# What a crew or an office acts on; the rest is for who looks closer.
USUAL = frozenset(
    {
        Portion.VERDICT,
        Portion.ACTIONS,
        Portion.FINDINGS,
        Portion.PLUGS,
        Portion.MENDING,
        Portion.CAUTIONS,
    }
)


def of(portion: Portion) -> FieldInfo:
    """Mark a field as belonging to a portion; use it in `Annotated`."""
    found: FieldInfo = Field(json_schema_extra={_MARK: portion.value})
    return found


def optional_portions(schema: dict[str, Any]) -> None:
    """Take what belongs to a portion out of the required fields of a JSON Schema."""
    marked = {n for n, field in schema.get("properties", {}).items() if _MARK in field}
    if marked and "required" in schema:
        schema["required"] = [n for n in schema["required"] if n not in marked]


def portions_json(report: Report, portions: Collection[Portion] = USUAL) -> str:
    """Write portions of a report as JSON without blanks, one line: the same bytes each time.

    What is left out is named in `left_out`, so that nobody takes it for not being there.
    """
    wanted = frozenset(portions)
    missing = tuple(p.value for p in Portion if p not in wanted and p is not Portion.VERDICT)
    shown = report.model_copy(update={"findings": _findings(report, wanted), "left_out": missing})
    return shown.model_dump_json(exclude=_excluded(type(report), wanted)) + "\n"


def _findings(report: Report, wanted: frozenset[Portion]) -> tuple[Any, ...]:
    fine = Portion.HELD in wanted
    bad = Portion.FINDINGS in wanted
    return tuple(f for f in report.findings if (fine if f.outcome.is_fine else bad))


@cache
def _excluded(model: type[BaseModel], wanted: frozenset[Portion]) -> dict[str, Any]:
    """Give what pydantic is to leave out of a model and of the models in it."""
    found: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        extra = field.json_schema_extra
        portion = extra.get(_MARK) if isinstance(extra, dict) else None
        if portion is not None and _is_left_out(Portion(str(portion)), wanted):
            found[name] = True
            continue
        for inner, many in _models_in(field.annotation):
            if below := _excluded(inner, wanted):
                found[name] = {"__all__": below} if many else below
    return found


def _is_left_out(portion: Portion, wanted: frozenset[Portion]) -> bool:
    if portion is Portion.FINDINGS:  # one list holds both
        return wanted.isdisjoint({Portion.FINDINGS, Portion.HELD})
    return portion not in wanted


def _models_in(annotation: Any, *, many: bool = False) -> list[tuple[type[BaseModel], bool]]:  # noqa: ANN401
    """Find the models that a field holds, and whether it holds a list of them."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [(annotation, many)]
    origin = getattr(annotation, "__origin__", None)
    inside = many or (isinstance(origin, type) and issubclass(origin, tuple))
    return [found for one in get_args(annotation) for found in _models_in(one, many=inside)]
