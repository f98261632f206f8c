"""The threat model names tests; they exist, and every threat has one."""

import ast
import re
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "tests" / "hardening" / "THREATS.md").read_text(encoding="utf-8")
NAMED = re.compile(r"`(tests/[\w/]+\.py)::(test_\w+)`")


def rows() -> list[list[str]]:
    table = TEXT.split("<!-- threats -->")[1].split("<!-- /threats -->")[0]
    lines = [line for line in table.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


@cache
def names_in(path: str) -> frozenset[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return frozenset(node.name for node in tree.body if isinstance(node, ast.FunctionDef))


def test_every_threat_says_who_what_how_and_which_test() -> None:
    assert len(rows()) >= 10
    for row in rows():
        assert len(row) == 4, row
        assert all(row), row
        assert NAMED.search(row[3]), f"no test is named for {row[0]}: {row[1]}"


def test_every_test_that_is_named_exists() -> None:
    missing = [
        f"{path}::{name}"
        for row in rows()
        for path, name in NAMED.findall(row[3])
        if not (ROOT / path).exists() or name not in names_in(path)
    ]
    assert missing == []


def test_what_is_shown_by_a_test_is_nothing_but_tests() -> None:
    """A name that is spelled otherwise would not be looked up above."""
    for row in rows():
        assert re.sub(NAMED, "", row[3]).replace(",", "").strip() == "", row[3]


def test_it_is_one_page() -> None:
    """About 700 words in print. It also says what is not met."""
    section = TEXT
    assert len(re.sub(NAMED, "", section).split()) < 700
    assert "Not met here" in section
