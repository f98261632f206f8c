"""plant-room: an invented basement plant room, drawn as a plan to scale with what stands in it.

Two headers run along the walls under the ceiling: the low zone's and the high zone's, each with its
own tank and boosters. A link joins them across the room, between a column, a duct and a cable tray.
The valve in the link is to be changed while both zones are in use. No length is stated: all of it
is measured on the plan, with heights.
"""

from __future__ import annotations

from tests.sites.builder import Demo, Document, Site, Spot, cylinders, feet, room, run

# One drawing unit is one foot.
CEILING, HEADER, LOW, FLOOR = feet(168), feet(108), feet(36), feet(12)
TAKE_OFFS = range(1, 10)
WALLS = {"L": (6.0, -1), "H": (30.0, 1)}


def _copper(size: str) -> Document:
    return {k: v for k, v in run(size, "", "copper", "type L").items() if v}


def _header(site: Site, zone: str) -> None:
    """Lay one zone's header with its take-offs, each rising through the ceiling."""
    y, way = WALLS[zone]
    before = f"{zone}-IN"
    site.joint(before, (6, y), HEADER, fitting="elbow")
    spots = [8.0 + 4 * n for n in TAKE_OFFS]
    rows: list[tuple[str, float]] = [
        (f"{zone}{n}", x) for n, x in zip(TAKE_OFFS, spots, strict=True)
    ]
    rows.append((f"{zone}-LINK", 26.0))
    for node, x in sorted(rows, key=lambda row: row[1]):
        site.joint(node, (x, y), HEADER, fitting="tee")
        site.pipe(f"{node}-HD", (before, node), **_copper("3 in"))
        before = node
    site.joint(f"{zone}-END", (46, y), HEADER, fitting="cap")
    site.pipe(f"{zone}-END-HD", (before, f"{zone}-END"), **_copper("3 in"))
    for n, x in zip(TAKE_OFFS, spots, strict=True):
        bend = site.joint(f"{zone}{n}-E", (x, y + 3 * way), HEADER, fitting="elbow")
        off = site.pipe(f"{zone}{n}-OFF", (f"{zone}{n}", bend), **_copper("2 in"))
        site.valve(f"V-{zone}{n}", off, feet(18), kind="gate", body=feet(6))
        top = site.joint(f"{zone}{n}-UP", (x, y + 3 * way), CEILING, name=f"riser {n}, up")
        site.pipe(f"{zone}{n}-RISE", (bend, top), **_copper("2 in"))
        site.add("outlets", f"RISER-{zone}{n}", junction=top)


def _boosters(site: Site, zone: str) -> None:
    """Lay a zone's tank and its two boosters, by the wall on the left."""
    y, way = WALLS[zone]
    inward = -way
    tank, suction, delivery = y + 8 * inward, y + 6 * inward, y + 2 * inward
    spots: dict[str, Spot] = {"T": (6, tank), "S": (6, suction), "D": (6, delivery)}
    site.joint(f"{zone}-TANK", spots["T"], LOW, name=f"break tank, zone {zone}")
    site.add("sources", f"TANK-{zone}", junction=f"{zone}-TANK", kind="raised tank", level=feet(96))
    site.joint(f"{zone}-S", spots["S"], LOW, fitting="tee")
    feed = site.pipe(f"{zone}-FEED", (f"{zone}-TANK", f"{zone}-S"), **_copper("3 in"))
    site.valve(f"V-{zone}-FEED", feed, feet(12), kind="gate", body=feet(7))
    site.joint(f"{zone}-D", spots["D"], LOW, fitting="tee")
    site.joint(f"{zone}-DE", (6, y + inward), LOW, fitting="elbow")
    site.joint(f"{zone}-UE", (6, y + inward), HEADER, fitting="elbow")
    for n, x in ((1, 4), (2, 8)):
        corners = [(x, suction), (x, delivery)]
        leg = site.pipe(f"{zone}-B{n}", (f"{zone}-S", f"{zone}-D"), via=corners, **_copper("2 in"))
        site.add(
            "pumps", f"BO-{zone}{n}", pipe=leg, station=feet(48), shutoff_head="70 ft of water"
        )
        site.valve(f"V-{zone}-B{n}", leg, feet(66), kind="ball", body=feet(4))
    site.pipe(f"{zone}-RUN", (f"{zone}-D", f"{zone}-DE"), **_copper("3 in"))
    site.pipe(f"{zone}-DROP", (f"{zone}-DE", f"{zone}-UE"), **_copper("3 in"))
    site.pipe(f"{zone}-TOP", (f"{zone}-UE", f"{zone}-IN"), **_copper("3 in"))


