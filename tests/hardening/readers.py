"""Every reader behind one door: bytes in; a value or the project's own fault out, nothing else."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.importers.dxf.mapping import read_map
from layoutcheck.importers.read import read_file
from layoutcheck.report.imports import import_report
from layoutcheck.report.log import read_log
from layoutcheck.rules.registry import company_pack
from tests.hardening.seeds import DRAWING_MAP

# No fault tells more than this of what was given (characters): a screen, not a book.
LONGEST_TOLD = 4000


def _imported(suffix: str) -> Callable[[bytes], object]:
    def read(data: bytes) -> object:
        with tempfile.TemporaryDirectory() as folder:
            # The name that the service gives to a lone file.
            path = Path(folder) / f"pipes{suffix}"
            path.write_bytes(data)
            mapping = DRAWING_MAP if suffix == ".dxf" else None
            return import_report(read_file(path, name=f"given{suffix}", mapping=mapping))

    return read


READERS: dict[str, Callable[[bytes], object]] = {
    "layout": lambda data: parse_layout(read_text(data)),
    "yaml": lambda data: parse_layout(read_text(data, suffix=".yaml")),
    "pack": lambda data: company_pack(data.decode("utf-8", "replace")),
    "log": read_log,
    "map": lambda data: read_map(data.decode("utf-8", "replace")),
    "ifc": _imported(".ifc"),
    "dxf": _imported(".dxf"),
    "inp": _imported(".inp"),
    "csv": _imported(".csv"),
    "zip": _imported(".zip"),
}


def read_or_refuse(kind: str, data: bytes) -> str:
    """Read some bytes: 'read', or 'refused' by sound faults. Anything else raises."""
    try:
        READERS[kind](data)
    except LayoutFaults as refused:
        assert refused.faults, "refused without a fault"
        for fault in refused.faults:
            assert fault.problem, "a fault without a problem"
            assert fault.example, "a fault without an example"
            told = (fault.pointer, fault.found, fault.problem, fault.example)
            assert sum(map(len, told)) <= LONGEST_TOLD, "a fault as long as a book"
            assert not any(tempfile.gettempdir() in text for text in told), f"a path: {told}"
            "".join(told).encode()  # no half characters
        return "refused"
    return "read"
