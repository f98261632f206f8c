"""Reports: one result, many ways to show it."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from layoutcheck.report.model import Report
    from layoutcheck.report.run import check, check_document, glance, outcomes

__all__ = ["Report", "check", "check_document", "glance", "outcomes"]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    """Load what is asked for, and no more: a schema or a manual needs no rule."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    home = "model" if name == "Report" else "run"
    return getattr(importlib.import_module(f"{__name__}.{home}"), name)
