"""Small sound files of every kind that is read, made when asked for: what the fuzzing starts from.

All sites, names and numbers in them are invented.
"""

from __future__ import annotations

import io
import json
import re
import tempfile
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import yaml

from layoutcheck.document import Layout, parse_layout
from layoutcheck.importers.sheets import write_sheets
from layoutcheck.report.exports import sheets_archive
from layoutcheck.report.log import FreezeLog, log_csv, log_json
from layoutcheck.report.log.model import LOG_FORMAT
from layoutcheck.rules.pack import pack_text
from layoutcheck.rules.registry import figures
from tests.cli.small_layout import small_layout
from tests.importers.made_models import Maker

FIXTURES = Path(__file__).parents[2] / "fixtures"

DRAWING_MAP = """\
kind = "plan"
scale = "1 m"
units = "metric"
snap = 0.5
text_reach = 2.0
heights = "z"
[layers.PIPE]
kind = "pipe"
size = "NPS 2"
material = "copper"
[layers.WORDS]
kind = "text"
[blocks.GATE]
kind = "valve"
valve = "gate"
reach = 1.5
[blocks.TAP]
kind = "outlet"
[blocks.MAIN]
kind = "source"
"""

NETWORK = """\
[TITLE]
An invented network

[JUNCTIONS]
;ID  Elev  Demand  Pattern
 J1  10    0.5     1
 J2  12    0       ;
 J3  14    2

[RESERVOIRS]
 R1  40

[TANKS]
 T1  30  2  0  5  10  0

[PIPES]
 P1  R1  J1  100  150  100  0  Open
 P2  J1  J2  50   100  100  0  Open
 P3  J2  J3  60   100  100  0  CV
 P4  J3  T1  20   100  100  0  Closed

[PUMPS]
 U1  J1  J3  HEAD  C1

[VALVES]
 V1  J2  J3  100  PRV  30  0

[CURVES]
 C1  10  20

[PATTERNS]
 1  1.0  1.2

[COORDINATES]
 J1  0   0
 J2  10  0
 J3  20  0
 R1  -10 0
 T1  30  5

[VERTICES]
 P2  5  5

[TIMES]
 Duration  24:00
 Hydraulic Timestep 1:00

[OPTIONS]
 Units  LPS
 Headloss  H-W

[END]
"""


def _layout(name: str) -> Layout:
    return parse_layout(json.loads((FIXTURES / f"{name}.json").read_text(encoding="utf-8")))


def layouts() -> list[bytes]:
    """Layouts as JSON: a small one, and two of the demo sites."""
    names = ("plant-room-sketch", "metric-block-mended")
    sites = [(FIXTURES / f"{name}.json").read_bytes() for name in names]
    return [json.dumps(small_layout(), indent=1).encode(), *sites]


def yaml_layouts() -> list[bytes]:
    """The small layout as YAML, in both of YAML's styles."""
    return [
        yaml.safe_dump(small_layout(), sort_keys=False, default_flow_style=flow).encode()
        for flow in (False, None)
    ]


def packs() -> list[bytes]:
    """The built-in figures under another name, and a short pack."""
    short = 'name = "our company"\n[figures.plug-spacing]\nper_inch = "14 in"\n'
    return [pack_text(figures()).replace('"built-in"', '"x"').encode(), short.encode()]


def logs() -> tuple[bytes, bytes]:
    """A log as JSON and as CSV, half filled in."""
    filled = {"began": "08:05", "ended": "2026-11-25 08:20:30", "coolant": "4.5 kg", "by": "A. N."}
    rows = [
        {"plug": "A", "number": 1, "what": "inject", "planned_at": "0:00:00", **filled},
        {"plug": "A", "number": 2, "what": "top-up", "planned_for": "15 min", "note": "=cold"},
        {"plug": "A", "number": 1, "what": "plug proven", "began": "10:00"},
        {"number": 1, "what": "line opened"},
    ]
    log = FreezeLog.model_validate({"format": LOG_FORMAT, "sheet": "0123456789ab", "rows": rows})
    return log_json(log), log_csv(log)


