"""Ways to run the command line in a test."""

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.cli import main
from tests.cli.small_layout import small_layout


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: bytes
    err: str

    @property
    def text(self) -> str:
        return self.out.decode()


Run = Callable[..., Ran]
Write = Callable[..., Path]


@pytest.fixture
def run(capfdbinary: pytest.CaptureFixture[bytes]) -> Run:
    """Run a command within this process."""

    def ran(*argv: str) -> Ran:
        code = main(argv)
        captured = capfdbinary.readouterr()
        return Ran(int(code), captured.out, captured.err.decode())

    return ran


@pytest.fixture
def run_apart() -> Run:
    """Run a command in a process of its own."""

    def ran(*argv: str, stdin: bytes = b"", **settings: str) -> Ran:
        script = "import sys; from layoutcheck.cli import main; sys.exit(main())"
        done = subprocess.run(
            [sys.executable, "-c", script, *argv],
            input=stdin,
            capture_output=True,
            check=False,
            env={"PATH": "", **settings},
        )
        return Ran(done.returncode, done.stdout, done.stderr.decode())

    return ran


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a file and give its path; the small layout if nothing is given."""

    def wrote(name: str = "small.json", content: Any = None) -> Path:
        path = tmp_path / name
        if isinstance(content, bytes):
            path.write_bytes(content)
        elif isinstance(content, str):
            path.write_text(content, encoding="utf-8")
        else:
            path.write_text(json.dumps(content or small_layout()), encoding="utf-8")
        return path

    return wrote
