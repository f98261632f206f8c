"""A map for a drawing that came without one, from the layers, blocks and texts found in it.

What a layer or a block is called is all there is to go by, so each guess is written with what it
was made of and how many there are. Words: common practice, no published source.
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

from layoutcheck.document.models import ValveKind
from layoutcheck.importers.draft import plain
from layoutcheck.quantities.names import valve_word

LINES = frozenset({"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "SPLINE"})
TEXTS = frozenset({"TEXT", "MTEXT"})

# Beginnings and whole words of layers that hold no pipe, and of those that do.
_NO_PIPE = re.compile(
    r"border|title|frame|grid|axis|dim|hatch|wall|arch|door|column|struct|level|floor|slab|"
    r"defpoints|view|notes?$|text|anno|symb|legend|rahmen|achse|mass|wand|decke|schrift",
    re.IGNORECASE,
)
_PIPE = re.compile(
    r"pip(e|ing)|rohr|leitung|riser|steig|plumb|hydron|(^|[-_ ])(p|m)([-_ ]|$)|"
    r"(^|[-_ ])(d?cws?|d?hws?|hwr|cwr|chws?|chwr|hhw\w*|lphw|ltw|fw|fire|cond\w*|vl|rl|tw[kw]?)"
    r"([-_ ]|$)|heiz|supply|return|water",
    re.IGNORECASE,
)
# What a block is, by words in its name; the first that fits. Kinds of valves that are spelt out
# stand in the table of national names; here are short forms of them.
_BLOCKS: tuple[tuple[str, str], ...] = (
    (r"nrv", 'kind = "valve"\nvalve = "check"'),
    (r"strang|\bdrv\b", 'kind = "valve"\nvalve = "balancing"'),
    (r"\bbfv|butterf", 'kind = "valve"\nvalve = "butterfly"'),
    (r"\bgv", 'kind = "valve"\nvalve = "gate"'),
    (r"\bglv", 'kind = "valve"\nvalve = "globe"'),
    (r"\bbv", 'kind = "valve"\nvalve = "ball"'),
    (r"\bprv|reduc", 'kind = "valve"\nvalve = "pressure reducing"'),
    (r"control|motor|regel", 'kind = "valve"\nvalve = "control"'),
    (r"valve|vlv|ventil|absperr|\bv\d*$", 'kind = "valve"'),
    (r"pump", 'kind = "pump"'),
    (r"boiler|heater|radiator|kessel|heizk|calor|convector|\bhx", 'kind = "heater"'),
    (r"chiller|cooler|\bfcu|\bahu|kühl|kuehl", 'kind = "cooler"'),
    (r"tank|cylinder|speicher|vessel|behälter", 'kind = "tank"'),
    (r"main|meter|supply|einspeis|hausan", 'kind = "source"'),
    (r"tap|faucet|drain|outlet|fixture|basin|sink|hose|vent|entnahme|hahn", 'kind = "outlet"'),
    (r"cap|plugend|kappe", 'kind = "fitting"\nfitting = "cap"'),
    (r"blind", 'kind = "fitting"\nfitting = "blind"'),
    (r"flange|flansch", 'kind = "fitting"\nfitting = "flange"'),
    (r"union|verschraub", 'kind = "fitting"\nfitting = "union"'),
    (r"reduc", 'kind = "fitting"\nfitting = "reducer"'),
    (r"strain|filter|schmutz", 'kind = "fitting"\nfitting = "strainer"'),
)
# Ends of lines that lie within this share of the drawing's extent of each other are one.
_SNAP = 1e-3


@dataclass
class Found:
    """What a drawing holds, by layer and block."""

    lines: Counter[str] = field(default_factory=Counter)
    texts: Counter[str] = field(default_factory=Counter)
    words: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    blocks: Counter[str] = field(default_factory=Counter)
    heights: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=lambda: [float("inf")] * 2)
    high: list[float] = field(default_factory=lambda: [float("-inf")] * 2)


_MOST_WORDS = 4


def looked_through(drawing: Any) -> Found:  # noqa: ANN401 - ezdxf's drawing, an optional extra
    """Count what a drawing holds."""
    found = Found()
    for entity in drawing.modelspace():
        kind, layer = entity.dxftype(), str(entity.dxf.get("layer", "0"))
        if kind in LINES:
            found.lines[layer] += 1
            for name in ("start", "end"):
                if entity.dxf.hasattr(name):
                    _widen(found, entity.dxf.get(name))
            if kind == "LWPOLYLINE":
                for x, y, *_ in entity.get_points():
                    _widen(found, (x, y))
        elif kind in TEXTS:
            found.texts[layer] += 1
            found.heights.append(text_height(entity))
            if len(found.words[layer]) < _MOST_WORDS:
                found.words[layer].append(plain(entity.plain_text(), 20))
        elif kind == "INSERT":
            found.blocks[str(entity.dxf.get("name", ""))] += 1
    return found


def text_height(entity: Any) -> float:  # noqa: ANN401 - see above
    """Give how high a text is written, in drawing units."""
    name = "height" if entity.dxftype() == "TEXT" else "char_height"
    return abs(float(entity.dxf.get(name, 0.0)))


def _widen(found: Found, point: Any) -> None:  # noqa: ANN401 - see above
    for axis in (0, 1):
        value = float(point[axis])
        found.low[axis] = min(found.low[axis], value)
        found.high[axis] = max(found.high[axis], value)


def proposed_map(found: Found) -> str | None:
    """Write a map (TOML) for what was found; None where no layer holds a line."""
    if not found.lines:
        return None
    pipes = _pipe_layers(found)
    metric = any("DN" in w or "mm" in w for words in found.words.values() for w in words)
    extent = max((h - lo for lo, h in zip(found.low, found.high, strict=True)), default=0.0)
    lines = [
        "# Proposed from what the drawing holds. Read it, and correct what is wrong.",
        'kind = "riser"  # or "plan"; for a drawing to scale add: scale = "1 m"',
        f'units = "{"metric" if metric else "imperial"}"',
        f"snap = {max(extent, 0.0) * _SNAP:.4g}  # how near ends of lines are joined",
    ]
    for layer, number in sorted(found.lines.items()):
        if layer in pipes:
            lines += ["", f"[layers.{_key(layer)}]  # {number} lines", 'kind = "pipe"']
            lines += ['# material = "carbon steel"', '# size = "NPS 2"']
        else:
            lines += ["", f"# {number} lines on layer {plain(layer, 60)}: taken as no pipe"]
    for layer, number in sorted(found.texts.items()):
        if layer not in pipes:
            told = ", ".join(found.words[layer])
            lines += ["", f"[layers.{_key(layer)}]  # {number} texts: {told}", 'kind = "text"']
    for block, number in sorted(found.blocks.items()):
        means = _block(block)
        head = f"[blocks.{_key(block)}]"
        if means is None:
            lines += ["", f"# {number} x block {plain(block, 60)}: what is it?"]
            lines += [f"# {head}", '# kind = "valve"']
        else:
            lines += ["", f"{head}  # {number} placed", means]
    return "\n".join(lines) + "\n"


def _pipe_layers(found: Found) -> set[str]:
    """Choose the layers that hold pipe: by name, else the one with most lines of the rest."""
    named = {n for n in found.lines if _PIPE.search(n) and not _NO_PIPE.search(n)}
    if named:
        return named
    rest = {n: k for n, k in found.lines.items() if not _NO_PIPE.search(n)} or found.lines
    return {max(sorted(rest), key=lambda n: rest[n])}


def _block(name: str) -> str | None:
    spaced = name.replace("_", " ").replace("-", " ")
    kind = valve_word(spaced)
    if kind is not None and kind != ValveKind.COCK:  # a cock on a drawing is most often a tap
        return f'kind = "valve"\nvalve = "{kind}"'
    return next((m for word, m in _BLOCKS if re.search(word, spaced, re.IGNORECASE)), None)


def _key(name: str) -> str:
    """Write a name as a key of TOML; a JSON string is a basic string of TOML."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name)
