"""What is wrong with an input, and the exact words that tell it: one case for each message.

`python -m tests.hardening.error_texts` writes error_texts.txt again; read what changed.
All inputs are invented.
"""

from __future__ import annotations

import contextlib
import io
import json
import pickle
import re
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

from layoutcheck.cli import main
from layoutcheck.cli.problems import WrongCall
from layoutcheck.cli.survey import _known_works
from layoutcheck.document import Fault, LayoutFaults, parse_layout, read_text
from layoutcheck.document.overlay import laid_over, statement
from layoutcheck.importers.apart import Bounds, ChildDied, _answer, _why
from layoutcheck.importers.draft import no_progress
from layoutcheck.importers.dxf.mapping import read_map
from layoutcheck.importers.dxf.read import read_dxf
from layoutcheck.importers.dxf.write import draw_plugs
from layoutcheck.importers.ifc.read import read_ifc
from layoutcheck.importers.ifc.write import _written as write_model
from layoutcheck.importers.own_names import read_names
from layoutcheck.importers.read import read_file
from layoutcheck.record.making import layout_as_json, read_signer
from layoutcheck.report import check
from layoutcheck.report.log import NoSchedule, log_template, read_log
from layoutcheck.report.model import Verdict
from layoutcheck.rules.registry import company_pack
from layoutcheck.survey.run import Standing
from tests.cli.small_layout import small_layout
from tests.document.slips import REFUSED
from tests.document.slips import document as slipped
from tests.hardening.seeds import DRAWING_MAP, NETWORK, SEEDS, logs, models

GOLDEN = Path(__file__).with_name("error_texts.txt")
BROKEN = Path(__file__).parents[2] / "fixtures" / "broken"
STEEL = {"material": "carbon steel", "wall": "sch 40"}
PIPE = {"id": "P9", "from": "C", "to": "D", "size": "NPS 2", "length": "30 ft", **STEEL}
STOCK = {"coolant": "nitrogen", "cylinders": 1, "mass_each": "20 kg"}
# An archive of one small file.
ZIPPED = io.BytesIO()
with zipfile.ZipFile(ZIPPED, "w") as _archive:
    _archive.writestr("a.txt", "x" * 99)
PLUG = {"id": "K1", "pipe": "P3", "station": "18 in", "jacket": "12 in"}


def faults_of(read: Callable[[], object]) -> list[Fault]:
    """Read what must be refused."""
    try:
        read()
    except LayoutFaults as refused:
        return list(refused.faults)
    raise AssertionError("it was read")


# --- layouts ------------------------------------------------------------------------------------


def layout(**changes: Any) -> Callable[[], object]:
    return lambda: parse_layout({**small_layout(), **changes})


def pipe(**changes: Any) -> Callable[[], object]:
    """The small layout with another field or two in its third pipe; None leaves a field out."""
    document = small_layout()
    document["pipes"][2].update(changes)
    document["pipes"][2] = {k: v for k, v in document["pipes"][2].items() if v is not None}
    return lambda: parse_layout(document)


def plug(**changes: Any) -> Callable[[], object]:
    row = {k: v for k, v in {**PLUG, **changes}.items() if v is not None}
    return layout(plugs=[row])


def text(given: str | bytes, suffix: str = ".json") -> Callable[[], object]:
    return lambda: read_text(given, suffix=suffix)


def drawn(point: list[float], **drawing: float) -> Callable[[], object]:
    return plug_on(small_layout(), point, **drawing)


def plug_on(document: dict[str, Any], point: list[float], **drawing: Any) -> Callable[[], object]:
    document["plugs"] = [{"id": "K1", "point": point, "jacket": "12 in"}]
    document["drawing"] = drawing
    return lambda: parse_layout(document)


def on_pipe(**lists: list[dict[str, Any]]) -> Callable[[], object]:
    return layout(**lists)


def undrawn() -> dict[str, Any]:
    document = small_layout()
    for junction in document["junctions"]:
        del junction["at"]
    return document


def as_a_point() -> dict[str, Any]:
    document = small_layout()
    for junction in document["junctions"]:
        junction["at"] = [5, 5]
    document["pipes"] = document["pipes"][:1]
    document["valves"] = []
    document["junctions"] = document["junctions"][:2]
    document["outlets"] = []
    del document["work"]
    return document


