"""A survey that is killed and goes on gives what an undisturbed one gives, and asks once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.rules.registry import default_pack
from layoutcheck.survey.door import Job, Results, survey_with
from layoutcheck.survey.items import Choice, Item, Settings
from layoutcheck.survey.journal import Journal
from layoutcheck.survey.sites import find_sites
from layoutcheck.survey.tasks import (
    Answered,
    AskItems,
    Listing,
    OtherVersion,
    Task,
    run_task,
)
from tests.sizes import some
from tests.survey.made_buildings import town
from tests.survey.pools import HerePool, Killed, quick_work

ALL = frozenset(Choice)


@pytest.fixture(autouse=True, scope="module")
def no_pictures() -> Iterator[None]:
    """The picture takes longer than all the rest; it has tests of its own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("layoutcheck.survey.door.summary_png", lambda _: b"")
        yield


def job_of(folder: Path, result: Path, choices: frozenset[str] = ALL) -> Job:
    return Job(find_sites(folder), choices, Settings(), default_pack(), Results(result))


def surveyed(job: Job, pool: HerePool) -> bytes:
    with Journal(job.results.journal) as journal:
        survey_with(job, journal, pool)
    return job.results.table.read_bytes()


@settings(max_examples=some(12))
@given(seed=st.integers(0, 10_000), kills=st.lists(st.integers(1, 12), max_size=6))
def test_kills_change_nothing_and_no_item_is_asked_twice(
    tmp_path_factory: pytest.TempPathFactory, seed: int, kills: list[int]
) -> None:
    folder = town(tmp_path_factory.mktemp("made") / "town", buildings=7)
    (folder / "twin.json").write_bytes((folder / "building-002.json").read_bytes())
    work = quick_work(seed)
    undisturbed = surveyed(job_of(folder, folder / "a.parquet"), HerePool(work=quick_work(0)))
    job, asked = job_of(folder, folder / "b.parquet"), Counter[tuple[str, Item]]()
    for turn, kill in enumerate(kills):
        pool = HerePool(seed + turn, dies_after=kill, work=work)
        try:
            surveyed(job, pool)
        except Killed:
            assert not job.results.table.exists() or turn
        asked += pool.asked
    pool = HerePool(seed, work=work)
    assert surveyed(job, pool) == undisturbed
    asked += pool.asked
    # Each item of each content once: the twin's items are asked for both.
    assert set(asked.values()) == {1}
    rows = pq.read_table(job.results.table).to_pylist()
    twins = [[r | {"site": ""} for r in rows if r["site"] == n] for n in TWINS]
    assert twins[0] == twins[1] != []


TWINS = ("building-002.json", "twin.json")


def test_the_order_of_answers_and_the_number_of_workers_change_nothing(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=5)
    tables = [
        surveyed(
            job_of(folder, tmp_path / f"{seed}.parquet"),
            HerePool(seed, work=quick_work(seed), width=1 + 3 * seed),
        )
        for seed in range(5)
    ]
    assert len(set(tables)) == 1


def test_a_finished_survey_asks_nothing_more_and_a_new_site_is_asked_alone(
    tmp_path: Path,
) -> None:
    folder = town(tmp_path / "town", buildings=3)
    job = job_of(folder, tmp_path / "a.parquet")
    first = surveyed(job, HerePool(work=quick_work(0)))
    again = HerePool(work=quick_work(1))
    assert surveyed(job, again) == first
    assert not again.asked
    (folder / "building-001.yaml").rename(folder / "moved.yaml")  # a path is not in the key
    town(tmp_path / "more", buildings=4)
    (tmp_path / "more" / "east" / "building-003.json").rename(folder / "new.json")
    later = HerePool(work=quick_work(2))
    surveyed(job_of(folder, tmp_path / "a.parquet"), later)
    assert len({digest for digest, _ in later.asked}) == 1


def test_other_settings_are_other_questions(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=2)
    job = job_of(folder, tmp_path / "a.parquet")
    surveyed(job, HerePool(work=quick_work(0)))
    changed = Job(job.sites, job.choices, Settings(steps=7), job.pack, job.results)
    pool = HerePool(work=quick_work(0))
    surveyed(changed, pool)
    assert pool.asked