def _link(site: Site) -> None:
    """Lay the link with its valve and a drain cock on each side of it."""
    for zone, y in (("L", 16), ("H", 20)):
        tee = site.joint(f"DR-{zone}", (26, y), HEADER, fitting="tee")
        end = site.joint(f"DR-{zone}-END", (28.5, y), HEADER, name="drain cock, hose to gully")
        site.pipe(f"DR-{zone}-P", (tee, end), **_copper("3/4 in"))
        site.add("outlets", f"COCK-{zone}", junction=end, state="locked off")
    site.pipe("LINK-L", ("L-LINK", "DR-L"), **_copper("2 1/2 in"))
    middle = site.pipe("LINK-M", ("DR-L", "DR-H"), **_copper("2 1/2 in"))
    site.valve("V-LINK", middle, feet(24), kind="gate", body=feet(7), name="link valve")
    site.pipe("LINK-H", ("DR-H", "H-LINK"), **_copper("2 1/2 in"))
    site.shut("V-LINK")


def _box(own: str, name: str, low: Spot, high: Spot, heights: tuple[float, float]) -> Document:
    (x0, y0), (x1, y1) = low, high
    outline = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    bottom, top = (feet(h) for h in heights)
    return {"id": own, "name": name, "outline": outline, "bottom": bottom, "top": top}


def _building() -> Site:
    scale = feet(12)
    site = Site(
        name="Plant room, Wexcombe Hotel (invented)", kind="plan", scale=scale, snap_within=0.5
    )
    for zone in WALLS:
        _header(site, zone)
        _boosters(site, zone)
    _link(site)
    size = {"floor_area": "1728 ft2", "height": "14 ft", "volume": "24192 ft3"}
    air = {"air_changes": "10 per hour", "below_ground": True, "flood_depth": "10 in"}
    site.site = {
        "room": "plant",
        "rooms": [room("plant", "basement plant room, fans on, plinths", **{**size, **air})],
        "obstructions": [
            _box("column", "column", (26.5, 8.2), (28, 9.7), (0, 168)),
            _box("duct", "supply duct", (20, 26.5), (40, 28.5), (116, 150)),
            _box("tray", "cable tray", (20, 22), (24.9, 23), (100, 112)),
            _box("tank-L", "break tank, low zone", (4, 14), (8, 17), (0, 96)),
            _box("tank-H", "break tank, high zone", (4, 19), (8, 22), (0, 96)),
            _box("heater", "water heater", (34, 12), (40, 18), (0, 84)),
        ],
        "water_temperature": "58 degF",
        "air_temperature": "75 degF",
    }
    site.work = {
        "name": "change the link valve between the two zones",
        "open": [{"valve": "V-LINK"}],
        "duration": "2 h",
    }
    return site


def sketch() -> Document:
    """Give the marked-up sketch, with one plug marked as a point on the plan."""
    site = _building()
    point = [26.1, 9.0]
    site.add("plugs", "SOUTH", name="beside the column", point=point, jacket=feet(12))
    site.plug("NORTH", "LINK-H", feet(102), feet(12), name="under the duct")
    site.site["stock"] = cylinders(cylinders=6, storage_temperature="90 degF")
    return site.document(
        "Invented site, a plan to scale. A sketch with faults: one plug beside a column that "
        "leaves no room for a jacket, the other too near a header in use, no bleed in the link, "
        "hot cylinders."
    )


def mended() -> Document:
    """Give the corrected twin."""
    site = _building()
    site.plug("SOUTH", "LINK-L", feet(84), feet(12), name="clear of the column")
    site.plug("NORTH", "LINK-H", feet(60), feet(12), name="between tray and duct")
    site.change("COCK-L", "COCK-H", state="bleed")
    site.site["stock"] = cylinders(cylinders=12)
    return site.document(
        "Invented site, a plan to scale. The corrected twin: both jackets clear column, tray and "
        "duct, keep their distance from the headers in use, and the drain cocks are bleeds."
    )


DEMO = Demo(
    name="plant-room",
    sketch=sketch,
    mended=mended,
    breaks=frozenset(
        {
            "jacket-clearance",
            "flowing-line-setback",
            "trapped-water",
            "cylinder-temperature",
        }
    ),
)
