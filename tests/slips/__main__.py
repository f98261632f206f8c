"""Hunt for slips of the keyboard that end in 'compliant', and count them.

    python -m tests.slips                    everything; half an hour on two cores
    python -m tests.slips --most 200         so many slips of each start, chosen by chance; of the
                                             small site's faults all slips, always
    python -m tests.slips --only riser       starts whose name holds this
    python -m tests.slips --show 20          print so many of those that are left

Exits with 1 where any is left.
"""

from __future__ import annotations

import argparse
import pickle
import random
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.sites.every import DEMOS
from tests.slips.hunt import Fate, Tried, try_all
from tests.slips.keyboard import slips_of
from tests.slips.starts import Start, starts_of_cases, starts_of_demo, starts_of_small

CASES, SMALL = "cases", "small"
DEMO_NAMES = tuple(demo.name for demo in DEMOS)


def main() -> int:
    """Run the hunt and print its tables."""
    asked = _arguments()
    tried: list[Tried] = []
    with ProcessPoolExecutor(asked.jobs) as pool:
        homes = [(name, asked.faults, asked.seed) for name in (SMALL, CASES, *DEMO_NAMES)]
        found = [s for some in pool.map(_starts, homes) for s in some if asked.only in s.name]
        random.Random(asked.seed).shuffle(found)
        print(f"{len(found)} starts", flush=True)
        jobs = [(s, None if s.name.startswith(SMALL) else asked.most, asked.seed) for s in found]
        for number, some in enumerate(pool.map(_hunt, jobs)):
            tried += some
            if number % 25 == 0:
                print(f"{number + 1} of {len(found)} starts, {len(tried)} slips", flush=True)
                _keep(asked.dump, tried)
    _table("class", Counter((t.slip.kind, t.fate) for t in tried))
    _table("field", Counter((t.slip.field, t.fate) for t in tried))
    left = [t for t in tried if t.fate in {Fate.LEFT, Fate.CRASHED}]
    _table("mark", Counter((m, Fate.LEFT) for t in left for m in t.marks))
    shown = left + [t for t in tried if t.fate is Fate.ANOTHER_SITE] if asked.others else left
    _keep(asked.dump, tried)
    for t in random.Random(asked.seed).sample(shown, min(asked.show, len(shown))):
        print(
            t.fate, t.start, t.slip.kind, t.slip.path, t.slip.how, t.slip.value, *t.marks, sep=" | "
        )
    return 1 if left else 0


def _keep(where: Path | None, tried: list[Tried]) -> None:
    if where is not None:
        where.write_bytes(pickle.dumps(tried))


def _starts(job: tuple[str, int, int]) -> list[Start]:
    name, faults, seed = job
    if name == CASES:
        return starts_of_cases()
    return (
        starts_of_small(each=1) if name == SMALL else starts_of_demo(name, faults=faults, seed=seed)
    )


def _hunt(job: tuple[Start, int | None, int]) -> list[Tried]:
    start, most, seed = job
    slips = list(slips_of(start.document))
    random.Random(f"{seed} {start.name}").shuffle(slips)
    return [t for t in try_all(start, slips[:most]) if t.fate is not Fate.NO_CHANGE]


def _table(head: str, counts: Counter[tuple[str, Fate]]) -> None:
    fates = [f for f in Fate if f is not Fate.NO_CHANGE]
    print(f"\n{head:<32} {'tried':>8} " + " ".join(f"{f.value:>13}" for f in fates))
    names = sorted({name for name, _ in counts})
    for name in [*names, "all"]:
        row = [
            sum(n for (k, f), n in counts.items() if f is fate and name in {k, "all"})
            for fate in fates
        ]
        print(f"{name:<32} {sum(row):>8} " + " ".join(f"{n:>13}" for n in row))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.slips")
    parser.add_argument("--most", type=int, default=160)
    parser.add_argument("--faults", type=int, default=12)
    parser.add_argument("--only", default="")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--show", type=int, default=30)
    parser.add_argument("--others", action="store_true", help="show other sites, too")
    parser.add_argument("--dump", type=Path, help="keep what became of each slip (pickle)")
    return parser.parse_args()


if __name__ == "__main__":
    raise SystemExit(main())