def refused(edit: Callable[[dict[str, Any]], None]) -> Callable[[], object]:
    return lambda: parse_layout(slipped(edit))


LENGTHS = (
    *("", "24", 24, [1], "x ft", "24.5 ft 6 in", "24 ft 6", "24 ft 6 m", "24 ft 13 in"),
    *("24 parsec", "-3 ft", "1e300 ft", "1/0 ft", "11/2 ft", "a" * 200, "3\u200b ft", "1,000 ft"),
)
DURATIONS = ("1.5 h 30 min", "30 min 1 h", "1 h 90 min", "1 h x", "3 months", "1 h 30")
SIZES = ("2", "50 mm", "2 bar", "NPS 9", "DN 51")

FLUIDS = (
    5,
    "zebra",
    "glycol",
    "30 % propylene glycol",
    "plain water 30 % by volume",
    "120 % propylene glycol by volume",
)


def two_fluids() -> object:
    document = small_layout()
    for row, fluid in zip(document["pipes"], ("brine", "plain water"), strict=False):
        row["fluid"] = fluid
    return parse_layout(document)


LAYOUTS: dict[str, Callable[[], object]] = {
    **{f"slip: {name}": refused(edit) for name, (edit, _, _) in REFUSED.items()},
    **{f"length {given!r:.30}": pipe(length=given) for given in LENGTHS},
    **{
        f"duration {t!r}": layout(work={"open": [{"valve": "V1"}], "duration": t})
        for t in DURATIONS
    },
    **{f"size {given!r}": pipe(size=given) for given in SIZES},
    "tube of that size": pipe(material="copper", size="NPS 9", wall="type L"),
    "copper by DN 6": pipe(material="copper", size="DN 6", wall="type L"),
    "wall not of the size": pipe(wall="sch 41"),
    "wall of another standard, not of the size": pipe(size="DN 200", wall="EN 10255 M"),
    "wall with a long name": pipe(wall="x" * 200),
    "no usual wall": pipe(material="CPVC", wall=None),
    "a copper tube size of steel": pipe(size="2 in copper tube"),
    "no table of it": pipe(material="cast iron", wall="class 250"),
    "explicit, no wall at all": pipe(wall=None, outside_diameter="2 in", wall_thickness="0 in"),
    "explicit, no bore": pipe(wall=None, outside_diameter="2 in", wall_thickness="1 in"),
    "explicit, half": pipe(wall=None, outside_diameter="2 in"),
    "material unknown": pipe(material="cheese"),
    "material no text": pipe(material=3),
    "shorter than its rise": pipe(length="3 ft"),
    "valve at a tee": layout(valves=[{"id": "V1", "junction": "B"}]),
    "valve at a source": lambda: parse_layout(
        {
            **small_layout(),
            "pipes": [*small_layout()["pipes"], {**PIPE, "from": "A", "to": "D"}],
            "valves": [{"id": "V1", "junction": "A"}],
        }
    ),
    "valves in each other": on_pipe(
        valves=[
            {"id": "V1", "pipe": "P3", "station": "10 ft", "body": "2 ft"},
            {"id": "V2", "pipe": "P3", "station": "11 ft", "body": "2 ft"},
        ]
    ),
    "valves at one place": on_pipe(
        valves=[{"id": "V1", "pipe": "P3", "station": "10 ft"}] * 1
        + [{"id": "V2", "pipe": "P3", "station": "10 ft"}]
    ),
    "valve past the end by its body": on_pipe(
        valves=[{"id": "V1", "pipe": "P3", "station": "1 ft", "body": "4 ft"}]
    ),
    "plug in a valve": lambda: parse_layout(
        {
            **small_layout(),
            "valves": [{"id": "V1", "pipe": "P3", "station": "9 ft", "body": "2 ft"}],
            "plugs": [{**PLUG, "station": "9 ft 6 in"}],
        }
    ),
    "double id": layout(plugs=[PLUG, PLUG]),
    "ids that look the same": layout(plugs=[PLUG, {**PLUG, "id": "K1\u3000", "station": "9 ft"}]),
    "names no pipe": plug(pipe="P33"),
    "names no room": pipe(room="R1"),
    "names no outlet": layout(planning={"keep_in_service": ["TAPP"]}),
    "past the end": plug(station="99 ft"),
    "opened backwards": layout(
        work={"open": [{"pipe": "P3", "start": "4 ft", "end": "3 ft"}], "duration": "1 h"}
    ),
    "cap in the run": layout(
        fittings=[{"id": "F", "kind": "cap", "pipe": "P3", "station": "9 ft"}]
    ),
    "a point and no tolerance": drawn([100, 50]),
    "a point far away": drawn([900, 50], snap_within=1.0),
    "a point between two": drawn([50, 50], snap_within=90.0),
    "a point and no drawing": plug_on(undrawn(), [1, 1], snap_within=1.0),
    "a point on a point": plug_on(as_a_point(), [5, 5], snap_within=1.0),
    "no place": plug(pipe=None, station=None),
    "half a place": layout(valves=[{"id": "V1", "pipe": "P3"}]),
    "work of nothing": layout(work={"open": [{}], "duration": "1 h"}),
    "work on a pipe": layout(work={"open": [{"pipe": "P3"}], "duration": "1 h"}),
    "bad day": layout(
        waivers=[{"rule": "x", "subject": "y", "reason": "because", "by": "A.N.", "until": "soon"}]
    ),
    "control character": layout(name="a\x1bb"),
    "space at its end": plug(id="K1 "),
    "unknown field": layout(zebra=1),
    "missing field": plug(jacket=None),
    "no object": layout(plugs=[3]),
    "no list": layout(plugs=3),
    "not of these": plug(coolant="beer"),
    "no number": layout(site={"stock": [{**STOCK, "cylinders": "many"}]}),
    "no decimal number": layout(drawing={"snap_within": "near"}),
    "no yes or no": layout(outlets=[], site={"stock": [{**STOCK, "upright": "yes"}]}),
    "too large": layout(drawing={"snap_within": 1e10}),
    "too long": layout(name="x" * 2001),
    "no entries": layout(pipes=[]),
    "too few entries": layout(site={"obstructions": [{"id": "O", "outline": [[0, 0], [1, 1]]}]}),
    "no document": lambda: parse_layout([]),
    "short, not understood": layout(plugs={"K1": "P3 at 18 in, jackt 12 in"}),
    "short, said twice": layout(sources={"main": "A, 60 psi, 50 psi"}),
    "short, no text": layout(plugs={"K1": 5}),
    "short, no ends": layout(pipes={"P9": "A - B, 2 in"}),
    "short, no stock": layout(site={"stock": "some dry ice"}),
    "short, no time": layout(work="valve V1"),
    "short, no work": layout(work="the lid for 3 h"),
    "no name of a person": layout(
        waivers=[
            {
                "rule": "plug-spacing",
                "subject": "K1",
                "reason": "agreed on site",
                "by": "?",
                "until": "2026-12-31",
            }
        ]
    ),
    "stock of no size": layout(site={"stock": [{"coolant": "nitrogen", "cylinders": 1}]}),
    "stock by volume": layout(
        site={"stock": [{"coolant": "carbon dioxide", "cylinders": 1, "volume_each": "10 L"}]}
    ),
    **{f"fluid {given!r}": layout(site={"fluid": given}) for given in FLUIDS},
    "two fluids in one water": two_fluids,
    "too many faults": lambda: parse_layout(
        {**small_layout(), "plugs": [{**PLUG, "id": f"K{n}", "pipe": "P"} for n in range(1002)]}
    ),
    "too deep": lambda: parse_layout(json.loads("[" * 60 + "]" * 60)),
    "too many fields": lambda: parse_layout({str(n): n for n in range(101)}),
    "too many corners": pipe(via=[[0, 0]] * 20_001),
}

