"""Words that no reader on site would use stand in no output, and in no text of the library."""

import ast
import re
from pathlib import Path

import pytest

from layoutcheck.quantities import UnitSystem
from layoutcheck.report.text import full_text
from layoutcheck.report.text_freeze import freeze_lines
from tests.report.handout_sites import MENDED, SKETCHES, handout, report_on

ROOT = Path(__file__).parents[2]
# Each is odd, archaic, or says less than it seems to. From the order, and from reading all
# sentences in one sitting.
ODD = (
    "told below",
    "may see",
    "the least travel there is",
    "the way by which",
    "leave shut",
    "shut out by",
    "speak of it",
    "speaks of it",
    "told elsewhere",
    "whence",
    "thence",
    "thereof",
    "therein",
    "whereby",
    "hereby",
    "hitherto",
    "henceforth",
    "comes to nought",
    "as it were",
    "taken for granted",
    "so too",
    "reckon",
    "reckoned",
    "reckons",
    "of which nothing is",
    "for want of",
    "vouched for",
    "vouches for",
    "sums rightly",
    "anew",
    "goes by it",
    "is made of it",
    "tells the whole",
    "to set it against",
    "plug more",
    "hangs on it",
    "a drawing tells",
    "thing(s)",
    "figure(s)",
    "fault(s)",
    "line(s)",
    "rule(s)",
    "plan(s)",
)
_ODD = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, ODD))})(?!\w)", re.IGNORECASE)
# The page's own words; files made from them are not kept by hand.
_PAGE = sorted((ROOT / "api" / "page" / "src").rglob("*.ts*"))


def odd_in(text: str) -> list[str]:
    return _ODD.findall(" ".join(text.split()))


@pytest.mark.parametrize("name", [*SKETCHES, *MENDED])
def test_no_output_of_a_site_has_them(name: str) -> None:
    report = report_on(name)
    assert odd_in(full_text(report)) == []
    assert odd_in(report.to_json()) == []
    for plug in report.plugs:
        assert odd_in(" ".join(freeze_lines(plug, UnitSystem(report.units)))) == []


@pytest.mark.parametrize("what", ["report.html", "sheet.html", "drawing.svg", "takeoff.csv"])
def test_no_handout_has_them(what: str) -> None:
    for name in ("heating-riser-sketch", "no-drawing-mended"):
        text = re.sub(r"<[^>]+>", " ", handout(name, what).decode())
        assert odd_in(text) == []


def literals(path: Path) -> list[str]:
    """Every text of a file but its docstrings, the pieces of a formatted one joined."""
    tree = ast.parse(path.read_text())
    inner = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inner
    ]


def test_no_text_of_the_library_has_them() -> None:
    folders = (ROOT / "layoutcheck", ROOT / "api" / "layoutcheck_service")
    found = [
        (path.name, word)
        for folder in folders
        for path in sorted(folder.rglob("*.py"))
        for text in literals(path)
        for word in odd_in(text)
    ]
    assert found == []


def test_no_template_and_no_page_has_them() -> None:
    templates = sorted((ROOT / "layoutcheck" / "report" / "templates").glob("*.j2"))
    assert [(p.name, w) for p in (*templates, *_PAGE) for w in odd_in(p.read_text())] == []


def test_what_is_not_known_is_said_so() -> None:
    text = full_text(report_on("heating-riser-sketch"))
    assert "Missing:" not in text
    assert "Not known yet: " in text
    assert "  NOT KNOWN YET room-air" in text
