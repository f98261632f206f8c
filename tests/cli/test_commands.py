"""Finding commands, their help, and the small ones: explain, schema, pack."""

import json
import re
import subprocess
import sys
from importlib.metadata import EntryPoint
from pathlib import Path

import jsonschema
import pytest

from layoutcheck import __version__
from layoutcheck.cli import app
from layoutcheck.cli.files import write_file
from layoutcheck.cli.problems import WrongCall
from layoutcheck.report.schemas import SCHEMAS, schema_of
from layoutcheck.rules.registry import all_rules
from tests.cli.conftest import Run, Write
from tests.cli.small_layout import small_layout
from tests.refresh import GENERATED, ROOT

# What takes long to load, and no help or error may wait for.
HEAVY = ("numpy", "scipy", "shapely", "CoolProp", "weasyprint", "matplotlib", "numba", "pydantic")


@pytest.mark.parametrize("argv", [["--help"], ["-h"], ["help"]])
def test_help_lists_every_command_and_who_decides(run: Run, argv: list[str]) -> None:
    ran = run(*argv)
    assert ran.code == 0
    for name in [*app.COMMANDS, *app.ELSEWHERE]:
        assert re.search(rf"^  {name} +\S", ran.text, re.MULTILINE)
    assert "licensed practice" in ran.text


def test_every_command_has_help(run: Run) -> None:
    for name in app.COMMANDS:
        ran = run(name, "--help")
        assert ran.code == 0, name
        assert f"layoutcheck {name}" in ran.text


def test_no_command_is_a_wrong_call(run: Run) -> None:
    assert run().code == 2


def test_version(run: Run) -> None:
    assert run("--version").text == f"layoutcheck {__version__}\n"


def test_an_unknown_command_names_the_nearest(run: Run) -> None:
    ran = run("chekc")
    assert (ran.code, ran.out) == (2, b"")
    assert "is check meant?" in ran.err


def test_a_command_of_another_package_gets_the_arguments(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def pretend(*, group: str, name: str) -> list[EntryPoint]:
        assert (group, name) == ("layoutcheck.commands", "serve")
        return [EntryPoint(name, f"{__name__}:_served", group)]

    monkeypatch.setattr(app, "entry_points", pretend)
    monkeypatch.setitem(sys.modules, __name__, sys.modules[_served.__module__])
    assert run("serve", "--port", "1").code == 3


def _served(argv: list[str]) -> int:
    assert argv == ["--port", "1"]
    return 3


def test_a_command_that_is_not_installed_says_how_to_get_it(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(app, "entry_points", lambda **_: [])
    ran = run("serve")
    assert ran.code == 2
    assert "pip install ./api" in ran.err


@pytest.mark.parametrize("argv", [["--help"], ["--version"], ["chekc"]])
def test_help_waits_for_nothing_heavy(argv: list[str]) -> None:
    script = (
        "import sys; from layoutcheck.cli import main; main(sys.argv[1:]);"
        f"print([m for m in {HEAVY} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *argv], capture_output=True, text=True, check=True
    )
    assert done.stderr.splitlines()[-1] == "[]"


def test_a_check_never_loads_the_printer(write: Write) -> None:
    script = (
        "import sys; from layoutcheck.cli import main; main(sys.argv[1:]);"
        "print([m for m in ('weasyprint', 'matplotlib') if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, "check", str(write())],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr.splitlines()[-1] == "[]"


# --- explain, schema, pack ------------------------------------------------------------------------


def test_explain_lists_every_rule(run: Run) -> None:
    text = run("explain").text
    assert all(f"\n{name}  (" in f"\n{text}" for name in all_rules())
    rows = json.loads(run("explain", "--format", "json").text)
    assert [row["name"] for row in rows] == list(all_rules())


def test_explain_one_rule(run: Run, write: Write) -> None:
    assert run("explain", "isolation").text.startswith("isolation: violation; it can not be waived")
    pack = write("firm.toml", 'name = "firm"\n[figures.plug-spacing]\nper_inch = "14 in"\n')
    answer = json.loads(
        run("explain", "plug-spacing", "--format", "json", "--pack", str(pack)).text
    )
    assert answer["figures"][0]["in_force"] == "14 in"
    jsonschema.validate(answer, schema_of("rule"))


def test_explain_names_the_nearest_rule(run: Run) -> None:
    ran = run("explain", "plug-spacng")
    assert (ran.code, ran.out) == (2, b"")
    assert "plug-spacing" in ran.err


@pytest.mark.parametrize("name", SCHEMAS)
def test_a_schema_is_sound_and_names_no_host(run: Run, name: str) -> None:
    schema = json.loads(run("schema", name).text)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$id"] == f"urn:layoutcheck:{name}:1"


def test_what_is_read_and_written_fits_its_schema(run: Run, write: Write) -> None:
    jsonschema.validate(small_layout(), schema_of("layout"))
    answer = run("check", str(write()), "--format", "json").text
    jsonschema.validate(json.loads(answer), schema_of("report"))
    refusal = run("check", str(write("bad.json", "{")), "--format", "json").text
    jsonschema.validate(json.loads(refusal), schema_of("refusal"))


def test_there_is_no_such_schema(run: Run) -> None:
    assert run("schema", "sketch").code == 2


# --- files ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", GENERATED, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_generated_file_is_fresh(path: Path) -> None:
    assert path.read_bytes() == GENERATED[path](), "run: python tests/refresh.py"


def test_a_file_is_written_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "out.json"
    target.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", full)
        with pytest.raises(WrongCall, match="No space left"):
            write_file(str(target), b"new")
    assert [p.name for p in tmp_path.iterdir()] == ["out.json"]
    assert target.read_bytes() == b"old"
    write_file(str(target), b"new")
    assert target.read_bytes() == b"new"


def test_a_file_in_no_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongCall, match="can not be written"):
        write_file(str(tmp_path / "absent" / "out.json"), b"new")