TEXTS: dict[str, Callable[[], object]] = {
    "not JSON": text('{"a": 1,}'),
    "not UTF-8": text(b"\xff"),
    "deep JSON": text("[" * 100_000),
    "a field twice": text('{"a": 1, "a": 2}'),
    "NaN": text("[NaN]"),
    "infinite": text("[1e999]"),
    "endless number": text("[" + "9" * 401 + "]"),
    "half a character": text('["\\ud800"]'),
    "not YAML": text("a: [1", ".yaml"),
    "YAML octal": text("a: 012", ".yaml"),
    "YAML alias": text("a: &x 1\nb: *x\n", ".yaml"),
    "YAML field twice": text("a: 1\na: 2\n", ".yaml"),
    "YAML field no text": text("1: 2\n", ".yaml"),
    "YAML too large": text("#" * 1_000_001, ".yaml"),
}


# --- packs, logs, maps --------------------------------------------------------------------------


def pack(given: str) -> Callable[[], object]:
    return lambda: company_pack(given)


def figure(line: str) -> Callable[[], object]:
    return pack(f'name = "x"\n{line}\n')


def log(*rows: dict[str, Any], **changes: Any) -> Callable[[], object]:
    row = {"number": 1, "what": "line opened"}
    head = {
        "format": "layoutcheck log 1",
        "sheet": "x",
        "rows": [{**row, **r} for r in rows],
        **changes,
    }
    return lambda: read_log(json.dumps(head).encode())


