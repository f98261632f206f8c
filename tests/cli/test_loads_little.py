"""Help, manuals and schemas come at once, and what an extra brings is asked for only at need."""

import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = (
    "networkx",
    "scipy",
    "layoutcheck.network",
    "layoutcheck.physics",
    "layoutcheck.rules.base",
)

SITE = str(Path(__file__).parents[2] / "fixtures" / "no-drawing-mended.json")

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


def test_a_check_of_a_riser_loads_no_optimizer_and_nothing_that_prints() -> None:
    asked = "import sys; from layoutcheck import check; check(sys.argv[1]); print(*sys.modules)"
    riser = SITE.replace("no-drawing-mended", "heating-riser-sketch")
    done = subprocess.run(
        [sys.executable, "-c", asked, riser], capture_output=True, text=True, check=True
    )
    unwanted = {
        "scipy.optimize",
        "scipy.integrate",
        "matplotlib",
        "fontTools",
        "weasyprint",
        "rich",
    }
    assert not unwanted & set(done.stdout.split())


LACKING = """
import sys
sys.modules |= dict.fromkeys(("fontTools", "matplotlib", "resvg_py", "weasyprint", "sqlalchemy"))
from layoutcheck.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize(
    ("asked", "code", "told"),
    [
        (["check", SITE], 0, ""),
        (["draw", SITE, "-o", "drawing.svg"], 2, "pip install 'layoutcheck[print]'"),
        (["sheet", SITE, "-o", "sheet.pdf"], 2, "pip install 'layoutcheck[print]'"),
        (["record", "list"], 2, "pip install 'layoutcheck[record]'"),
    ],
)
def test_a_missing_extra_is_named_with_how_to_get_it(
    asked: list[str], code: int, told: str, tmp_path: Path
) -> None:
    script = [sys.executable, "-c", LACKING, *asked]
    done = subprocess.run(script, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == code, done.stderr
    assert told in done.stderr
    assert not list(tmp_path.iterdir())
