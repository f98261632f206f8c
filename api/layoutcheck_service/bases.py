"""Layouts that callers may refer to for a while, so that a change is sent and not the whole again.

Each is a file in a folder that the workers share; the oldest give way. Whoever asks for one that is
gone sends the whole again: nothing is promised, and a copy of the service has its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from pathlib import Path
from typing import Any

# What is kept at most: layouts, bytes.
MOST, MOST_BYTES = 200, 64 * 1024 * 1024


class Bases:
    """The layouts that are kept for one owner of keys."""

    def __init__(self, folder: Path, owner: str | None) -> None:
        """folder: shared by all owners; none of them gets another's."""
        self._folder = folder
        self._own = hashlib.sha256((owner or "").encode()).hexdigest()[:16]

    def keep(self, body: Any, report: str) -> str:  # noqa: ANN401 - JSON data
        """Keep the body of a check and its report; give the name to refer to it by."""
        text = json.dumps({"body": body, "report": json.loads(report)}, separators=(",", ":"))
        name = hashlib.sha256(text.encode()).hexdigest()[:32]
        self._folder.mkdir(mode=0o700, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", dir=self._folder, delete=False) as made:
            made.write(text)
        Path(made.name).replace(self._path(name))
        self._make_room()
        return name

    def get(self, name: str) -> dict[str, Any] | None:
        """Give what was kept under a name; None where it is gone, or never was."""
        try:
            path = self._path(name)
            found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
            os.utime(path)
        except (OSError, ValueError):
            return None
        return found

    def _path(self, name: str) -> Path:
        return self._folder / f"{self._own}-{name}"

    def _make_room(self) -> None:
        with contextlib.suppress(OSError):  # another worker makes room at the same time
            files = [(e.stat(), e.path) for e in os.scandir(self._folder)]
            files.sort(key=lambda f: f[0].st_mtime_ns, reverse=True)
            used = 0
            for number, (about, path) in enumerate(files):
                used += about.st_size
                if number and (number >= MOST or used > MOST_BYTES):
                    Path(path).unlink(missing_ok=True)
