"""GET /v1/rules and /v1/rules/{name}: what each rule asks, why, and where its figures come from."""

from __future__ import annotations

import difflib
from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.report.explain import UnknownRule, measuring_manual, rule_manual, rule_manuals
from layoutcheck.report.manuals import FigureManual, RuleManual
from layoutcheck_service.answers import problems
from layoutcheck_service.problems import Kind, ProblemError

router = APIRouter(prefix="/v1", tags=["rules"])


class RuleList(BaseModel):
    """Every rule, in the order of names."""

    model_config = ConfigDict(extra="forbid")

    rules: tuple[RuleManual, ...]
    measuring: tuple[FigureManual, ...] = Field(
        description="Figures that belong to no single rule: how every distance is measured."
    )


@router.get("/rules", operation_id="listRules", summary="Every rule, with its manual")
def get_rules() -> RuleList:
    """Answer with the manual of each rule. The figures in force are the built-in ones."""
    return RuleList(rules=tuple(rule_manuals()), measuring=measuring_manual())


@router.get(
    "/rules/{name}",
    operation_id="explainRule",
    summary="The manual of one rule",
    responses=problems(Kind.NOT_FOUND),
)
def get_rule(
    name: Annotated[str, Path(description="The rule's name.", examples=["plug-spacing"])],
) -> RuleManual:
    """Answer with one rule's manual. The figures in force are the built-in ones."""
    try:
        return rule_manual(name)
    except UnknownRule as error:
        near = difflib.get_close_matches(name[:100], error.known, n=1)
        meant = f"Is {near[0]} meant? " if near else ""
        raise ProblemError(
            Kind.NOT_FOUND,
            f"No rule has that name. {meant}GET /v1/rules lists the rules there are.",
        ) from None
