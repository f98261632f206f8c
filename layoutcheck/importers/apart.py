"""Run a reader in a process of its own.

The library that reads building models is written in C++, and an unsound file can end the process
it runs in. Our users' process, and a service's worker, must outlive any file. So the whole reading
happens in a child, and what it made comes back. The child is bounded in memory and time as well.

The child is started anew and not forked: a fork of a process with threads may hang.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import IO, Any

from layoutcheck.document.faults import Fault, LayoutFaults
from layoutcheck.importers.draft import Imported, Progress, no_progress

# A model of 50,000 elements takes 1.5 GB and half a minute; both grow with the file.
_MEMORY, _MEMORY_TIMES = 4 * 1024**3, 60
_SECONDS, _SECONDS_PER_BYTE = 120, 5e-6
_START = "from layoutcheck.importers.apart import child; child()"


@dataclass(frozen=True)
class Bounds:
    """What a child may take: bytes of memory, seconds of the processor."""

    memory: int
    seconds: int

    @classmethod
    def for_file(cls, size: int) -> Bounds:
        """Give bounds that a sound file of a size (bytes) stays far below."""
        return cls(_MEMORY + _MEMORY_TIMES * size, _SECONDS + int(_SECONDS_PER_BYTE * size))


class ChildDied(Exception):
    """Raised where the child ended without an answer. message: why, as far as it is known."""


def run_apart(
    target: str,
    /,
    *args: object,
    bounds: Bounds,
    progress: Progress = no_progress,
    **named: object,
) -> Any:  # noqa: ANN401 - whatever the function gives
    """Call a function of ours in a child and give what it returns.

    target: "module:function"; it takes progress as well. Raises LayoutFaults as it does, and
    ChildDied.
    """
    command = [sys.executable, "-c", _START]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    with subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
    ) as running:
        try:
            assert running.stdin is not None
            assert running.stdout is not None
            pickle.dump((target, args, named, bounds), running.stdin)
            running.stdin.flush()
            return _answer(running.stdout, progress)
        except (EOFError, OSError, pickle.UnpicklingError):
            running.kill()
            raise ChildDied(_why(running.wait(), bounds)) from None
        except BaseException:  # an interrupt, say: no child is left behind
            running.kill()
            raise


class _Plain(pickle.Unpickler):
    """Takes plain values and those of an import, and nothing that could run.

    The child has read a file that we do not trust.
    """

    def find_class(self, module: str, name: str) -> Any:  # noqa: ANN401 - as in the base class
        """Give a class that an answer may hold."""
        if module != Imported.__module__:
            raise pickle.UnpicklingError(f"{module}.{name} is no part of an answer")
        return super().find_class(module, name)


def _answer(stream: IO[bytes], progress: Progress) -> Any:  # noqa: ANN401 - see above
    while True:
        kind, what = _Plain(stream).load()
        if kind == "progress":
            progress(*what)
        elif kind == "faults":
            raise LayoutFaults([Fault(**fault) for fault in what])
        elif kind == "memory":
            raise ChildDied("takes more memory than such a file should")
        else:
            return what


def _why(code: int, bounds: Bounds) -> str:
    import signal  # noqa: PLC0415 - only where something went wrong

    if code in {-getattr(signal, "SIGXCPU", 0), -getattr(signal, "SIGKILL", 0)}:
        return f"took longer than {bounds.seconds} s, or more memory than there is"
    return "made its reader fail"


# --- in the child -------------------------------------------------------------------------------


def child() -> None:
    """Do what the parent asks, and answer on standard output, which nothing else may use."""
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    target, args, named, bounds = pickle.load(sys.stdin.buffer)
    _bind(bounds)

    def tell(kind: str, what: object) -> None:
        pickle.dump((kind, what), out)
        out.flush()

    def progress(what: str, done: int, total: int) -> None:
        tell("progress", (what, done, total))

    module, name = target.split(":")
    assert module.startswith("layoutcheck.")
    function: Callable[..., object] = getattr(import_module(module), name)
    try:
        tell("done", function(*args, progress=progress, **named))
    except LayoutFaults as error:
        tell("faults", [fault.model_dump() for fault in error.faults])
    except MemoryError:
        tell("memory", None)
    os._exit(0)  # no clean-up of the C++ library's own, which may fail as well


def _bind(bounds: Bounds) -> None:
    """Bound the child, and let it die with its parent, where the system can do that."""
    if sys.platform != "linux":
        return
    import ctypes  # noqa: PLC0415 - see above
    import resource  # noqa: PLC0415 - there is none on other systems
    import signal  # noqa: PLC0415 - see above

    ctypes.CDLL(None).prctl(1, int(signal.SIGKILL))  # PR_SET_PDEATHSIG, prctl(2)
    resource.setrlimit(resource.RLIMIT_AS, (bounds.memory, bounds.memory))
    resource.setrlimit(resource.RLIMIT_CPU, (bounds.seconds, bounds.seconds + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