@cache
def models() -> tuple[bytes, ...]:
    """Building models in each schema, with ports in each way."""
    layout, made = parse_layout(small_layout()), []
    for schema, ports in (("IFC4", "nested"), ("IFC2X3", "related"), ("IFC4X3", "none")):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "model.ifc"
            Maker(layout, schema=schema, ports=ports).make().model.write(str(path))
            made.append(_same_each_time(path.read_bytes()))
    return tuple(made)


def _same_each_time(model: bytes) -> bytes:
    """Number the GlobalIds and fix the times, so that the same steps spoil the same spots."""
    found = sorted(set(re.findall(rb"\('([0-9A-Za-z_$]{22})'", model)), key=model.index)
    for number, guid in enumerate(found):
        model = model.replace(guid, b"%022d" % number)
    return re.sub(rb"20\d\d-\d\d-\d\dT[\d:+]+", b"2026-11-25T00:00:00", model)


@cache
def drawings() -> tuple[bytes, ...]:
    """A drawing with every kind of thing that is read, in an old and a new release of DXF."""
    from ezdxf.filemanagement import new  # noqa: PLC0415 - only these seeds need it

    made = []
    for release in ("R12", "R2018"):
        drawing = new(release)
        space = drawing.modelspace()
        for name in ("GATE", "TAP", "MAIN"):
            drawing.blocks.new(name).add_circle((0, 0), 1)
        pipe = {"layer": "PIPE"}
        space.add_line((0, 0), (19, 0), dxfattribs=pipe)
        space.add_line((21, 0, 1), (50, 0, 2), dxfattribs=pipe)
        space.add_arc((50, 10), 10, 270, 360, dxfattribs=pipe)
        space.add_polyline2d([(60, 10), (60, 30), (70, 30)], dxfattribs=pipe)
        if release != "R12":
            space.add_lwpolyline([(10, 0, 0, 0, 0.5), (10, 20), (0, 20)], dxfattribs=pipe)
            space.add_spline([(0, 20), (-5, 25), (-10, 20)], dxfattribs=pipe)
            space.add_mtext("L=30.1 m", dxfattribs={"layer": "WORDS", "insert": (30, 1)})
        space.add_text("NPS 3", dxfattribs={"layer": "WORDS", "insert": (30, 1)})
        for name, at, tag in (("GATE", (20, 0), "V"), ("TAP", (70, 30), "T"), ("MAIN", (0, 0), "")):
            space.add_blockref(name, at).add_attrib("TAG", tag, at)
        out = io.StringIO()
        drawing.write(out)
        made.append(out.getvalue().encode())
    return tuple(made)


def networks() -> list[bytes]:
    """A network file with a thing of each kind."""
    return [NETWORK.encode()]


def sheets() -> list[bytes]:
    """Sheets of pipes, one file each; the reader looks for others beside it and finds none."""
    made = write_sheets(_layout("metric-block-mended"))["pipes"]
    return [made, b"id,from,to,size,material,length,length unit\nP1,A,B,NPS 2,copper,24.5,ft\n"]


@cache
def archives() -> tuple[bytes, ...]:
    """An archive of sheets, and one of a drawing and its map."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("drawing.dxf"), drawings()[0])
        archive.writestr(zipfile.ZipInfo("map.toml"), DRAWING_MAP)
    return sheets_archive(parse_layout(small_layout())), out.getvalue()


def maps() -> list[bytes]:
    """The map of the drawing."""
    return [DRAWING_MAP.encode()]


SEEDS: dict[str, Callable[[], list[bytes] | tuple[bytes, ...]]] = {
    "layout": layouts,
    "yaml": yaml_layouts,
    "pack": packs,
    "log": logs,
    "map": maps,
    "ifc": models,
    "dxf": drawings,
    "inp": networks,
    "csv": sheets,
    "zip": archives,
}
