"""Imported once in the process that workers are forked from: loads and warms up all they need.

Loading the libraries and compiling the solver takes seconds. Done here, once, a new worker is there
in a hundredth of a second, and shares the memory of all that.
"""

from __future__ import annotations

import gc
import logging

from layoutcheck_service import app as _app  # noqa: F401 - loads every route and what it needs


def _fault() -> str | None:
    """Judge the example of the OpenAPI document. Gives the kind of error where that fails."""
    from layoutcheck_service import examples  # noqa: PLC0415

    try:
        examples.reports()
    except Exception as error:
        return type(error).__name__
    return None


# A library's own complaint may hold a part of a layout, and no log may.
logging.getLogger().addHandler(logging.NullHandler())
FAULT = _fault()
# What is loaded here never becomes garbage: looking it through again would only unshare its memory.
gc.collect()
gc.freeze()