def csv_log(change: Callable[[str], str]) -> Callable[[], object]:
    return lambda: read_log(change(logs()[1].decode()).encode())


OTHERS: dict[str, Callable[[], object]] = {
    "pack, not TOML": pack("a = ["),
    "pack, too long": pack("#\n" * 100_001),
    "pack, long line": pack("#" * 2001),
    "pack, deep": pack("a = " + "[" * 1500 + "]" * 400),
    "pack without a name": pack(""),
    "pack named as built in": pack(
        'name = "built-in"\n[figures.plug-spacing]\nper_inch = "14 in"\n'
    ),
    "pack, unknown field": figure("zebra = 1"),
    "pack, no tables": figure("figures = 1"),
    "pack, no rule": figure("[figures.zebra]\na = 1"),
    "pack, no figure": figure("[figures.plug-spacing]\nzebra = 1"),
    "pack, no number": figure('[figures.holding-pressure]\nfactor = "two"'),
    "pack, no word": figure('[figures.measuring]\nbasis = "by eye"'),
    "pack, no length": figure("[figures.plug-spacing]\nper_inch = 14"),
    "log, no clock": log({"began": "25:00"}),
    "log, no rows": log(),
    "log, a feeding of nothing": log({"what": "inject", "coolant": "0 lb"}),
    "log, a row twice": log({}, {}),
    "log CSV, not UTF-8": lambda: read_log(b"sheet,\xff"),
    "log CSV, a column missing": csv_log(lambda t: t.replace(",by,", ",who,")),
    "log CSV, a column twice": csv_log(lambda t: t.replace(",by,", ",by,by,", 1)),
    "log CSV, open quote": csv_log(lambda t: t.replace("inject", '"inject', 1)),
    "log CSV, two sheets": csv_log(lambda t: t.replace("0123456789ab,A,2", "zebra,A,2")),
    "log CSV, cells beyond": csv_log(lambda t: t.rstrip() + ",,,,,,,more\r\n"),
    "log CSV, endless row": lambda: read_log(b"a" + b",a" * 150_000),
    "a statement without a value": lambda: statement("site.clear_space"),
    "a statement about no pipe": lambda: laid_over(
        small_layout(), [statement("pipes.P99.length=3 ft")]
    ),
    "map, a layer of no kind": lambda: read_map('[layers.A]\nkind = "zebra"\n'),
    "names, known as another": lambda: read_names('[materials]\ncopper = ["galvanized"]\n'),
    "names, a size already": lambda: read_names('[sizes]\n"DN 50" = ["DN 80"]\n'),
    "names, no size, no bore": lambda: read_names(
        '[walls.W]\nmaterials = ["copper"]\nrows = [[51, 60, 3], [50, 6, 3]]\n'
    ),
}


# --- files that are imported --------------------------------------------------------------------


def named(name: str, data: bytes, **options: Any) -> Callable[[], object]:
    """Read a file of a name through the one door."""

    def read() -> object:
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / name).write_bytes(data)
            return read_file(Path(folder) / name, **options)

    return read


def sheet(rows: str, head: str = "id,from,to,size,material,length,via") -> Callable[[], object]:
    return named("pipes.csv", f"{head}\n{rows}\n".encode())


def archive(*members: tuple[str, bytes], method: int = zipfile.ZIP_STORED) -> Callable[[], object]:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, data in members:
            made.writestr(name, data)
    return named("sheets.zip", out.getvalue())


def drawing(
    draw: Callable[[Any], object], mapping: str | None = DRAWING_MAP
) -> Callable[[], object]:
    """Read a drawing that is made here."""

    def read() -> object:
        from ezdxf.filemanagement import new  # noqa: PLC0415 - an optional part

        made = new("R2018")
        made.blocks.new("GATE")
        draw(made.modelspace())
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "drawing.dxf"
            made.saveas(str(path))
            return read_dxf(path, name="drawing.dxf", mapping=mapping)

    return read


