"""A building model packed as IfcZIP: one .ifc file in a zip archive."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path

from layoutcheck.document.faults import LayoutFaults, shown
from layoutcheck.importers.draft import Imported, Progress, one_fault
from layoutcheck.importers.ifc.read import read_ifc_apart
from layoutcheck.quantities.names import Names

# What a model may come to when unpacked (bytes).
LARGEST_UNPACKED = 1024**3
_CHUNK = 1024**2
_EXAMPLE = "an archive with one .ifc file in it, packed as usual (deflate)"


def holds_model(path: Path) -> bool:
    """Tell whether an archive holds a building model; not where it is no sound archive."""
    try:
        with zipfile.ZipFile(path) as archive:
            return any(_is_model(member.filename) for member in archive.infolist())
    except (OSError, zipfile.BadZipFile):
        return False


def read_packed(
    path: Path, *, name: str, systems: Sequence[str], names: Names, progress: Progress
) -> Imported:
    """Read the one building model in an archive. As read_ifc_apart; nothing keeps its own name."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "model.ifc"
        try:
            _unpack(path, target, name)
        except LayoutFaults:
            raise
        except Exception:  # the parts of an archive fail in many ways
            raise _fault(name, "is not a sound archive of a building model") from None
        return read_ifc_apart(target, name=name, systems=systems, names=names, progress=progress)


def _unpack(path: Path, target: Path, name: str) -> None:
    with zipfile.ZipFile(path) as archive:
        found = [m for m in archive.infolist() if _is_model(m.filename) and not m.is_dir()]
        if len(found) != 1:
            raise _fault(name, f"holds {len(found)} building models (.ifc); one is read")
        member = found[0]
        # The others unpack a few bytes to gigabytes in one go, whatever size they state.
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _fault(name, "is packed in a way that is not read")
        left = LARGEST_UNPACKED
        with archive.open(member) as stream, target.open("wb") as out:
            while chunk := stream.read(_CHUNK):
                left -= len(chunk)
                if left < 0:
                    raise _fault(name, f"comes to more than {LARGEST_UNPACKED} bytes")
                out.write(chunk)


def _is_model(name: str) -> bool:
    return name.lower().endswith(".ifc")


def _fault(name: str, problem: str) -> LayoutFaults:
    return one_fault(found=shown(name), problem=problem, example=_EXAMPLE)
