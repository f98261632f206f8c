"""A service in a process of its own, for tests of what only a real one shows."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
SERVE = "import sys; from layoutcheck_service.command import serve; sys.exit(serve(sys.argv[1:]))"
BYTES = {"content-type": "application/octet-stream"}
JSON = {"content-type": "application/json"}


class Running:
    """One service, its address, and what it wrote."""

    def __init__(self, process: subprocess.Popen[str], address: str) -> None:
        self.process = process
        self.address = address

    def stopped(self, number: int = signal.SIGTERM, *, within: float = 60) -> str:
        """Stop it and give what it wrote to standard error."""
        self.process.send_signal(number)
        _, said = self.process.communicate(timeout=within)
        return said


@contextmanager
def running(*arguments: str, **settings: Any) -> Iterator[Running]:
    """Run the service with settings. arguments: of the interpreter; those of `serve` if none."""
    given = {f"LAYOUTCHECK_{name.upper()}": str(value) for name, value in settings.items()}
    kept = {k: v for k, v in os.environ.items() if not k.startswith("LAYOUTCHECK_")}
    with subprocess.Popen(
        [sys.executable, *(arguments or ("-c", SERVE))],
        cwd=ROOT,
        env={**kept, "LAYOUTCHECK_PORT": "0", **given},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            assert process.stdout is not None
            said = process.stdout.readline()
            assert said.startswith("layoutcheck listens on "), said or process.communicate()[1]
            yield Running(process, said.split()[3])
        finally:
            if process.poll() is None:
                process.kill()


def eventually(true: Callable[[], bool], *, within: float) -> float:
    """Wait until something is true; give how long that took (s). Fails after `within` (s)."""
    start = time.monotonic()
    while not true():
        assert time.monotonic() - start < within, "it never came true"
        time.sleep(0.01)
    return time.monotonic() - start


def is_there(pid: int) -> bool:
    """Tell whether a process is there and runs (a zombie is not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
