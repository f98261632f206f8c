"""One door for all files that can be read in: what a file is, is told by the end of its name."""

from __future__ import annotations

import math
import zipfile
from collections.abc import Sequence
from pathlib import Path

from layoutcheck.document.faults import LayoutFaults, shown
from layoutcheck.importers.draft import Imported, Progress, no_progress, one_fault
from layoutcheck.importers.own_names import read_names
from layoutcheck.importers.sheets import read_sheets
from layoutcheck.quantities.names import NO_NAMES, Names

KINDS = (".ifc", ".ifczip", ".dxf", ".inp", ".csv", ".xlsx", ".zip")
# What the members of an archive may come to when unpacked (bytes).
LARGEST_UNPACKED = 256 * 1024 * 1024
# Files of these kinds that are larger (bytes) are refused before they are opened.
LARGEST = {".dxf": 256 * 1024 * 1024, ".inp": 64 * 1024 * 1024}
_MOST_MEMBERS = 100
_MAP = "map.toml"


def read_file(
    path: Path,
    *,
    name: str | None = None,
    systems: Sequence[str] = (),
    mapping: str | None = None,
    names: str | None = None,
    progress: Progress = no_progress,
) -> Imported:
    """Read a building model, a drawing, a network file or sheets.

    path: the file, or a folder of CSV sheets. name: the file's own name where the path has
    another. systems: those of a building model to read, all if empty. mapping: the text of a
    drawing's map (TOML). names: the text of a table (TOML) of own names of materials, sizes and
    walls. progress: told of the steps.

    Raises LayoutFaults with every fault where the file can not be used.
    """
    called = name or path.name
    own = NO_NAMES if names is None else read_names(names)
    if path.is_dir():
        return _folder(path, called, own)
    if not path.is_file():
        raise _not_read(called, "is not there, or is not a file")
    ending = Path(called).suffix.lower()
    if path.stat().st_size > LARGEST.get(ending, math.inf):
        raise _not_read(called, f"is larger than {LARGEST[ending]} bytes")
    if ending == ".ifc":
        from layoutcheck.importers.ifc.read import read_ifc_apart  # noqa: PLC0415 - at need

        return read_ifc_apart(path, name=called, systems=systems, names=own, progress=progress)
    if ending == ".dxf":
        from layoutcheck.importers.dxf.read import read_dxf  # noqa: PLC0415 - an optional extra

        return read_dxf(path, name=called, mapping=mapping, names=own)
    if ending == ".inp":
        from layoutcheck.importers.network_file import read_inp  # noqa: PLC0415 - see above

        return read_inp(path, name=called)
    if ending in {".csv", ".xlsx"}:
        return _sheets(path, called, ending, own)
    if ending in {".ifczip", ".zip"}:
        from layoutcheck.importers.ifc.packed import holds_model, read_packed  # noqa: PLC0415

        if ending == ".ifczip" or holds_model(path):
            return read_packed(path, name=called, systems=systems, names=own, progress=progress)
        return _archive(path, called, mapping, own)
    raise _not_read(called, "is of a kind that is not read")


def _sheets(path: Path, name: str, ending: str, names: Names) -> Imported:
    if ending == ".xlsx":
        from layoutcheck.importers.workbook import read_workbook  # noqa: PLC0415 - see above

        return read_workbook(path, name=name, names=names, largest=LARGEST_UNPACKED)
    # The other sheets lie beside it, as a spreadsheet saves them.
    return _folder(path.parent, name, names)


def _folder(path: Path, name: str, names: Names) -> Imported:
    found = sorted(p for p in path.iterdir() if p.suffix.lower() == ".csv" and p.is_file())
    if sum(p.stat().st_size for p in found) > LARGEST_UNPACKED:
        raise _not_read(name, f"holds sheets of more than {LARGEST_UNPACKED} bytes")
    return read_sheets({p.stem.lower(): p.read_bytes() for p in found}, name=name, names=names)


def _archive(path: Path, name: str, mapping: str | None, names: Names) -> Imported:
    """Read an archive of sheets, or of one drawing and its map. Nothing is unpacked by its name."""
    files: dict[str, bytes] = {}
    try:
        with zipfile.ZipFile(path) as archive:
            for member in _members(archive, name):
                files[Path(member.filename).name.lower()] = archive.read(member)
    except LayoutFaults:
        raise
    except Exception:  # the parts of an archive fail in many ways
        raise _not_read(name, "is not a sound .zip archive") from None
    drawings = [n for n in files if n.endswith(".dxf")]
    if len(drawings) == 1:
        return _drawing(files, drawings[0], mapping, names)
    sheets = {Path(n).stem: data for n, data in files.items() if n.endswith(".csv")}
    if not sheets:
        raise _not_read(name, "holds neither CSV sheets nor one drawing")
    return read_sheets(sheets, name=name, names=names)


def _members(archive: zipfile.ZipFile, name: str) -> list[zipfile.ZipInfo]:
    """Choose what is read of an archive, and refuse what no honest archive has."""
    chosen: dict[str, zipfile.ZipInfo] = {}
    for member in archive.infolist():
        own = Path(member.filename).name.lower()
        if member.is_dir() or not (own == _MAP or own.endswith((".csv", ".dxf"))):
            continue
        if own in chosen:
            raise _not_read(name, f"holds two files named {shown(own, 40)}: which is meant?")
        # The others unpack a few bytes to gigabytes in one go, whatever size they state.
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _not_read(name, "is packed in a way that is not read; pack it as usual (deflate)")
        chosen[own] = member
    if len(chosen) > _MOST_MEMBERS:
        raise _not_read(name, f"holds more than {_MOST_MEMBERS} files")
    if sum(m.file_size for m in chosen.values()) > LARGEST_UNPACKED:
        raise _not_read(name, f"comes to more than {LARGEST_UNPACKED} bytes")
    return list(chosen.values())


def _drawing(files: dict[str, bytes], drawing: str, mapping: str | None, names: Names) -> Imported:
    import tempfile  # noqa: PLC0415 - only archives of drawings are unpacked

    from layoutcheck.importers.dxf.read import read_dxf  # noqa: PLC0415 - an optional extra

    given = files.get(_MAP)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawing.dxf"
        path.write_bytes(files[drawing])
        text = mapping if given is None else given.decode("utf-8-sig", "replace")
        return read_dxf(path, name=drawing, mapping=text, names=names)


def _not_read(name: str, problem: str) -> LayoutFaults:
    example = f"a file that ends in {', '.join(KINDS)}, or a folder of CSV sheets"
    return one_fault(found=name, problem=problem, example=example)