def lines(
    number: int, start: Callable[[int], Any], end: Callable[[int], Any]
) -> Callable[[Any], object]:
    def draw(space: Any) -> None:
        for n in range(number):
            space.add_line(start(n), end(n), dxfattribs={"layer": "PIPE"})

    return draw


def blocks_on_ends(space: Any) -> None:
    for n in range(400):
        space.add_line((n * 1e-3, 0), (n * 1e-3, 9 + n), dxfattribs={"layer": "PIPE"})
        space.add_blockref("GATE", (n * 1e-3, 0))


def nearly_meeting(space: Any) -> None:
    for n in range(300):
        space.add_line((0.0015 * n, 0), (0.0015 * n, 50 + n), dxfattribs={"layer": "PIPE"})


def unit_only(snap: str) -> str:
    return DRAWING_MAP.replace("snap = 0.5", f"snap = {snap}")


def model(change: Callable[[bytes], bytes], **options: Any) -> Callable[[], object]:
    """Read a spoilt model in this process."""

    def read() -> object:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "model.ifc"
            path.write_bytes(change(models()[0]))
            return read_ifc(path, name="model.ifc", **options)

    return read


def without(name: str, read: Callable[[], object]) -> Callable[[], object]:
    """Read where a module is not installed."""

    def tried() -> object:
        with mock.patch.dict(sys.modules, {name: None}):
            return read()

    return tried


def sized(
    module: str, name: str, value: object, read: Callable[[], object]
) -> Callable[[], object]:
    """Read under a smaller limit, so that the file can be small as well."""

    def tried() -> object:
        with mock.patch(f"layoutcheck.importers.{module}.{name}", value):
            return read()

    return tried


def _plugs_written() -> object:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "model.ifc"
        path.write_bytes(models()[0])
        return write_model(parse_layout(small_layout()), path, no_progress)


def _plugs_drawn() -> object:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawing.dxf"
        path.write_bytes(SEEDS["dxf"]()[1])
        return draw_plugs(parse_layout(undrawn()), path)


