"""metric-block: an invented 10-floor block of flats with district heating, all in metric.

Two pumps stand side by side. Pump 1 is to be swapped together with the valve behind it, while pump
2 keeps the flats warm. Its suction valve has seized open.
"""

from __future__ import annotations

from itertools import pairwise

from tests.sites.builder import Demo, Document, Site, cylinders, metres, room, run

FLOORS = range(1, 11)
STOREY = 2.9
LEFT, MIDDLE, RIGHT = 40, 120, 200
PLANT = metres(-2.4)
ACCEPTED = "invented engineer of record, notch test of this invented heat of pipe"


def _steel(size: str, length: float) -> Document:
    return run(size, metres(length), "carbon steel", "sch 40")


def _floor(site: Site, floor: int) -> None:
    """Lay one floor: a flat on each side, between the supply and a return."""
    y, height = 40 * floor, metres(STOREY * (floor - 1) + 0.3)
    site.joint(f"S{floor}", (MIDDLE, y), height, fitting="cross")
    for side, x in (("L", LEFT), ("R", RIGHT)):
        site.joint(f"{side}{floor}", (x, y), height, fitting="tee")
        flat = f"{side}{floor}-HIU"
        site.joint(flat, ((x + MIDDLE) / 2, y), height, fitting="other", name="heat interface")
        flow = site.pipe(f"{side}{floor}-IN", (f"S{floor}", flat), **_steel("DN 20", 4.6))
        back = site.pipe(f"{side}{floor}-OUT", (flat, f"{side}{floor}"), **_steel("DN 20", 4.2))
        body = metres(0.06)
        site.valve(f"V-{side}{floor}-IN", flow, metres(0.4), kind="ball", body=body)
        site.valve(f"V-{side}{floor}-OUT", back, metres(3.8), kind="ball", body=body)


def _risers(site: Site) -> None:
    for floor in FLOORS:
        _floor(site, floor)
    for below, above in pairwise(FLOORS):
        size = "DN 80" if above <= 4 else "DN 65" if above <= 7 else "DN 50"
        site.pipe(f"S-{above}", (f"S{below}", f"S{above}"), **_steel(size, STOREY))
        for side in "LR":
            back = "DN 65" if above <= 4 else "DN 50"
            ends = (f"{side}{below}", f"{side}{above}")
            site.pipe(f"{side}-{above}", ends, **_steel(back, STOREY))
    for side, x in (("L", LEFT), ("S", MIDDLE), ("R", RIGHT)):
        top = site.joint(f"{side}-TOP", (x, 432), metres(STOREY * 9 + 1.2), name="air vent")
        site.pipe(f"{side}-VENT", (f"{side}10", top), **_steel("DN 15", 0.9))
        site.add("outlets", f"AV-{side}", junction=top, state="locked off")


def _leg(site: Site, number: int, x: float) -> None:
    """Lay one pump's leg, with a cock before the pump and one behind its valve."""
    rows = (("SP", -150), ("VP", -100))
    for key, y in rows:
        site.joint(f"{key}{number}", (x, y), PLANT, fitting="tee")
        side = -24 if x < MIDDLE else 24
        end = site.joint(f"{key}{number}-END", (x + side, y), PLANT)
        site.pipe(f"{key}{number}-P", (f"{key}{number}", end), **_steel("DN 15", 0.3))
        site.add("outlets", f"COCK-{key}{number}", junction=end, state="locked off")
    corner_low, corner_high = [(x, -190)], [(x, -60)]
    suction = ("SH", f"SP{number}")
    low = site.pipe(f"PS-{number}", suction, via=corner_low, **_steel("DN 80", 5.2))
    middle = site.pipe(f"PM-{number}", (f"SP{number}", f"VP{number}"), **_steel("DN 80", 1.2))
    delivery = (f"VP{number}", "DH")
    site.pipe(f"PD-{number}", delivery, via=corner_high, **_steel("DN 80", 5.6))
    site.valve(f"V-PS{number}", low, metres(4.9), kind="butterfly", body=metres(0.05))
    site.add("pumps", f"P{number}", pipe=middle, station=metres(0.5), shutoff_head="1.1 bar")
    site.valve(f"V-PD{number}", middle, metres(0.9), kind="butterfly", body=metres(0.05))


