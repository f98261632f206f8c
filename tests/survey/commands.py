"""The survey as a process of its own, that can be killed with all that it started."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil

# A shell in the background leaves Ctrl-C ignored, and the programs it starts inherit that.
SCRIPT = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
from layoutcheck.cli import main
sys.exit(main())
"""


class Run:
    """A survey that runs. It leads a session, so that what it started can be found."""

    def __init__(self, where: Path, result: Path, *options: str) -> None:
        argv = [sys.executable, "-c", SCRIPT, "survey", str(where), "-o", str(result), *options]
        self.result = result
        self.started = time.monotonic()
        self.process = subprocess.Popen(
            argv, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
        )

    @property
    def journal(self) -> Path:
        return self.result.with_suffix(".journal")

    def lines(self) -> int:
        """Whole lines in the journal now."""
        return self.journal.read_bytes().count(b"\n") if self.journal.exists() else 0

    def is_running(self) -> bool:
        return self.process.poll() is None

    def wait_for(self, lines: int, timeout: float = 120.0) -> None:
        end = time.monotonic() + timeout
        while self.is_running() and self.lines() < lines and time.monotonic() < end:
            time.sleep(0.02)

    def kill(self) -> None:
        """Kill it as a power cut would: no process of it gets to say anything."""
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.communicate()

    def interrupt(self) -> tuple[int, str]:
        """Strike Ctrl-C: every process of the terminal gets it."""
        os.killpg(self.process.pid, signal.SIGINT)
        return self.end()

    def end(self) -> tuple[int, str]:
        """Wait until it ends; give its exit code and what it printed."""
        out, err = self.process.communicate(timeout=590)
        return self.process.returncode, out.decode() + err.decode()

    def orphans(self, within: float = 30.0) -> list[int]:
        """Give the processes of its session that are still there after some seconds."""
        end = time.monotonic() + within
        while (left := self._session()) and time.monotonic() < end:
            time.sleep(0.1)
        return left

    def _session(self) -> list[int]:
        return [p.pid for p in psutil.process_iter() if _session_of(p.pid) == self.process.pid]


def _session_of(pid: int) -> int:
    try:
        alive = psutil.Process(pid).status() != psutil.STATUS_ZOMBIE
        return os.getsid(pid) if alive else -1
    except (ProcessLookupError, psutil.NoSuchProcess):
        return -1
