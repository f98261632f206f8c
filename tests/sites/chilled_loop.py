"""chilled-loop: an invented 12-floor office with chilled water, where every floor has a bypass.

Two chillers and two pumps feed a supply riser; each floor's cooling coil returns by a control
valve. Each floor has a bypass round its coil; the one on floor 6 does not shut tight. The control
valve of floor 6 is to be changed, with the risers running.
"""

from __future__ import annotations

from itertools import pairwise

from tests.sites.builder import Demo, Document, Site, cylinders, feet, room, run

FLOORS = range(1, 13)
STOREY = 12 * 12
SUPPLY, RETURN = 60, 260
ACCEPTED = "invented engineer of record, impact test of this invented heat of pipe"


def _steel(size: str, inches: float) -> Document:
    made = run(size, feet(inches), "carbon steel", "sch 40")
    return {**made, "covering": "insulation"}


def _floor(site: Site, floor: int) -> None:
    """Lay one floor: branches, bypass, coil and control valve."""
    y, height = 44 * floor, feet(STOREY * floor - 24)
    for name, x, fitting in (
        (f"S{floor}", SUPPLY, "tee"),
        (f"BS{floor}", 110, "tee"),
        (f"BR{floor}", 210, "tee"),
        (f"R{floor}", RETURN, "tee"),
    ):
        site.joint(name, (x, y), height, fitting=fitting)
    site.joint(f"COIL{floor}", (160, y + 20), height, fitting="other", name=f"coil, floor {floor}")
    supply = site.pipe(f"A-{floor}", (f"S{floor}", f"BS{floor}"), **_steel("NPS 2 1/2", 96))
    site.valve(f"VS-{floor}", supply, feet(18), kind="butterfly", body=feet(2))
    back = site.pipe(f"D-{floor}", (f"BR{floor}", f"R{floor}"), **_steel("NPS 2 1/2", 96))
    site.valve(f"VR-{floor}", back, feet(78), kind="butterfly", body=feet(2))
    bypass = site.pipe(f"BP-{floor}", (f"BS{floor}", f"BR{floor}"), **_steel("NPS 1", 72))
    site.valve(f"V-BP{floor}", bypass, feet(36), kind="ball", body=feet(3))
    site.shut(f"V-BP{floor}")
    into = (f"BS{floor}", f"COIL{floor}")
    site.pipe(f"B-{floor}", into, via=[(110, y + 20)], **_steel("NPS 2 1/2", 276))
    site.joint(f"DT{floor}", (190, y + 20), height, fitting="tee")
    out = (f"COIL{floor}", f"DT{floor}")
    control = site.pipe(f"C-{floor}", out, **_steel("NPS 2 1/2", 60))
    site.valve(f"CV-{floor}", control, feet(36), kind="control", body=feet(10))
    tail = (f"DT{floor}", f"BR{floor}")
    site.pipe(f"E-{floor}", tail, via=[(210, y + 20)], **_steel("NPS 2 1/2", 300))
    for key, tee, x in (("DC", f"DT{floor}", 190), ("AC", f"COIL{floor}", 160)):
        cock = site.joint(f"{key}{floor}", (x, y + 32), height)
        site.pipe(f"{key}-{floor}", (tee, cock), **_steel("NPS 3/4", 12))
        name = "drain cock" if key == "DC" else "air cock"
        site.add("outlets", f"{key}{floor}-OUT", junction=cock, name=name, state="locked off")


def _risers(site: Site) -> None:
    for floor in FLOORS:
        _floor(site, floor)
    for below, above in pairwise(FLOORS):
        size = "NPS 6" if above <= 4 else "NPS 5" if above <= 8 else "NPS 4"
        site.pipe(f"S-{above}", (f"S{below}", f"S{above}"), **_steel(size, STOREY))
        site.pipe(f"R-{above}", (f"R{below}", f"R{above}"), **_steel(size, STOREY))
    for side, x in (("S", SUPPLY), ("R", RETURN)):
        top = site.joint(f"{side}-TOP", (x, 572), feet(STOREY * 12 + 24), name="air vent")
        site.pipe(f"{side}-VENT", (f"{side}12", top), **_steel("NPS 3/4", 48))
        site.add("outlets", f"AV-{side}", junction=top, state="locked off")


