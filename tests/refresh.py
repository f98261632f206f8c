"""Write again every file that is generated from the code. Usage: python tests/refresh.py"""

import contextlib
import io
import json
import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, cast

from layoutcheck.document import parse_layout, read_text
from layoutcheck.report import check
from layoutcheck.report.drawing.symbols import all_forms
from layoutcheck.report.explain import manuals
from layoutcheck.report.manuals import KEPT
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.schemas import SCHEMAS, schema_text
from layoutcheck.report.text import full_text, report_text
from layoutcheck.report.text_plans import plans_text
from layoutcheck_service.app import create_app
from layoutcheck_service.description import openapi_text
from layoutcheck_service.settings import Settings, settings_table
from tests.conformance.cases import makers
from tests.importers.wanted_ids import wanted_ids
from tests.report.sample_report import REPORT

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
GUIDE = ROOT / "api" / "README.md"
SHOWN_IN_README = ROOT / "fixtures" / "heating-riser-sketch.json"
PLANNED_IN_README = ROOT / "fixtures" / "heating-riser-mended.json"
SETTINGS_MARKS = ("<!-- settings -->", "<!-- /settings -->")


def _readme() -> bytes:
    text = README.read_text(encoding="utf-8")
    shown = {
        "site": _shown_site(_given(text, "site")),
        "python": _printed(_given(text, "python")),
        "http": _shown_http(_given(text, "http")),
        "check": _shown_check(),
        "plan": _shown_plan(),
    }
    for name, output in shown.items():
        text = _put(text, (f"<!-- output:{name} -->", f"<!-- /output:{name} -->"), output)
    return text.encode()


def _given(text: str, name: str) -> str:
    """Take what a reader of the README is told to type."""
    block = text.partition(f"<!-- input:{name} -->\n")[2].partition(f"<!-- /input:{name} -->")[0]
    return "\n".join(block.splitlines()[1:-1]) + "\n"


def _shown_site(typed: str) -> str:
    report = check(parse_layout(read_text(typed, suffix=".yaml")))
    return report_text(report).rstrip("\n")


def _printed(program: str) -> str:
    """Run a program of the README, from the project's folder, and take what it prints."""
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(io.StringIO()) as out:
        exec(compile(program, "README.md", "exec"), {"__name__": "readme"})
    return out.getvalue().rstrip("\n")


def _shown_http(typed: str) -> str:
    """Show the bones of an answer: what a caller looks at first."""
    body = json.loads(typed.partition("-d '")[2].rpartition("'")[0])
    report = check(parse_layout(body["layout"]))
    finding = next(f for f in report.findings if f.rule == "no-flow-at-plug")
    bones = {
        "verdict": report.verdict.value,
        "findings": [
            {"rule": finding.rule, "subject": finding.subject.id, "outcome": finding.outcome.value}
        ],
    }
    return json.dumps(bones)[:-2] + ", ...], ...}"


def _cut(text: str, kept: tuple[str, ...], lines: int) -> str:
    """Shorten a report to the heads of some of its blocks, and its last."""
    blocks = text.rstrip("\n").split("\n\n")
    shown = []
    for block in blocks[:-1]:
        if block.startswith(kept):
            rows = block.splitlines()
            shown.append("\n".join(rows[:lines] + (["  [...]"] if len(rows) > lines else [])))
    return "\n\n".join([*shown, "[...]", blocks[-1]])


def _shown_check() -> str:
    layout = parse_layout(read_text(SHOWN_IN_README.read_bytes()))
    return report_text(check(layout)).rstrip("\n")


def _shown_plan() -> str:
    data = read_text(PLANNED_IN_README.read_bytes())
    report = plan_layout(parse_layout(data), data=cast("dict[str, Any]", data), top=1)
    return _cut(plans_text(report), ("OPTIMAL", "BEST", "PLAN 1"), 16)


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


def _schema(name: str) -> bytes:
    return schema_text(name).encode()


def _openapi() -> bytes:
    return openapi_text(create_app(Settings())).encode()


def _symbols() -> bytes:
    """Write every symbol of the drawings, for the page to draw with before anything is judged."""
    forms = {
        name: [shape.model_dump(mode="json") for shape in shapes]
        for name, shapes in sorted(all_forms().items())
    }
    return (json.dumps(forms, separators=(",", ":")).replace("]}],", "]}],\n") + "\n").encode()


# Each generated file, and what makes it.
GENERATED: dict[Path, Callable[[], bytes]] = {
    **{ROOT / "shared/schemas" / f"{name}.schema.json": partial(_schema, name) for name in SCHEMAS},
    ROOT / "shared" / KEPT: lambda: manuals().to_json().encode(),
    ROOT / "tests/report/sample_report.txt": lambda: full_text(REPORT).encode(),
    ROOT / "shared/openapi.json": _openapi,
    ROOT / "shared/wanted-model.ids": wanted_ids,
    ROOT / "api/page/src/draw/symbols.json": _symbols,
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
