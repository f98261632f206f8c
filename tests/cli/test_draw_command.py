"""layoutcheck draw: files of each kind, the exit codes of check, and no half-written file."""

from pathlib import Path

import pytest

from layoutcheck.cli import main
from tests.cli.conftest import Run, Write


@pytest.mark.parametrize(
    ("name", "start"),
    [("d.svg", b"<svg "), ("d.png", b"\x89PNG\r\n"), ("D.PDF", b"%PDF-")],
)
def test_each_ending_gives_its_kind_of_file(
    run: Run, write: Write, tmp_path: Path, name: str, start: bytes
) -> None:
    layout = write()
    code = run("check", str(layout)).code
    ran = run("draw", str(layout), "-o", str(tmp_path / name), "--page", "phone")
    assert ran.code == code, "drawing does not hide the verdict"
    assert ran.out == b""
    assert (tmp_path / name).read_bytes().startswith(start)


def test_the_same_layout_gives_the_same_file(write: Write, tmp_path: Path) -> None:
    layout = write()
    for name in ("one.svg", "two.svg"):
        main(["draw", str(layout), "-o", str(tmp_path / name)])
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()


def test_an_unknown_ending_is_refused_before_any_work(run: Run, tmp_path: Path) -> None:
    ran = run("draw", "not-there.json", "-o", str(tmp_path / "d.jpg"))
    assert ran.code == 2
    assert "must end in .svg, .png, .pdf" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_what_can_not_be_highlighted_is_said_with_the_nearest_name(
    run: Run, write: Write, tmp_path: Path
) -> None:
    layout = write()
    ran = run("draw", str(layout), "-o", str(tmp_path / "d.svg"), "--highlight", "no such thing")
    assert ran.code == 2
    assert "no such thing" in ran.err
    assert not (tmp_path / "d.svg").exists()


def test_unusable_input_leaves_no_file(run: Run, write: Write, tmp_path: Path) -> None:
    layout = write("bad.json", b"{")
    assert run("draw", str(layout), "-o", str(tmp_path / "d.svg")).code == 2
    assert not (tmp_path / "d.svg").exists()
