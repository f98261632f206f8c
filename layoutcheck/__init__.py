"""layoutcheck: checks where ice plugs may be frozen in water-filled building pipe.

>>> from layoutcheck import check
>>> report = check({
...     "name": "Invented",
...     "pipes": {"riser": "A to B, 2 in, 60 ft"},
...     "plugs": {"F1": "riser at 30 ft, jacket 12 in"},
... })
>>> report.verdict.value
'undecided'

The nine names of this face are all that a program needs; they are loaded when they are asked for.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from layoutcheck.document import Layout, LayoutFaults
    from layoutcheck.engine import Recheck, check, freeze, plan, read_layout
    from layoutcheck.report.model import Report
    from layoutcheck.rules.pack import Pack

__version__ = "0.1.0"

__all__ = [
    "Layout",
    "LayoutFaults",
    "Pack",
    "Recheck",
    "Report",
    "check",
    "freeze",
    "plan",
    "read_layout",
]

_HOMES = {
    "Layout": "layoutcheck.document",
    "LayoutFaults": "layoutcheck.document",
    "Pack": "layoutcheck.rules.pack",
    "Report": "layoutcheck.report.model",
}


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    """Load what is asked for, and no more: help and errors of the command line come at once."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_HOMES.get(name, "layoutcheck.engine")), name)
