"""The parts list for people."""

from __future__ import annotations

from collections import Counter

from layoutcheck.parts.closure import Installation
from layoutcheck.report.wrap import wrapped

NOT_STATED = "not stated"


def parts_text(whole: Installation) -> str:
    """Write an installation's parts as a table of name, version and licence."""
    rows = [(p.name, p.version, p.licence or NOT_STATED) for p in whole.parts]
    inside = [(p.name, i) for p in whole.parts for i in p.inside]
    names, versions = (max(len(row[i]) for row in rows) for i in (0, 1))
    extras = f"with {', '.join(whole.extras)}" if whole.extras else "without extras"
    lines = [f"{len(rows)} packages, {extras}, hold {len(inside)} parts inside themselves.", ""]
    lines += [f"{name:<{names}}  {version:<{versions}}  {what}" for name, version, what in rows]
    if inside:
        counted = Counter(item.licence or NOT_STATED for _, item in inside)
        told = "; ".join(f"{what}: {count}" for what, count in sorted(counted.items()))
        lines += ["", "INSIDE THEM, as far as their makers say; --format json lists each"]
        lines += wrapped(f"{told}.", indent="  ")
    if whole.missing:
        lines += ["", f"MISSING: {', '.join(whole.missing)}. This installation is not whole."]
    return "\n".join(lines) + "\n"
