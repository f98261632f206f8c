"""Break off what takes too long, wherever it is: a thread can not be stopped from outside."""

from __future__ import annotations

import ctypes
import threading
from types import TracebackType


class OutOfTime(BaseException):
    """Raised in the thread whose time is up. No rule that guards itself may catch it."""


class Deadline:
    """A context that raises OutOfTime in its own thread once its time (s) is up.

    It strikes between two instructions of Python. A call into compiled code that never comes
    back is not broken off; the solvers called here all end.
    """

    def __init__(self, seconds: float) -> None:
        """Set the time (s)."""
        self._thread = threading.get_ident()
        self._lock = threading.Lock()
        self._over = False
        self._timer = threading.Timer(seconds, self._strike)
        self._timer.daemon = True

    def __enter__(self) -> None:
        """Start the time."""
        self._timer.start()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop the time; what was about to strike strikes no more."""
        with self._lock:
            self._over = True
            self._raise_there(None)
        self._timer.cancel()

    def _strike(self) -> None:
        with self._lock:
            if not self._over:
                self._raise_there(OutOfTime)

    def _raise_there(self, error: type[BaseException] | None) -> None:
        thread = ctypes.c_ulong(self._thread)
        ctypes.pythonapi.PyThreadState_SetAsyncExc(thread, error and ctypes.py_object(error))
