"""Killed at any moment, the record keeps what it has acknowledged, and its chain stays whole.

SIGKILL can not be caught, so the writer ends wherever it stands: waiting for its turn, writing,
committing. In the nightly run PostgreSQL's server is killed as well, with the writer still at it.
"""

from __future__ import annotations

import random
import shutil
import time
from pathlib import Path

import pytest
import sqlalchemy as sa

from layoutcheck.record import Ledger
from tests.record.cluster import Cluster
from tests.record.conftest import fresh_schema, raw_engine
from tests.record.writer import Told, Writer

# Large enough that an entry takes several pages of the database, so that a kill finds it half done.
SIZE = 40_000
# How long a writer may live past its first entries (s). One takes some hundredths of a second.
SHORTEST, LONGEST = 0.0, 0.2
SEED = 20261125


def live_and_die(where: str, name: str, *, first: int, life: float) -> Told:
    """Let a writer record so many entries and then for so long (s); kill it; give what it told."""
    writer = Writer(where, name, times=None, size=SIZE)
    writer.hear(first)
    time.sleep(life)
    return writer.kill()


def kept_as_told(where: str, told: Told) -> int:
    """Check that every acknowledged entry is there and the chain is whole; count the entries."""
    found = Ledger(where).verify()
    assert found.whole, found.faults
    kept = {k.entry.sequence: k.hash for k in Ledger(where).walk()}
    assert sorted(kept) == list(range(1, len(kept) + 1))
    lost = [n for n, hash_ in told if kept.get(n) != hash_]
    assert not lost
    return len(kept)


def kill_writers(where: str, times: int) -> tuple[int, int]:
    """Kill so many writers one after another; gives entries acknowledged and kept."""
    chance = random.Random(SEED)
    Ledger(where).prepare()
    told: Told = []
    kept = 0
    for number in range(times):
        life = chance.uniform(SHORTEST, LONGEST)
        told += live_and_die(where, f"W{number}", first=chance.randrange(3), life=life)
        kept = kept_as_told(where, told)
        # A writer dies at most once between keeping an entry and telling of it.
        assert len(told) <= kept <= len(told) + number + 1
    return len(told), kept


def test_what_is_acknowledged_outlives_a_killed_writer(where: str) -> None:
    told, kept = kill_writers(where, 10)
    print(f"10 kills: {told} acknowledged, {kept} kept")


def test_a_killed_writer_holds_nobody_up(where: str) -> None:
    """One dies while another waits for its turn: the other goes on."""
    Ledger(where).prepare()
    other = Writer(where, "Other", times=6, size=SIZE)
    told: Told = []
    for number in range(2):
        told += live_and_die(where, f"W{number}", first=1, life=0.05)
    mine = other.wait()
    assert len(mine) == 6
    kept_as_told(where, told + mine)


@pytest.mark.nightly
@pytest.mark.slow
def test_a_hundred_killed_writers(where: str) -> None:
    told, kept = kill_writers(where, 100)
    print(f"100 kills of the writer: {told} acknowledged, {kept} kept")


@pytest.mark.nightly
@pytest.mark.slow
def test_a_hundred_kills_with_other_writers_at_it(where: str) -> None:
    """Two writers at once; one is killed at random, and another takes its place."""
    chance = random.Random(SEED + 1)
    Ledger(where).prepare()
    told: Told = []
    running = [Writer(where, f"P{n}", times=None, size=SIZE) for n in range(2)]
    for number in range(100):
        time.sleep(chance.uniform(0.3, 0.8))
        told += running.pop(chance.randrange(2)).kill()
        running.append(Writer(where, f"Q{number}", times=None, size=SIZE))
    for writer in running:
        told += writer.kill()
    kept = kept_as_told(where, told)
    print(f"100 kills among two writers: {len(told)} acknowledged, {kept} kept")
    assert len(told) <= kept <= len(told) + 102


@pytest.mark.nightly
@pytest.mark.slow
def test_a_hundred_kills_of_the_server(make_cluster: Cluster) -> None:
    """PostgreSQL dies with all its processes, as when the power fails but for the disk's cache."""
    print(f"\n{kill_servers(make_cluster, 100)}")


def test_what_is_acknowledged_outlives_a_killed_server(make_cluster: Cluster) -> None:
    kill_servers(make_cluster, 1)


def kill_servers(cluster: Cluster, times: int) -> str:
    chance = random.Random(SEED + 2)
    told: Told = []
    kept = 0
    with fresh_schema(cluster.url) as where:
        Ledger(where).prepare()
        for number in range(times):
            writer = Writer(where, f"S{number}", times=None, size=SIZE)
            writer.hear(chance.randrange(3))
            time.sleep(chance.uniform(SHORTEST, LONGEST))
            cluster.kill()
            try:
                told += writer.wait_for_failure()
            finally:  # other tests need it as well
                cluster.start()
            kept = kept_as_told(where, told)
    return f"{times} kills of the server: {len(told)} acknowledged, {kept} kept"


def test_sqlite_keeps_what_stands_in_its_log_only(tmp_path: Path) -> None:
    """As a machine leaves it that dies before the log is worked in: what is told stands there."""
    there, copied = tmp_path / "record.sqlite", tmp_path / "copy.sqlite"
    Ledger(str(there)).prepare()
    with raw_engine(str(there)).connect() as reader:
        # While somebody reads, the log is not worked in.
        assert reader.execute(sa.text("SELECT count(*) FROM layoutcheck_entries")).scalar() == 0
        told = Writer(str(there), "W", times=3, size=SIZE).wait()
        shutil.copy(there, copied)
        assert Ledger(str(copied)).count() == 0
        copied.unlink()
        shutil.copy(there, copied)
        shutil.copy(f"{there}-wal", f"{copied}-wal")
    assert len(told) == 3
    assert kept_as_told(str(copied), told) == 3
