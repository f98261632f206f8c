"""Write again every file that is generated from the code. Usage: python tests/refresh.py"""

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, cast

from layoutcheck.cli.schema import schema_bytes
from layoutcheck.document import parse_layout, read_text
from layoutcheck.report import check
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.schemas import SCHEMAS
from layoutcheck.report.text import report_text
from layoutcheck.report.text_plans import plans_text
from layoutcheck_service.app import create_app
from layoutcheck_service.description import openapi_text
from layoutcheck_service.settings import Settings, settings_table
from tests.bench import table as speed
from tests.conformance.cases import makers
from tests.report.sample_report import REPORT

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
GUIDE = ROOT / "api" / "README.md"
SHOWN_IN_README = ROOT / "fixtures" / "heating-riser-sketch.json"
PLANNED_IN_README = ROOT / "fixtures" / "heating-riser-mended.json"
OUTPUT_MARKS = ("<!-- output:check -->", "<!-- /output:check -->")
SETTINGS_MARKS = ("<!-- settings -->", "<!-- /settings -->")
PLAN_MARKS = ("<!-- output:plan -->", "<!-- /output:plan -->")
# Blocks of the output that a reader of the README does without.
LEFT_OUT = ("MAY FLOW", "TAKEN FOR GRANTED", "WHERE PLUG", "CAUTIONS")


def _readme() -> bytes:
    text = README.read_text(encoding="utf-8")
    text = _put(text, OUTPUT_MARKS, _shown_check())
    text = _put(text, PLAN_MARKS, _shown_plan())
    return speed.put_in(text).encode()


def _shown_check() -> str:
    layout = parse_layout(read_text(SHOWN_IN_README.read_bytes()))
    blocks = report_text(check(layout)).rstrip("\n").split("\n\n")
    kept = [b for b in blocks if not b.startswith(LEFT_OUT)]
    return "\n\n".join([*kept[:-1], "[...]", kept[-1]])


def _shown_plan() -> str:
    data = read_text(PLANNED_IN_README.read_bytes())
    report = plan_layout(parse_layout(data), data=cast("dict[str, Any]", data), top=1)
    blocks = plans_text(report).rstrip("\n").split("\n\n")
    kept = [b for b in blocks if not b.startswith(LEFT_OUT)]
    return "\n\n".join([*kept[:-1], "[...]", kept[-1]])


def _put(text: str, marks: tuple[str, str], shown: str) -> str:
    """Put an output between its marks in the README."""
    start, end = marks
    block = f"{start}\n```text\n{shown}\n```\n{end}"
    pattern = re.compile(f"{re.escape(start)}.*?{re.escape(end)}", re.DOTALL)
    assert len(pattern.findall(text)) == 1, f"README.md has no one place {start}"
    return pattern.sub(lambda _: block, text)


def _guide() -> bytes:
    text = GUIDE.read_text(encoding="utf-8")
    start, end = SETTINGS_MARKS
    before, _, rest = text.partition(f"{start}\n")
    return f"{before}{start}\n{settings_table()}{end}{rest.partition(end)[2]}".encode()


def _openapi() -> bytes:
    return openapi_text(create_app(Settings())).encode()


# Each generated file, and what makes it.
GENERATED: dict[Path, Callable[[], bytes]] = {
    **{
        ROOT / "shared/schemas" / f"{name}.schema.json": partial(schema_bytes, name)
        for name in SCHEMAS
    },
    ROOT / "tests/report/sample_report.txt": lambda: report_text(REPORT).encode(),
    ROOT / "shared/openapi.json": _openapi,
    README: _readme,
    GUIDE: _guide,
    **makers(),
}


def main() -> None:
    for path, make in GENERATED.items():
        data = make()
        if not path.exists() or path.read_bytes() != data:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
            print(f"wrote {path.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
