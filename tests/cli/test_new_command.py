"""layoutcheck new and expand: from nothing to a verdict."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from layoutcheck.cli import main
from layoutcheck.document import parse_layout, read_text


@pytest.mark.parametrize("shape", ["riser", "loop", "header"])
def test_a_begun_layout_is_checked_at_once_and_says_what_is_wrong(
    shape: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each has a plug in pipe that can flow: nothing that is begun so may look safe."""
    path = tmp_path / "site.yaml"
    assert main(["new", str(path), "--from", shape]) == 0
    assert "invented" in path.read_text(encoding="utf-8")
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 25
    capsys.readouterr()
    assert main(["check", str(path)]) == 1
    assert "no-flow-at-plug" in capsys.readouterr().out


def test_it_never_overwrites(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "site.yaml"
    path.write_text("mine", encoding="utf-8")
    assert main(["new", str(path)]) == 2
    assert path.read_text(encoding="utf-8") == "mine"
    assert "is there already" in capsys.readouterr().err


def test_it_is_yaml_or_nothing(tmp_path: Path) -> None:
    assert main(["new", str(tmp_path / "site.json")]) == 2
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ending", ["json", "yaml"])
def test_expanded_it_is_the_same_layout(ending: str, tmp_path: Path) -> None:
    path, long = tmp_path / "site.yaml", tmp_path / f"long.{ending}"
    main(["new", str(path)])
    assert main(["expand", str(path), "-o", str(long)]) == 0
    data = read_text(long.read_bytes(), suffix=long.suffix)
    assert isinstance(data, dict)
    assert isinstance(data["pipes"], list)
    assert parse_layout(data) == parse_layout(read_text(path.read_bytes(), suffix=".yaml"))


def test_expand_prints_json(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    path = tmp_path / "site.yaml"
    main(["new", str(path)])
    capsysbinary.readouterr()
    assert main(["expand", str(path)]) == 0
    assert json.loads(capsysbinary.readouterr().out)["pipes"][0]["id"] == "riser"