def test_one_bad_site_is_a_row_and_stops_nothing(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=2)
    (folder / "gone.json").symlink_to(folder / "nowhere.json")
    (folder / "latin.json").write_bytes(b'{"format": "layoutcheck layout 1", "name": "\xe9"}')
    (tmp_path / "list.txt").write_text(
        "# sites\ntown/latin.json\ntown/gone.json\ntown/cut-short.json\ntown/building-001.yaml\n"
    )
    job = job_of(tmp_path / "list.txt", tmp_path / "a.parquet")
    surveyed(job, HerePool(work=quick_work(0)))
    rows = pq.read_table(job.results.table).to_pylist()
    failed = {r["site"]: r["reason"] for r in rows if r["answer"] == "failed"}
    assert "No such file" in failed["town/gone.json"]
    assert "not UTF-8" in failed["town/latin.json"]
    assert "not JSON" in failed["town/cut-short.json"]
    assert sum(r["site"] == "town/building-001.yaml" for r in rows) == 6


def test_an_item_that_takes_its_worker_along_is_given_up_alone_and_asked_anew_next_time(
    tmp_path: Path,
) -> None:
    folder = town(tmp_path / "town", buildings=2)
    job = job_of(folder, tmp_path / "a.parquet")
    deadly, quick = "V2", quick_work(0)

    def work(task: Task) -> Listing | tuple[Answered, ...]:
        if isinstance(task, AskItems) and any(i.id == deadly for i in task.items):
            raise RuntimeError("lost with its worker: KilledWorker")
        return quick(task)

    surveyed(job, HerePool(work=work))
    rows = pq.read_table(job.results.table).to_pylist()
    failed = [r for r in rows if r["answer"] == "failed" and r["kind"]]
    assert {r["id"] for r in failed} == {deadly}
    assert len(failed) == 2
    assert {r["reason"] for r in failed} == {"lost with its worker: KilledWorker"}
    later = HerePool(work=quick)
    surveyed(job, later)
    assert {item.id for _, item in later.asked} == {deadly}
    rows = pq.read_table(job.results.table).to_pylist()
    assert not [r for r in rows if r["answer"] == "failed" and r["kind"]]


def test_a_worker_of_another_version_stops_the_survey(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=1)
    task = AskItems(find_sites(folder).found[0].read(), (), Settings(), version="0.0.0")
    with pytest.raises(OtherVersion, match=r"the survey is 0\.0\.0"):
        run_task(task)


def test_one_valve_by_its_global_id_with_statements_over_a_site_typed_short(tmp_path: Path) -> None:
    """The site is invented. Its work is typed short, as one line."""
    folder = tmp_path / "sites"
    folder.mkdir()
    (folder / "riser.yaml").write_text(
        "name: Invented riser\n"
        "pipes: {riser: 'A to B, 2 in, 20 ft', top: 'B to C, 2 in, 20 ft'}\n"
        "junctions: {A: 0 ft, B: 20 ft, C: 40 ft}\n"
        "valves:\n"
        "  V1: riser at 4 ft, gate, open, proven\n"
        "  V2: {pipe: top, station: 4 ft, ref: 2O2Fr$t4X7Zf8NOew3FLOH}\n"
        "sources: {main: 'A, 60 psi'}\n"
        "outlets: {tap: 'C, bleed'}\n"
        "work: valve V1 for 1 h\n"
    )
    over = '[{"work": {"duration": "7 h"}, "valves": {"V2": {"state": "open"}}}]'
    job = Job(
        find_sites(folder),
        frozenset({"2O2Fr$t4X7Zf8NOew3FLOH"}),
        Settings(over=over),
        default_pack(),
        Results(tmp_path / "r.parquet"),
    )
    surveyed(job, HerePool())
    (row,) = pq.read_table(job.results.table).to_pylist()
    assert (row["id"], row["kind"]) == ("V2", "valve")
    assert row["answer"] != "failed"
    assert row["duration_s"] == 7 * 3600.0
