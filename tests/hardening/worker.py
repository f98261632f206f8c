"""Read many spoilt files of one kind in a process of its own, and tell what came of each.

Run as a script: `python -m tests.hardening.worker KIND FIRST COUNT`. It prints one line of JSON
before each file and one after it, so that the one that ends the process is known.
"""

from __future__ import annotations

import json
import random
import sys
import time
import traceback
from collections.abc import Callable

from tests.hardening.mutations import Step, spoil
from tests.hardening.readers import READERS, read_or_refuse
from tests.hardening.seeds import SEEDS


def steps_of(number: int) -> tuple[int, list[Step]]:
    """The seed's index and the steps of the file with a number: the same each time."""
    chance = random.Random(number)
    steps = [
        (chance.randrange(256), chance.randrange(2**20), chance.randrange(2**16))
        for _ in range(chance.randint(1, 5))
    ]
    return chance.randrange(2**16), steps


def spoilt(kind: str, number: int) -> bytes:
    """The spoilt file of a kind with a number."""
    seeds = SEEDS[kind]()
    index, steps = steps_of(number)
    return spoil(seeds[index % len(seeds)], steps)


def in_this_process(kind: str) -> None:
    """Let models be read here: the process is ours to lose, and a child for each takes too long."""
    if kind == "ifc":
        import layoutcheck.importers.ifc.read as ifc  # noqa: PLC0415 - slow to load

        ifc.read_ifc_apart = ifc.read_ifc


def main(kind: str, first: int, count: int) -> None:
    in_this_process(kind)
    told: Callable[[object], None] = lambda what: print(json.dumps(what), flush=True)  # noqa: E731
    assert kind in READERS
    for number in range(first, first + count):
        data = spoilt(kind, number)
        told({"begins": number})
        start = time.process_time()
        try:
            outcome, why = read_or_refuse(kind, data), ""
        except Exception:
            outcome, why = "crashed", traceback.format_exc()[-2000:]
        told(
            {"number": number, "outcome": outcome, "took": time.process_time() - start, "why": why}
        )


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
