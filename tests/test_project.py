"""The project keeps its own rules: versions, README commands, function length, imports, folders."""

import ast
import re
import subprocess
from importlib.metadata import version
from pathlib import Path

import pytest

import layoutcheck
import layoutcheck_service

ROOT = Path(__file__).parent.parent
SOURCE_FOLDERS = (ROOT / "layoutcheck", ROOT / "api" / "layoutcheck_service")
# The service turns requests into calls of layoutcheck.report; a judgement belongs in the library.
NOT_FOR_THE_SERVICE = ("layoutcheck.rules", "layoutcheck.physics", "layoutcheck.placement")
LONGEST_BODY = 45  # lines a reader sees at once without scrolling; our own choice
ALLOWED_AT_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "layoutcheck",
    "api",
    "tests",
    "shared",
    "fixtures",
}


def test_installed_version_is_the_source_version() -> None:
    assert version("layoutcheck") == layoutcheck.__version__
    assert version("layoutcheck-service") == layoutcheck_service.__version__


def test_library_and_service_are_released_together() -> None:
    assert layoutcheck.__version__ == layoutcheck_service.__version__


@pytest.mark.parametrize("name", ["check", "test"])
def test_readme_command_is_one_valid_shell_line(name: str) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    block = re.search(
        rf'<!-- command:{name} exit=\d says=".+" -->\n```sh\n(.+)\n```\n<!-- /command:{name} -->',
        readme,
    )
    assert block is not None
    assert subprocess.run(["bash", "-n", "-c", block[1]], check=False).returncode == 0


def test_no_function_is_longer_than_a_screen() -> None:
    too_long = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}: {body_lines(node)} lines"
        for folder in SOURCE_FOLDERS
        for path in sorted(folder.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and body_lines(node) > LONGEST_BODY
    ]
    assert not too_long, "\n".join(too_long)


def test_the_service_holds_no_rule() -> None:
    folder = ROOT / "api" / "layoutcheck_service"
    reached = [
        f"{path.relative_to(ROOT)} imports {module}"
        for path in sorted(folder.rglob("*.py"))
        for module in imported_modules(path)
        if f"{module}.".startswith(tuple(f"{name}." for name in NOT_FOR_THE_SERVICE))
    ]
    assert not reached, "\n".join(reached)


def test_nothing_else_at_the_top_level() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git clone")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= ALLOWED_AT_TOP


def imported_modules(path: Path) -> list[str]:
    """Every module a file imports, also as `from package import module`."""
    modules = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            modules += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module is not None and node.level == 0:
            modules += [f"{node.module}.{alias.name}" for alias in node.names]
    return modules


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines from the first statement after the docstring to the last."""
    body = function.body
    if ast.get_docstring(function) is not None:
        body = body[1:]
    if not body:
        return 0
    return (body[-1].end_lineno or 0) - body[0].lineno + 1


# A sentence is for people: what a program asks of it stands in the data beside it. These are left
# from older days; nothing may come to them.
TESTS_WORDS = re.compile(r"\.(startswith|endswith|removeprefix)\(\s*\(?\"[A-Za-z]+ ")
STILL_LEFT = {
    "layoutcheck/document/short/elements.py": 1,  # what a person typed, not what we wrote
    "layoutcheck/report/assumptions.py": 1,
    "layoutcheck/report/drawing/facts.py": 1,
    "layoutcheck/report/drawing/flow.py": 1,
    "layoutcheck/report/drawing/key.py": 4,
    "layoutcheck/report/text.py": 3,
}


def test_no_sentence_is_read_by_its_first_words() -> None:
    for folder in SOURCE_FOLDERS:
        for path in sorted(folder.rglob("*.py")):
            name = str(path.relative_to(ROOT))
            found = TESTS_WORDS.findall(path.read_text(encoding="utf-8"))
            assert len(found) <= STILL_LEFT.get(name, 0), name
