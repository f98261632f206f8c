"""Everything that a layout can be written out as, by name: one door for all who ask.

Command line and service both go through here, so the same layout gives the same bytes. Nothing is
judged.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from layoutcheck.document.models import Layout

# Files made on any day hold the same bytes: the first day an archive can name.
_DAY = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Given:
    """What an export is made from. data: the document as parsed JSON. source: what it came from."""

    layout: Layout
    data: Mapping[str, Any]
    source: Path | None = None

    @property
    def model(self) -> Path:
        """The model or drawing that the layout was read from. Raises NoSource."""
        if self.source is None:
            raise NoSource("is a copy of its source with the plugs in it: give the source as well")
        return self.source


class NoSource(ValueError):
    """Raised where the model or drawing is missing that an export is a copy of."""


@dataclass(frozen=True)
class Export:
    """One kind of export: its media type, what it is, how it is made, whether it is a copy."""

    media_type: str
    is_what: str
    make: Callable[[Given], bytes]
    copies: bool = False


def make_export(name: str, given: Given) -> bytes:
    """Make an export by its name. Raises KeyError, NoSource, LayoutFaults for the source."""
    return EXPORTS[name].make(given)


def export_named(ending: str, *, short: bool = False) -> str | None:
    """Give the name of the export that a file's ending asks for ('.ifc'); None where none does."""
    form = "short" if short else "layout"
    found = {".json": f"{form}.json", ".yaml": f"{form}.yaml", ".yml": f"{form}.yaml"}
    found |= {".ifc": "model.ifc", ".dxf": "drawing.dxf", ".zip": "sheets.zip"}
    return found.get(ending)


# What each one needs is loaded when it is asked for.
# ruff: noqa: PLC0415


def _long(given: Given) -> Mapping[str, Any]:
    from layoutcheck.document.short import long_form

    made: Mapping[str, Any] = long_form(given.data).data
    return made


def _short(given: Given) -> Mapping[str, Any]:
    from layoutcheck.document.short.writing import short_form

    return short_form(given.data)


def _json(data: Mapping[str, Any]) -> bytes:
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode()


def _yaml(data: Mapping[str, Any]) -> bytes:
    import yaml

    text: str = yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=100)
    return text.encode()


def _sheets(given: Given) -> bytes:
    return sheets_archive(given.layout)


def sheets_archive(layout: Layout) -> bytes:
    """Pack a layout's sheets into one archive: the same bytes for the same layout."""
    from layoutcheck.importers.sheets import write_sheets

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet, data in write_sheets(layout).items():
            archive.writestr(zipfile.ZipInfo(f"{sheet}.csv", _DAY), data)
    return out.getvalue()


def _ifc(given: Given) -> bytes:
    from layoutcheck.importers.ifc.write import write_plugs

    return write_plugs(given.layout, given.model)


def _dxf(given: Given) -> bytes:
    from layoutcheck.importers.dxf.write import draw_plugs

    return draw_plugs(given.layout, given.model)


_JSON, _YAML = "application/json", "application/yaml"

EXPORTS: Mapping[str, Export] = MappingProxyType(
    {
        "layout.json": Export(_JSON, "the long form", lambda g: _json(_long(g))),
        "layout.yaml": Export(_YAML, "the long form", lambda g: _yaml(_long(g))),
        "short.json": Export(_JSON, "the short form", lambda g: _json(_short(g))),
        "short.yaml": Export(_YAML, "the short form", lambda g: _yaml(_short(g))),
        "sheets.zip": Export("application/zip", "CSV sheets", _sheets),
        "model.ifc": Export("application/x-step", "the model with its plugs", _ifc, copies=True),
        "drawing.dxf": Export("image/vnd.dxf", "the drawing with its plugs", _dxf, copies=True),
    }
)