_network = named("net.inp", NETWORK.encode())
P = "P1,A,B,NPS 2,copper,3 m"
FILES: dict[str, Callable[[], object]] = {
    "no kind": named("model.docx", b"x"),
    "no file": lambda: read_file(Path("nowhere.ifc")),
    "too large": sized("read", "LARGEST", {".inp": 10}, named("net.inp", NETWORK.encode())),
    "no sheets of pipes": named("valves.csv", b"id\nV\n"),
    "sheet, not UTF-8": named("pipes.csv", b"\xff"),
    "sheet, not CSV": sheet('"open'),
    "sheet, no column": sheet("", head="id,zebra"),
    "sheet, a column twice": sheet("", head="id,id"),
    "sheet, too many columns": sheet("", head="id" + ",x" * 300),
    "sheet, too many rows": sized("sheets", "_MOST_ROWS", 3, sheet(f"{P}\n" * 5)),
    "sheet, cells beyond": sheet(f"{P},,more"),
    "sheet, corner": sheet(f"{P},1;2"),
    "sheet, no numbers": sheet(f"{P},a b"),
    "sheet, a fault of the layout": sheet("P1,A,B,NPS 9,copper,3 m"),
    "sheets, two heads": lambda: _sheets(layout="name\na\nb\n"),
    "sheets, yes or no": lambda: _sheets(junctions="id,defective\nA,maybe\n"),
    "sheets, both moments": lambda: _sheets(
        valves="id,junction,state,state freezing\nV,A,open,closed\n"
    ),
    "sheets too large": sized("read", "LARGEST_UNPACKED", 10, sheet(P)),
    "archive, unsound": named("sheets.zip", b"PK no"),
    "archive, nothing in it": archive(("a.txt", b"")),
    "archive, two of a name": archive(("a/pipes.csv", b""), ("b/pipes.csv", b"")),
    "archive, packed otherwise": archive(("pipes.csv", b""), method=zipfile.ZIP_BZIP2),
    "archive, too many files": archive(*((f"{n}.csv", b"") for n in range(101))),
    "archive, too large": sized("read", "LARGEST_UNPACKED", 10, archive(("pipes.csv", b"x" * 99))),
    "workbook, none": named("site.xlsx", b"no"),
    "workbook, no reader": without("openpyxl", named("site.xlsx", b"")),
    "workbook, too large": sized(
        "read", "LARGEST_UNPACKED", 10, named("site.xlsx", ZIPPED.getvalue())
    ),
    "drawing, no DXF": named("d.dxf", b"no", mapping=DRAWING_MAP),
    "drawing, no reader": without("ezdxf.filemanagement", named("d.dxf", b"", mapping=DRAWING_MAP)),
    "drawing, nothing in it": drawing(lambda space: None, None),
    "drawing, no lines": drawing(lambda space: space.add_line((0, 0), (9, 9))),
    "drawing, dots alone": drawing(lines(1, lambda n: (0, 0), lambda n: (0, 0))),
    "drawing, far off": drawing(lines(1, lambda n: (0, 0), lambda n: (2e9, 0))),
    "drawing, too many corners": sized(
        "dxf.sheet", "_MOST_CORNERS", 3, drawing(lines(2, lambda n: (n, 0), lambda n: (n, 9)))
    ),
    "drawing, ends on lines": drawing(lines(300, lambda n: (n * 1e-4, 0), lambda n: (n, 9))),
    "drawing, blocks on ends": drawing(blocks_on_ends),
    "drawing, crossings": drawing(
        lines(
            400,
            lambda n: (n, -1) if n < 200 else (-1, n - 200),
            lambda n: (n, 201) if n < 200 else (201, n - 200),
        ),
        unit_only("1e-3"),
    ),
    "drawing, ends that nearly meet": sized(
        "dxf.lines", "_GAP", 500.0, drawing(nearly_meeting, unit_only("1e-3"))
    ),
    "drawing, plug without a place": _plugs_drawn,
    "network, unsound": named("net.inp", b"[PIPES]\n P1 A B\n"),
    "network, no reader": without("wntr", named("net.inp", b"")),
    "network, no pipes": named("net.inp", b"[OPTIONS]\n Units LPS\n[END]\n"),
    "network, an unsound element": sized(
        "network_file", "_sizes", mock.Mock(side_effect=KeyError("P1")), _network
    ),
    "model, no IFC": model(lambda data: b"no"),
    "model, cut off": model(lambda data: data[:400]),
    "model, another schema": model(lambda data: data.replace(b"('IFC4')", b"('IFC9')")),
    "model, a draft of a schema": model(lambda data: data.replace(b"('IFC4')", b"('IFC4X3_RC3')")),
    "model, a schema not read": sized("ifc.opened", "SCHEMAS", (), model(lambda data: data)),
    "model, no units": model(lambda data: data.replace(b".LENGTHUNIT.", b".TIMEUNIT.")),
    "model, two of one GlobalId": model(
        lambda data: data.replace(*re.findall(rb"IFCPIPESEGMENT\('(.{22})", data)[:2])
    ),
    "model, no GlobalId": model(lambda data: re.sub(rb"(IFCPIPESEGMENT\()'.{22}'", rb"\1''", data)),
    "model, no pipes": model(lambda data: data.replace(b"IFCPIPESEGMENT(", b"IFCDUCTSEGMENT(")),
    "model, no system": model(lambda data: data, systems=("zebra",)),
    "model, unsound element": model(lambda data: data.replace(b"(0.,0.,0.)", b"(1.E300,0.,0.)")),
    "model, too large": sized("ifc.opened", "LARGEST", 10, model(lambda data: data)),
    "model, no reader": without("ifcopenshell", model(lambda data: data)),
    "model, heavy bodies": sized("ifc.shape", "MOST_ITEMS", 1, model(lambda data: data)),
    "model, huge unit": model(lambda data: data.replace(b"$,.METRE.", b".EXA.,.METRE.")),
    "model, plug without a place": _plugs_written,
}


def _sheets(**others: str) -> object:
    from layoutcheck.importers.sheets import read_sheets  # noqa: PLC0415

    pipes = f"id,from,to,size,material,length\n{P}\n"
    given = {"pipes": pipes, **others}
    return read_sheets({name: data.encode() for name, data in given.items()}, name="sheets")


# --- the command line ---------------------------------------------------------------------------

