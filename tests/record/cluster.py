"""A throw-away PostgreSQL server of our own, on a socket in a folder of its own."""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any
from urllib.parse import quote

_SETTINGS = "-c listen_addresses='' -c max_connections=40 -c shared_buffers=16MB"


def programs() -> Path | None:
    """Find the folder with initdb and pg_ctl: on the path, or where Debian keeps them."""
    found = shutil.which("pg_ctl")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((f for f in folders if (f / "initdb").exists() and (f / "pg_ctl").exists()), None)


def _runs(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


class Cluster:
    """A server that can be started, stopped, and killed like a machine that loses its power."""

    def __init__(self, folder: Path) -> None:
        self._programs = folder
        # PostgreSQL refuses to run as root. A socket's path must be short, so it is not tmp_path.
        user = "postgres" if os.getuid() == 0 else None
        self._as_user: dict[str, Any] = {}
        self.home = Path(tempfile.mkdtemp(prefix="lc-pg-"))
        if user is not None:
            self._as_user = {"user": user, "group": user, "extra_groups": []}
            owner = pwd.getpwnam(user)
            os.chown(self.home, owner.pw_uid, owner.pw_gid)
        self._data = self.home / "data"
        self._watcher = self._watched()
        self._run("initdb", "-D", self._data, "-A", "trust", "-U", "postgres", "-E", "UTF8")

    @property
    def url(self) -> str:
        return f"postgresql://postgres@/postgres?host={quote(str(self.home), safe='')}"

    def start(self) -> None:
        options = f"{_SETTINGS} -c unix_socket_directories={self.home}"
        log = self.home / "log"
        self._run("pg_ctl", "-D", self._data, "-o", options, "-l", log, "-w", "start")

    def kill(self) -> None:
        """Kill the server and all its helpers at once."""
        first = int((self._data / "postmaster.pid").read_text().split()[0])
        children = Path(f"/proc/{first}/task/{first}/children").read_text().split()
        killed = (first, *map(int, children))
        for process in killed:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        while any(_runs(process) for process in killed):
            time.sleep(0.01)
        # Where nobody collects the dead, the old process number would seem to be in use.
        for lock in (self._data / "postmaster.pid", *self.home.glob(".s.PGSQL.*")):
            lock.unlink()

    def remove(self) -> None:
        """Stop the server and take its folder away."""
        assert self._watcher.stdin is not None
        self._watcher.stdin.close()
        self._watcher.wait(timeout=60)

    def _watched(self) -> subprocess.Popen[bytes]:
        """Start what clears up once its input ends: also when the tests are killed."""
        clear = 'read -r _; "$0" -D "$1" -m immediate -w stop; rm -rf "$2"'
        return subprocess.Popen(
            ["sh", "-c", clear, self._programs / "pg_ctl", self._data, self.home],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd="/",
            start_new_session=True,
            **self._as_user,
        )

    def _run(self, program: str, *arguments: object, check: bool = True) -> None:
        done = subprocess.run(
            [str(self._programs / program), *map(str, arguments)],
            cwd="/",
            **self._as_user,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if program != "pg_ctl" else subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
        )
        if check and done.returncode != 0:
            raise RuntimeError(f"{program} failed: {done.stdout}")
