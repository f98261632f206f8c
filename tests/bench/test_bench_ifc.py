"""A model of 50,000 pipe elements: how its import compares with opening it and walking it.

Both run in one thread, so the processor's time is taken: other work on the machine is not counted.

Outside source: ifcopenshell opens the same file and reads every attribute of every entity. The
model is made up: one long run of pipes and couplings with ports, bodies, lengths and connections.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid
import pytest

from layoutcheck.importers.ifc.read import read_ifc

ELEMENTS = 50_000
MOST_TIMES_AS_LONG = 2.0  # our own promise
MOST_ROOM = 3 * 1024**3  # bytes of addresses, so that a fault ends the child and not the machine
MOST_MEMORY = 1.2e9  # bytes; our own promise, about 24 kB for each element

_HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(('made up'),'2;1');
FILE_NAME('big.ifc','',(''),(''),'','','');
FILE_SCHEMA(('IFC4'));
ENDSEC;
DATA;
"""


def lines(elements: int) -> Iterator[str]:
    number = 0

    def entity(text: str) -> str:
        nonlocal number
        number += 1
        rows.append(f"#{number}={text};\n")
        return f"#{number}"

    def guid() -> str:
        return str(ifcopenshell.guid.new())

    def placed(parent: str, x: float, turned: str = "$,$") -> str:
        spot = entity(f"IFCCARTESIANPOINT(({float(x)},0.,0.))")
        return entity(
            f"IFCLOCALPLACEMENT({parent},{entity(f'IFCAXIS2PLACEMENT3D({spot},{turned})')})"
        )

    rows: list[str] = []
    unit = entity("IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.)")
    units = entity(f"IFCUNITASSIGNMENT(({unit}))")
    entity(f"IFCPROJECT('{guid()}',$,'made up',$,$,$,$,$,{units})")
    x_axis, z_axis = entity("IFCDIRECTION((0.,1.,0.))"), entity("IFCDIRECTION((1.,0.,0.))")
    up = entity("IFCDIRECTION((0.,0.,1.))")
    profile = entity("IFCCIRCLEHOLLOWPROFILEDEF(.AREA.,$,$,0.03015,0.00391)")
    before = ""
    for index in range(elements):
        place = placed("$", index, f"{z_axis},{x_axis}")
        # Local z runs along the pipe, so that ports lie on it.
        solid = entity(f"IFCEXTRUDEDAREASOLID({profile},$,{up},1.)")
        shape = entity(f"IFCSHAPEREPRESENTATION($,'Body','SweptSolid',({solid}))")
        body = entity(f"IFCPRODUCTDEFINITIONSHAPE($,$,({shape}))")
        segment = entity(
            f"IFCPIPESEGMENT('{guid()}',$,'P{index}',$,$,{place},{body},$,.RIGIDSEGMENT.)"
        )
        ports = []
        for end in (0.0, 1.0):
            spot = entity(f"IFCCARTESIANPOINT((0.,0.,{end}))")
            frame = entity(
                f"IFCLOCALPLACEMENT({place},{entity(f'IFCAXIS2PLACEMENT3D({spot},$,$)')})"
            )
            text = f"IFCDISTRIBUTIONPORT('{guid()}',$,$,$,$,{frame},$,.NOTDEFINED.,.PIPE.,$)"
            ports.append(entity(text))
        entity(f"IFCRELNESTS('{guid()}',$,$,$,{segment},({ports[0]},{ports[1]}))")
        length = entity("IFCQUANTITYLENGTH('Length',$,$,1.,$)")
        facts = entity(f"IFCELEMENTQUANTITY('{guid()}',$,'Quantities',$,$,({length}))")
        entity(f"IFCRELDEFINESBYPROPERTIES('{guid()}',$,$,$,({segment}),{facts})")
        if before:
            entity(f"IFCRELCONNECTSPORTS('{guid()}',$,$,$,{before},{ports[0]},$)")
        before = ports[1]
        yield from rows
        rows.clear()


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("big") / "big.ifc"
    with path.open("w") as stream:
        stream.write(_HEAD)
        stream.writelines(lines(ELEMENTS))
        stream.write("ENDSEC;\nEND-ISO-10303-21;\n")
    return path


def walk(model: Path) -> float:
    """Open the model and read every attribute of every entity; give the time (s)."""
    started = time.process_time()
    opened: Any = ifcopenshell.open(str(model))
    values = sum(1 for entity in opened for _ in entity)
    assert values > 10 * ELEMENTS
    return time.process_time() - started


def brought_in(model: Path) -> float:
    """Import the model and see that it is whole and told of its progress; give the time (s)."""
    told: list[tuple[str, int, int]] = []
    started = time.process_time()
    imported = read_ifc(model, name="big.ifc", progress=lambda *step: told.append(step))
    took = time.process_time() - started
    assert len(imported.document["pipes"]) == ELEMENTS
    assert len([t for t in told if t[0] == "reading elements"]) >= 20
    return took


@pytest.mark.bench
def test_import_takes_at_most_twice_as_long_as_a_walk(model: Path) -> None:
    # The better of two, taken in turn.
    rounds = [(walk(model), brought_in(model)) for _ in range(2)]
    least, took = (min(times) for times in zip(*rounds, strict=True))
    print(f"walk {least:.1f} s, import {took:.1f} s, ratio {took / least:.2f}")
    assert took <= MOST_TIMES_AS_LONG * least


@pytest.mark.bench
def test_import_keeps_within_its_memory(model: Path) -> None:
    script = (
        "import re, resource, sys; from pathlib import Path\n"
        "from layoutcheck.importers.ifc.read import read_ifc\n"
        f"resource.setrlimit(resource.RLIMIT_AS, ({MOST_ROOM}, {MOST_ROOM}))\n"
        "read_ifc(Path(sys.argv[1]), name='big.ifc')\n"
        # Not ru_maxrss: a child's begins with the peak of the process that started it.
        "print(re.search(r'VmHWM:\\s*(\\d+) kB', Path('/proc/self/status').read_text())[1])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(model)], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    print(f"{int(ran.stdout) / 1024:.0f} MB at most")
    assert 1024 * int(ran.stdout) <= MOST_MEMORY
