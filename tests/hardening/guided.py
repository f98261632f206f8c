"""Coverage-guided fuzzing of one reader, by atheris (libFuzzer for Python).

Run as a script: `python -m tests.hardening.guided KIND FOLDER SECONDS`. The folder keeps what it
learned. It ends with 0 where nothing was found, and else prints the input's place in the folder.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(
    include=["layoutcheck", "csv", "ezdxf", "json", "tomllib", "wntr", "yaml", "zipfile"]
):
    from tests.hardening.mutations import spoil
    from tests.hardening.readers import READERS, read_or_refuse
    from tests.hardening.seeds import SEEDS
    from tests.hardening.worker import in_this_process

_LONGEST = 100_000  # bytes of one input
_MEMORY = 3072  # megabytes in use
_PATIENCE = 30  # seconds for one input, on a busy machine


def _mutated(data: bytes, most: int, seed: int) -> bytes:
    """Spoil as our own fuzzing does, or as libFuzzer does, in turn."""
    chance = random.Random(seed)
    if chance.random() < 0.5:
        return atheris.Mutate(data, most)
    steps = [
        (chance.randrange(256), chance.randrange(2**20), chance.randrange(2**16))
        for _ in range(chance.randint(1, 3))
    ]
    return spoil(data, steps)[:most]


def main(kind: str, folder: str, seconds: int) -> None:
    in_this_process(kind)
    assert kind in READERS
    corpus = Path(folder) / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(SEEDS[kind]()):
        (corpus / f"seed{number}").write_bytes(seed)
    options = [
        *(f"-max_total_time={seconds}", f"-rss_limit_mb={_MEMORY}", f"-timeout={_PATIENCE}"),
        *(f"-max_len={_LONGEST}", f"-artifact_prefix={folder}/found-", "-print_final_stats=1"),
    ]
    atheris.Setup(
        [sys.argv[0], *options, str(corpus)],
        lambda data: read_or_refuse(kind, data),
        custom_mutator=_mutated,
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
