"""Demo sites and what is handed out for them, each made once for all tests."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from layoutcheck.document import Layout, parse_layout, read_text
from layoutcheck.report import Report, check
from layoutcheck.report.handouts import make_handout

FIXTURES = Path(__file__).parents[2] / "fixtures"
MENDED = sorted(p.stem for p in FIXTURES.glob("*-mended.json"))
SKETCHES = sorted(p.stem for p in FIXTURES.glob("*-sketch.json"))


@cache
def site(name: str) -> Layout:
    return parse_layout(read_text((FIXTURES / f"{name}.json").read_bytes()))


@cache
def report_on(name: str) -> Report:
    return check(site(name))


@cache
def handout(name: str, what: str) -> bytes:
    return make_handout(what, site(name), report_on(name))
