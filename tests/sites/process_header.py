"""process-header: an invented dye works with a cooling-water header that steps down in size.

The header runs 6, 4, 3 and 2 in through reducers past twenty-four users, fed from the pump house,
with a cross-tie from the next works at its far end. The cross-tie valve lets water by. The section
valve behind the reducer to 3 in is to be changed while the users before it keep running.
"""

from __future__ import annotations

from tests.sites.builder import Demo, Document, Site, Spot, cylinders, feet, room, run

USERS = range(1, 25)
STEP = 180
HIGH, LOW = feet(168), feet(48)
# From this user on the header's next length is of this size.
SIZES = {0: "NPS 6", 6: "NPS 4", 12: "NPS 3", 18: "NPS 2"}
RUNNING = range(1, 12)
# The header is drawn in rows of eight users that turn back on themselves.
ROW, ACROSS, DOWN = 8, 46, 150


def _steel(size: str, inches: float) -> Document:
    return run(size, feet(inches), "stainless steel", "sch 10S")


def _size_after(user: int) -> str:
    return SIZES[max(k for k in SIZES if k <= user)]


def _spot(user: int) -> Spot:
    """Give where a user's tee is drawn."""
    row, along = divmod(user - 1, ROW)
    step = along if row % 2 == 0 else ROW - 1 - along
    return (ACROSS * (step + 1), -DOWN * row)


def _turn(user: int) -> list[Spot]:
    """Give the corners of the header before a user, where it turns into the next row."""
    if user == 1 or (user - 1) % ROW:
        return []
    (_, above), (_, below) = _spot(user - 1), _spot(user)
    x = ACROSS * (ROW + 1) if (user - 1) // ROW % 2 else 0
    return [(x, above), (x, below)]


def _user(site: Site, user: int) -> None:
    """Lay one drop: a tee with a drain cock, a valve, and the machine it cools."""
    (x, y), way = _spot(user), 1 if user % 2 else -1
    site.joint(f"H{user}", (x, y), HIGH, fitting="tee")
    tee = site.joint(f"D{user}", (x, y + 20 * way), HIGH, fitting="tee")
    site.pipe(f"DT-{user}", (f"H{user}", tee), **_steel("NPS 1", 18))
    cock = site.joint(f"D{user}-END", (x + 14, y + 20 * way), feet(156))
    site.pipe(f"DC-{user}", (tee, cock), **_steel("NPS 1/2", 14))
    site.add("outlets", f"COCK-{user}", junction=cock, name="drain cock", state="locked off")
    end = site.joint(f"U{user}", (x, y + 56 * way), LOW, name=f"dye bath {user}")
    drop = site.pipe(f"DR-{user}", (tee, end), **_steel("NPS 1", 150))
    site.valve(f"V-U{user}", drop, feet(36), kind="ball", body=feet(4))
    site.add("outlets", f"BATH-{user}", junction=end, name=f"cooler of dye bath {user}")


def _header(site: Site) -> None:
    """Lay the header, with a reducer in the middle of each length where the size changes."""
    site.joint("H0", (0, 0), HIGH, name="pump house")
    for user in USERS:
        before, after = _size_after(max(user - 2, 0)), _size_after(user - 1)
        start, stop = f"H{user - 1}", f"H{user}"
        if user == 1 or before == after:
            site.pipe(f"HD-{user}", (start, stop), via=_turn(user), **_steel(after, STEP))
            continue
        (x1, y), (x2, _) = _spot(user - 1), _spot(user)
        site.joint(f"RD{user}", ((x1 + x2) / 2, y), HIGH, fitting="reducer")
        site.pipe(f"HD-{user}A", (start, f"RD{user}"), **_steel(before, STEP / 2))
        site.pipe(f"HD-{user}B", (f"RD{user}", stop), **_steel(after, STEP / 2))


def _ends(site: Site) -> None:
    site.valve("V-IN", "HD-1", feet(60), kind="butterfly", body=feet(2))
    # The pumps' check valve takes no water back, so the header is bled where it is easy to reach.
    bleed = {"freezing": "bleed", "working": "bleed"}
    # It sits on the header itself, in a saddle: the document says that this is meant.
    site.add("outlets", "BLEED-1", junction="H1", state=bleed, meant="place")
    site.add("sources", "PUMP-HOUSE", junction="H0", kind="pump", pressure="42 psi")
    site.joint("TIE", (ACROSS * (ROW + 1), -2 * DOWN), HIGH, name="cross-tie from the next works")
    tie = site.pipe("TIE-1", ("H24", "TIE"), **_steel("NPS 2", 240))
    site.valve("V-TIE", tie, feet(120), kind="gate", body=feet(6), state="passing")
    site.add("sources", "NEXT-WORKS", junction="TIE", kind="main", pressure="38 psi")
    site.valve("V-SEC", "HD-13B", feet(45), kind="butterfly", body=feet(2))
    site.shut("V-SEC")


def _building() -> Site:
    site = Site(name="Cooling header, Tansy Dye Works (invented)", kind="riser", snap_within=6)
    _header_users(site)
    _ends(site)
    size = {"floor_area": "7000 ft2", "height": "20 ft", "volume": "140000 ft3"}
    air = {"air_changes": "4 per hour", "flood_depth": "6 in"}
    site.site = {
        "room": "hall",
        "rooms": [room("hall", "dye hall, roof vents open", **{**size, **air})],
        "water_temperature": "61 degF",
        "air_temperature": "72 degF",
        "clear_space": "9 in",
    }
    site.shut(*(f"V-U{user}" for user in USERS if user not in RUNNING))
    site.work = {
        "name": "change the section valve behind the reducer to 3 in",
        "open": [{"valve": "V-SEC"}],
        "duration": "2 h",
    }
    return site


def _header_users(site: Site) -> None:
    for user in USERS:
        _user(site, user)
    _header(site)


def sketch() -> Document:
    """Give the marked-up sketch: setbacks taken by the smaller pipe, one plug forgotten."""
    site = _building()
    # 36 in would do for 3 in pipe; this one is on 4 in pipe.
    site.plug("UP", "HD-12", feet(44), feet(16), name="4 in header, behind dye bath 11")
    site.plug("DOWN", "HD-13B", feet(55), feet(12), name="3 in header, behind the valve")
    site.site["stock"] = cylinders(high_pressure=False, cylinders=30)
    return site.document(
        "Invented site. A sketch with faults: the plug on the 4 in pipe has the distance that a "
        "3 in pipe would ask for, the other touches the shut valve, shut sections have no bleed, "
        "and the cylinders are low-pressure ones."
    )


def mended() -> Document:
    """Give the corrected twin."""
    site = _building()
    site.plug("UP", "HD-12", feet(96), feet(16), name="4 in header, behind dye bath 11")
    site.plug("DOWN", "HD-14", feet(90), feet(12), name="3 in header, behind dye bath 13")
    site.change("COCK-12", "COCK-13", "COCK-20", state="bleed")
    site.site["stock"] = cylinders(cylinders=30)
    return site.document(
        "Invented site. The corrected twin: each plug keeps the distance of its own size, up "
        "through the reducer too, a drain cock in each shut section is a bleed, baths 1 to 11 run."
    )


DEMO = Demo(
    name="process-header",
    sketch=sketch,
    mended=mended,
    breaks=frozenset(
        {
            "flowing-line-setback",
            "closed-valve-setback",
            "straight-run",
            "trapped-water",
            "cylinder-temperature",
        }
    ),
)
