"""Help, manuals and schemas come at once: they load no graph and no physics."""

import subprocess
import sys

import pytest

HEAVY = (
    "networkx",
    "scipy",
    "layoutcheck.network",
    "layoutcheck.physics",
    "layoutcheck.rules.base",
)

SCRIPT = f"""
import sys
from layoutcheck.cli import main
code = main(sys.argv[1:])
print(code, [name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)
"""


@pytest.mark.parametrize("asked", ["--help", "explain", "explain isolation", "schema"])
def test_it_loads_neither_graph_nor_physics(asked: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, *asked.split()], capture_output=True, text=True, check=True
    )
    assert done.stdout
    assert done.stderr == "0 []\n"