FREEZE = ("freeze", "--size", "NPS 2", "--jacket", "12 in", "--water", "60 degF", "-o")
# {L}: a small layout; {B}: one that is broken; {Y}: a list in YAML; {F}: the folder.
CALLS: tuple[tuple[str, ...], ...] = (
    ("zebra",),
    ("chek", "{L}"),
    ("check",),
    ("check", "{L}", "--zebra"),
    ("check", "{L}", "--on", "tomorrow"),
    ("check", "{L}", "--format", "xml"),
    ("check", "{L}", "--set", "site"),
    ("check", "nowhere.json"),
    ("check", "{F}"),
    ("check", "{F}/\0"),
    ("check", "{B}"),
    ("check", "{L}", "--pack", "{B}"),
    ("draw", "{L}", "-o", "d.doc"),
    ("draw", "{L}", "-o", "{F}/none/d.svg"),
    ("draw", "{L}", "-o", "d.svg", "--highlight", "K9"),
    ("sheet", "{L}", "-o", "s.doc"),
    ("sheet", "{L}", "-o", "{F}/s.pdf", "--log", "{F}/log.csv"),
    ("explain", "zebra"),
    ("schema", "zebra"),
    ("freeze", "--size", "zebra", "--material", "copper"),
    ("freeze", "--size", "NPS 2", "--jacket", "900 ft", "--water", "60 degF"),
    ("new", "{F}/site.json"),
    ("new", "{Y}"),
    ("check", "{L}", "--with", "{Y}"),
    ("export", "{L}", "-o", "e.doc"),
    ("export", "{L}", "-o", "e.ifc"),
    ("export", "{L}", "-o", "e.ifc", "--source", "nowhere.ifc"),
    ("import", "nowhere.ifc"),
    ("log", "{L}", "{B}"),
    ("record", "zebra"),
    ("record", "list", "--in", "{F}/none.sqlite"),
    ("record", "verify", "--head", "zebra"),
    ("survey", "{F}", "-o", "{F}/s.parquet", "--duration", "long"),
    ("survey", "{F}", "-o", "{F}/s.parquet", "--workers", "2", "--scheduler", "tcp://127.0.0.1:1"),
    (*FREEZE, "ice.doc"),
)


def _record(entry: object) -> Any:
    """A record that holds one entry, without its texts, or none."""
    ledger = mock.Mock(place=mock.Mock(shown="record.sqlite"), text=lambda _: None)
    ledger.get.return_value = entry
    return mock.patch("layoutcheck.cli.record._ledger", lambda _: ledger)


@contextlib.contextmanager
def _without_distributed() -> Iterator[None]:
    """Let the extra of surveys be missing, and what was loaded with it be loaded again."""
    with mock.patch.dict(sys.modules, {"distributed": None}):
        for name in ("layoutcheck.survey.door", "layoutcheck.survey.cluster"):
            sys.modules.pop(name, None)
        yield


# Calls in a world that is not as it should be: what is put in the place of what.
CALLS_UNDER: dict[tuple[str, ...], Callable[[], Any]] = {
    ("serve",): lambda: mock.patch("layoutcheck.cli.app.entry_points", lambda **_: ()),
    ("check", "{L}"): lambda: mock.patch("layoutcheck.cli.files.LARGEST", 100),
    ("check", "{L}", "--format=text"): lambda: mock.patch.object(
        Path, "open", mock.Mock(side_effect=PermissionError(13, "Permission denied"))
    ),
    ("import", "{L}"): lambda: mock.patch(
        "layoutcheck.cli.import_.read_file", mock.Mock(side_effect=OSError(5, "Input/output error"))
    ),
    ("explain",): lambda: mock.patch(
        "layoutcheck.cli.app._runner", mock.Mock(side_effect=RuntimeError("/secret/place"))
    ),
    (*FREEZE, "ice.svg"): lambda: mock.patch(
        "layoutcheck.cli.freeze.freeze_of_question", lambda _: None
    ),
    ("record", "list"): lambda: mock.patch.dict(sys.modules, {"rfc8785": None}),
    ("survey", "{F}", "-o", "{F}/s.parquet"): _without_distributed,
    ("record", "show", "7"): lambda: _record(None),
    ("record", "show", "7", "--part", "layout"): lambda: _record(
        mock.MagicMock(**{"entry.sequence": 7})
    ),
}