def _plant(site: Site) -> None:
    """Lay headers, heat exchanger and vessel, and both pump legs."""
    for name, at in (("DH", (MIDDLE, -60)), ("SH", (MIDDLE, -190)), ("BH", (MIDDLE, -240))):
        site.joint(name, at, PLANT, fitting="cross" if name == "BH" else "tee")
    for number, x in ((1, 90), (2, 150)):
        _leg(site, number, x)
    supply = site.pipe("S-1", ("DH", "S1"), **_steel("DN 100", 5.2))
    site.valve("V-S", supply, metres(2.0), kind="butterfly", body=metres(0.06))
    heat = site.pipe("HX-1", ("BH", "SH"), **_steel("DN 100", 3.0))
    site.add("equipment", "HX", kind="heater", pipe=heat, station=metres(1.5))
    for side, x in (("L", LEFT), ("R", RIGHT)):
        back = site.pipe(f"{side}-1", ("BH", f"{side}1"), via=[(x, -240)], **_steel("DN 80", 9.4))
        site.valve(f"V-{side}", back, metres(3.0), kind="butterfly", body=metres(0.05))
    site.joint("EV", (MIDDLE, -290), PLANT, name="expansion vessel")
    site.pipe("EV-1", ("BH", "EV"), **_steel("DN 25", 1.8))
    vessel = {"pressure": "3.3 bar", "volume": "600 L"}
    site.add("sources", "VESSEL", junction="EV", kind="expansion vessel", **vessel)


def _building() -> Site:
    site = Site(
        name="Heating of Fernside flats (invented)", units="metric", kind="riser", snap_within=6
    )
    _risers(site)
    _plant(site)
    size = {"floor_area": "320 m2", "height": "3.2 m", "volume": "1024 m3"}
    air = {"air_changes": "8 per hour", "below_ground": True, "flood_depth": "0.16 m"}
    site.site = {
        "room": "substation",
        "rooms": [room("substation", "basement substation, fans on", **{**size, **air})],
        "water_temperature": "55 degC",
        "air_temperature": "22 degC",
        "clear_space": "0.25 m",
    }
    site.change("P1", locked_off=True)
    site.change("V-PS1", name="suction valve of pump 1, seized open")
    site.shut("V-PD1")
    site.change("PS-1", "PD-1", covering="insulation", low_temperature_accepted_by=ACCEPTED)
    site.work = {
        "name": "swap pump 1 and the valve behind it",
        "open": [{"pump": "P1"}, {"valve": "V-PD1"}],
        "duration": "3 h",
    }
    return site


def _stock(number: int) -> list[Document]:
    return cylinders(cylinders=number, mass_each="22 kg", storage_temperature="18 degC")


def sketch() -> Document:
    """Give the marked-up sketch."""
    site = _building()
    site.plug("SUCTION", "PS-1", metres(0.5), metres(0.3), name="beside the suction header")
    site.plug("DELIVERY", "PD-1", metres(3.1), metres(0.3), name="in the bend")
    site.change("PS-1", "PD-1", water_temperature="34 degC")
    site.site["stock"] = _stock(3)
    return site.document(
        "Invented site, all in metric. A sketch with faults: one plug beside a header that flows, "
        "one in a bend, the pump's pipes still at 34 degC, no bleed, too few cylinders."
    )


def mended() -> Document:
    """Give the corrected twin."""
    site = _building()
    site.plug("SUCTION", "PS-1", metres(3.0), metres(0.3), name="between bend and pump")
    site.plug("DELIVERY", "PD-1", metres(1.4), metres(0.3), name="between valve and bend")
    site.change("PS-1", "PD-1", water_temperature="19 degC")
    site.change("COCK-SP1", "COCK-VP1", state="bleed")
    site.site["stock"] = _stock(20)
    return site.document(
        "Invented site, all in metric. The corrected twin: pump 1 is locked off, its pipes have "
        "cooled, both plugs stand on straight pipe at their distance, and two cocks are bleeds."
    )


DEMO = Demo(
    name="metric-block",
    sketch=sketch,
    mended=mended,
    breaks=frozenset(
        {
            "flowing-line-setback",
            "straight-run",
            "start-temperature",
            "trapped-water",
        }
    ),
)
