"""Broken models: each gives one clear error, or a stated gap; nothing is half-written.

Outside source: the models are written by ifcopenshell and then broken by hand, in the text of the
file (ISO 10303-21).
"""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from layoutcheck.cli import main
from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.draft import Imported
from layoutcheck.importers.ifc.read import read_ifc
from layoutcheck.importers.read import read_file
from tests.importers.made_models import Maker
from tests.importers.small_models import asked

FIXTURE = Path(__file__).parents[2] / "fixtures" / "metric-block-mended.json"


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> str:
    layout = parse_layout(json.loads(FIXTURE.read_text()))
    path = tmp_path_factory.mktemp("sound") / "sound.ifc"
    Maker(layout).make().model.write(str(path))
    return path.read_text()


def read(text: str | bytes, folder: Path) -> Imported:
    path = folder / "model.ifc"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_ifc(path, name="model.ifc")


def said(imported: Imported) -> str:
    return "\n".join(note.says for note in imported.notes)


def without(pattern: str) -> Callable[[str], str]:
    return lambda text: re.sub(pattern, "", text, flags=re.MULTILINE)


def doubled(text: str) -> str:
    """Give two pipes the same GlobalId."""
    found = re.findall(r"IFCPIPESEGMENT\('([^']+)'", text)
    return text.replace(found[1], found[0])


BROKEN: dict[str, tuple[Callable[[str], str | bytes], str]] = {
    "nothing at all": (lambda _: b"", "is not an IFC file"),
    "zeros": (lambda _: b"\0" * 100_000, "is not an IFC file"),
    "another kind of file": (lambda _: b"PK\x03\x04 a zip", "is not an IFC file"),
    "cut off": (lambda text: text[: len(text) // 2], "is cut off"),
    "wrong schema": (lambda t: t.replace("('IFC4')", "('IFC9')"), "can not be read as IFC"),
    "a release candidate": (
        lambda t: t.replace("('IFC4')", "('IFC4X3_RC4')"),
        "export the model again as IFC4x3",
    ),
    "no schema": (lambda t: t.replace("('IFC4')", "()"), ""),
    "one GlobalId twice": (doubled, "stand on more than one element"),
    "no units": (without(r"^#\d+=IFCUNITASSIGNMENT.*$"), "must state one length unit"),
    "no project": (without(r"^#\d+=IFCPROJECT.*$"), "must state one length unit"),
    "no pipes": (without(r"^#\d+=IFCPIPESEGMENT.*$"), "holds no pipe"),
    "head without data": (
        lambda text: text.split("DATA;", maxsplit=1)[0] + "DATA;\nENDSEC;\nEND-ISO-10303-21;\n",
        "must state one length unit",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_each_broken_model_is_one_clear_error(name: str, sound: str, tmp_path: Path) -> None:
    mend, says = BROKEN[name]
    with pytest.raises(LayoutFaults) as raised:
        read(mend(sound), tmp_path)
    assert len(raised.value.faults) == 1
    fault = raised.value.faults[0]
    assert says in fault.problem
    assert fault.example


def test_two_gigabytes_of_nothing_are_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "huge.ifc"
    with path.open("wb") as stream:
        stream.truncate(2 * 1024**3)  # a sparse file: it takes no room on the disk
    with pytest.raises(LayoutFaults) as raised:
        read_ifc(path, name="huge.ifc")
    assert len(raised.value.faults) == 1


def test_a_huge_model_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "huge.ifc"
    with path.open("wb") as stream:
        stream.write(b"ISO-10303-21;\n")
        stream.truncate(2 * 1024**3)
    with pytest.raises(LayoutFaults) as raised:
        read_ifc(path, name="huge.ifc")
    assert "is larger than" in raised.value.faults[0].problem


def packed(folder: Path, *models: str) -> Path:
    path = folder / "model.ifczip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, text in enumerate(models):
            archive.writestr(f"part {number}.ifc", text)
    return path


@pytest.mark.parametrize("ending", [".ifczip", ".zip"])
def test_a_packed_model_is_the_same_model(ending: str, sound: str, tmp_path: Path) -> None:
    path = packed(tmp_path, sound)
    path = path.rename(path.with_suffix(ending))
    assert read_file(path).document["pipes"] == read(sound, tmp_path).document["pipes"]


@pytest.mark.parametrize("count", [0, 2])
def test_an_archive_of_no_or_two_models_is_refused(count: int, sound: str, tmp_path: Path) -> None:
    with pytest.raises(LayoutFaults) as raised:
        read_file(packed(tmp_path, *[sound] * count))
    assert f"holds {count} building models" in raised.value.faults[0].problem


def test_a_model_of_the_standard_s_last_schema_is_read(sound: str, tmp_path: Path) -> None:
    newest = sound.replace("('IFC4')", "('IFC4X3_ADD2')")
    assert read(newest, tmp_path).document["pipes"]


def test_half_made_connections_are_a_stated_gap(sound: str, tmp_path: Path) -> None:
    pattern = r"(IFCRELCONNECTSPORTS\('[^']+',[^,]*,[^,]*,[^,]*,#\d+),#\d+,"
    halved = re.sub(pattern, r"\1,$,", sound)
    assert halved != sound
    imported = read(halved, tmp_path)
    assert "names one port only" in said(imported)
    assert "joined within 0.005 m" in said(imported)
    parse_layout(imported.document)


def test_ports_without_connections_are_joined_by_where_they_are(sound: str, tmp_path: Path) -> None:
    imported = read(re.sub(r"^#\d+=IFCRELCONNECTSPORTS.*$", "", sound, flags=re.M), tmp_path)
    whole = read(sound, tmp_path)
    assert len(imported.document["pipes"]) == len(whole.document["pipes"])
    assert "joined within 0.005 m" in said(imported)


def test_a_missing_element_leaves_an_open_end_and_not_a_closed_one(
    sound: str, tmp_path: Path
) -> None:
    """A valve that is not in the model leaves ends from which water may come."""
    valve = re.search(r"^#\d+=IFCVALVE\('([^']+)',[^,]*,'([^']+)'.*$", sound, flags=re.M)
    assert valve is not None
    imported = read(sound.replace(valve[0], ""), tmp_path)
    opened = [j for j in asked(imported) if "open end" in j]
    assert len(opened) == 2
    assert "state what is beyond" in said(imported)


@pytest.mark.parametrize("name", ["cut off", "no units", "zeros"])
def test_nothing_is_half_written(
    name: str, sound: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, target = tmp_path / "model.ifc", tmp_path / "layout.json"
    broken = BROKEN[name][0](sound)
    path.write_bytes(broken if isinstance(broken, bytes) else broken.encode())
    assert main(["import", str(path), "-o", str(target)]) == 2
    assert BROKEN[name][1] in " ".join(capsys.readouterr().err.split())
    assert sorted(p.name for p in tmp_path.iterdir()) == ["model.ifc"]