def called(
    argv: tuple[str, ...], folder: Path, under: Callable[[], Any] = contextlib.nullcontext
) -> tuple[int, str]:
    """Run a command; give its exit code and what it said beside its results."""
    (folder / "layout.json").write_text(json.dumps(small_layout()), encoding="utf-8")
    (folder / "broken.json").write_text("{", encoding="utf-8")
    (folder / "list.yaml").write_text("- 1\n", encoding="utf-8")
    known = {"{L}": "layout.json", "{B}": "broken.json", "{Y}": "list.yaml"}
    filled = []
    for word in argv:
        made = word.replace("{F}", str(folder))
        for mark, name in known.items():
            made = made.replace(mark, str(folder / name))
        filled.append(made)
    err, out = io.StringIO(), io.StringIO()
    with contextlib.redirect_stderr(err), contextlib.redirect_stdout(out), under():
        code = int(main(filled))
    said = err.getvalue().replace(str(folder), "FOLDER")
    said = re.sub(r"\n{2,}", "\n", said)  # a blank line ends a case in the file
    return code, re.sub(r"known: [\w, ]+", "known: EXTRAS", said)  # as it is installed here


# --- all of them --------------------------------------------------------------------------------


def spoken(error: type[Exception], call: Callable[[], object]) -> Callable[[], str]:
    """Call what must fail, and give its words."""

    def words() -> str:
        try:
            call()
        except error as failed:
            return str(failed)
        raise AssertionError("it did not fail")

    return words


def _no_freeze() -> object:
    report = mock.Mock(
        verdict=Verdict.COMPLIANT, plugs=(mock.Mock(freeze=mock.Mock(coolant=None)),)
    )
    return log_template(report)


def first_of(read: Callable[[], object]) -> str:
    return faults_of(read)[0].problem


SPOKEN: dict[str, Callable[[], str]] = {
    "survey, no such valve": spoken(WrongCall, lambda: _known_works(("zebra",), Standing(1))),
    "a child without memory": spoken(
        ChildDied, lambda: _answer(io.BytesIO(pickle.dumps(("memory", None))), no_progress)
    ),
    "a child that is killed": lambda: _why(-9, Bounds(1, 7)),
    "a child that fails": lambda: _why(-11, Bounds(1, 7)),
    "no log of a broken layout": spoken(
        NoSchedule, lambda: log_template(check(parse_layout(small_layout())))
    ),
    "no log without a freeze": spoken(NoSchedule, _no_freeze),
    "a signer's field": lambda: (
        faults_of(lambda: read_signer({"name": "A. N.", "zebra": 1}))[0].problem
    ),
    "a number past what is kept": lambda: faults_of(lambda: layout_as_json([2**60]))[0].problem,
}
TABLES = {"layout": LAYOUTS, "text": TEXTS, "reader": OTHERS, "file": FILES}


def written() -> str:
    """Every case with the words that tell it."""
    return "".join(f"{head}\n{body}\n\n" for head, body in every_text())


def every_text() -> Iterator[tuple[str, str]]:
    """Every case's head, and its text."""
    for kind, table in TABLES.items():
        for name, read in table.items():
            faults = faults_of(read)
            rows = [
                f"  {f.pointer or '(whole)'}\n    found: {f.found}\n    problem: {f.problem}\n"
                f"    right: {f.example}"
                for f in (faults if len(faults) < 5 else [faults[0], faults[-1]])
            ]
            yield f"{kind}: {name}", "\n".join(rows)
    for path in sorted(BROKEN.glob("*.json")):
        if path.name != "expected.json":
            faults = faults_of(lambda path=path: parse_layout(read_text(path.read_bytes())))  # type: ignore[misc]
            rows = [f"  {f.pointer or '(whole)'}: {f.problem}" for f in faults]
            yield f"fixture: {path.name}", "\n".join(rows)
    for name, words in SPOKEN.items():
        yield f"spoken: {name}", f"  {words()}"
    for argv in (*CALLS, *CALLS_UNDER):
        under = CALLS_UNDER.get(argv, contextlib.nullcontext)
        with tempfile.TemporaryDirectory() as folder:
            code, said = called(argv, Path(folder), under)
        yield f"command: {' '.join(argv)!a}", f"  exit code {code}\n{said}".rstrip()


if __name__ == "__main__":
    GOLDEN.write_text(written(), encoding="utf-8")