def _plant(site: Site) -> None:
    """Lay chillers, pumps, and the bypass between the headers."""
    low = feet(-60)
    for name, at in (
        ("HS", (SUPPLY, -40)),
        ("HR", (RETURN, -40)),
        ("CS", (SUPPLY, -120)),
        ("CI", (180, -120)),
        ("PO", (220, -120)),
        ("PD", (RETURN, -120)),
        ("EX", (RETURN, -80)),
    ):
        site.joint(name, at, low, fitting="tee")
    site.pipe("S-1", ("HS", "S1"), **_steel("NPS 6", 192))
    site.pipe("R-1", ("HR", "R1"), **_steel("NPS 6", 192))
    decoupler = site.pipe("DE-1", ("HS", "HR"), **_steel("NPS 4", 240))
    site.valve("V-DE", decoupler, feet(120), kind="balancing", body=feet(9))
    site.pipe("CS-1", ("CS", "HS"), **_steel("NPS 6", 96))
    site.pipe("HR-1", ("HR", "EX"), **_steel("NPS 6", 48))
    site.pipe("EX-1", ("EX", "PD"), **_steel("NPS 6", 48))
    site.pipe("PO-1", ("PO", "CI"), **_steel("NPS 6", 60))
    for n, pump_way, chiller_way in (
        (1, [], []),
        (2, [(RETURN, -160), (220, -160)], [(180, -160), (SUPPLY, -160)]),
    ):
        pump = site.pipe(f"PU-{n}", ("PD", "PO"), via=pump_way, **_steel("NPS 6", 108 + 48 * n))
        site.add("pumps", f"PU{n}", pipe=pump, station=feet(78), shutoff_head="50 ft of water")
        chill = site.pipe(f"CH-{n}", ("CI", "CS"), via=chiller_way, **_steel("NPS 6", 180 + 60 * n))
        site.add("equipment", f"CH{n}", kind="cooler", pipe=chill, station=feet(120))
    site.joint("VES", (210, -80), low, name="expansion vessel")
    site.pipe("EV-1", ("EX", "VES"), **_steel("NPS 1 1/4", 72))
    vessel = {"pressure": "74 psi", "volume": "150 gal"}
    site.add("sources", "VESSEL", junction="VES", kind="expansion vessel", **vessel)


def _building() -> Site:
    site = Site(name="Chilled water, Orrin Exchange (invented)", kind="riser", snap_within=6)
    _risers(site)
    _plant(site)
    size = {"floor_area": "2100 ft2", "height": "11 ft", "volume": "23100 ft3"}
    air = {"air_changes": "8 per hour", "flood_depth": "8 in"}
    name = "air-handling floor 6, kerbed, gear on plinths, fresh-air fan on"
    site.site = {
        "room": "floor-6",
        "rooms": [room("floor-6", name, **{**size, **air})],
        "water_temperature": "45 degF",
        "air_temperature": "70 degF",
        "clear_space": "10 in",
    }
    site.change("A-6", "B-6", "C-6", "D-6", "E-6", low_temperature_accepted_by=ACCEPTED)
    site.change("V-BP6", state="passing", tightness=None)
    site.shut("CV-6")
    site.work = {
        "name": "change the control valve of floor 6",
        "open": [{"valve": "CV-6"}],
        "duration": "2 h",
    }
    return site


def sketch() -> Document:
    """Give the marked-up sketch: the bypass was forgotten."""
    site = _building()
    site.plug("IN", "A-6", feet(54), feet(12), name="supply branch, floor 6")
    site.plug("OUT", "E-6", feet(10), feet(12), name="return branch, floor 6")
    site.site["stock"] = cylinders(dip_tube=False)
    return site.document(
        "Invented site. A sketch with faults: the bypass of floor 6 lets water by, so the supply "
        "plug sits in moving water; the other sits too near the shut control valve; the cylinders "
        "have no dip tube."
    )


def mended() -> Document:
    """Give the corrected twin: both plugs stand on the coil's side of the bypass."""
    site = _building()
    site.plug("IN", "B-6", feet(48), feet(12), name="between bypass and coil")
    site.plug("OUT", "E-6", feet(90), feet(12), name="between control valve and bypass")
    site.change("DC6-OUT", "AC6-OUT", state="bleed")
    site.site["stock"] = cylinders()
    return site.document(
        "Invented site. The corrected twin: both plugs stand on the coil's side of the bypass, "
        "where nothing moves while the control valve is shut; the risers keep running."
    )


DEMO = Demo(
    name="chilled-loop",
    sketch=sketch,
    mended=mended,
    breaks=frozenset({"no-flow-at-plug", "closed-valve-setback", "cylinder-temperature"}),
)
