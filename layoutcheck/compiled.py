"""Compile the few loops that no array library has, with numba."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile with numba and keep the machine code between runs, where there is a place to."""
    try:
        return cast(Function, numba.njit(cache=True, error_model="numpy")(function))
    except RuntimeError:  # a read-only installation and no folder of the user's own
        return cast(Function, numba.njit(error_model="numpy")(function))
