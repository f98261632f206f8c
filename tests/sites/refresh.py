"""Write the documents of fixtures/ anew: python tests/sites/refresh.py."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.sites.broken import all_broken, expected  # noqa: E402
from tests.sites.builder import written  # noqa: E402
from tests.sites.every import DEMOS  # noqa: E402

FIXTURES = ROOT / "fixtures"


def texts() -> dict[str, str]:
    """Give each file's name in fixtures/ and what it should hold."""
    made = {}
    for demo in DEMOS:
        made[f"{demo.name}-sketch.json"] = written(demo.sketch())
        made[f"{demo.name}-mended.json"] = written(demo.mended())
    broken = all_broken()
    made |= {f"broken/{b.name}.json": b.text for b in broken}
    made["broken/expected.json"] = expected(broken)
    return made


def main() -> None:
    """Write every file."""
    (FIXTURES / "broken").mkdir(parents=True, exist_ok=True)
    for name, text in texts().items():
        (FIXTURES / name).write_text(text, encoding="utf-8")
        print(name)


if __name__ == "__main__":
    main()
