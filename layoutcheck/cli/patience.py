"""Shows on a terminal that long work goes on: nothing for what is done within a second."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

# s before anything is shown, and between two lines of progress.
SOON = 1.0


@contextmanager
def patience(doing: str, *, soon: float = SOON) -> Iterator[None]:
    """Tell on standard error, if it is a terminal, how long the work inside has taken so far.

    The line is wiped when the work ends, so that nothing of it stays beside the results.
    """
    stream = sys.stderr
    if not stream.isatty():
        yield
        return
    done = threading.Event()
    teller = threading.Thread(target=_tell, args=(stream, doing, done, soon), daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()


def _tell(stream: TextIO, doing: str, done: threading.Event, soon: float) -> None:
    times, line = 1, ""
    while not done.wait(soon):
        line = f"{doing}: {times * soon:.0f} s"
        stream.write(f"\r{line}")
        stream.flush()
        times += 1
    if line:
        stream.write("\r" + " " * len(line) + "\r")
        stream.flush()
