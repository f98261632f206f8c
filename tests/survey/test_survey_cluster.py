"""On a real cluster: SIGKILL at random moments, dead workers, Ctrl-C, a scheduler that is gone."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pyarrow.parquet as pq
import pytest
from distributed import LocalCluster, Status

from layoutcheck.cli import main
from layoutcheck.rules.registry import default_pack
from layoutcheck.survey import cluster as on_cluster
from layoutcheck.survey.cluster import ClusterLost, pool_at
from layoutcheck.survey.door import Job, Results, run_survey, survey_with
from layoutcheck.survey.items import Choice, Settings
from layoutcheck.survey.journal import Journal
from layoutcheck.survey.run import Standing
from layoutcheck.survey.sites import Content, find_sites
from layoutcheck.survey.tasks import ListItems, Task
from tests.survey.commands import Run
from tests.survey.made_buildings import town
from tests.survey.pools import Deadly, HerePool

FIXTURES = Path(__file__).parents[2] / "fixtures"
OPTIONS = ("--workers", "2", "--steps", "20", "--work", "every-valve", "--work", "stated")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return town(tmp_path_factory.mktemp("made") / "town", buildings=6)


def job_of(folder: Path, result: Path) -> Job:
    """The job that OPTIONS ask for."""
    choices = frozenset({Choice.EVERY_VALVE, Choice.STATED})
    settings = Settings(steps=20)
    return Job(find_sites(folder), choices, settings, default_pack(), Results(result))


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The table of a survey that nothing disturbed, made in this one process."""
    job = job_of(folder, tmp_path_factory.mktemp("quiet") / "quiet.parquet")
    with Journal(job.results.journal) as journal:
        survey_with(job, journal, HerePool())
    return job.results.table


@pytest.fixture(scope="module")
def other_cluster() -> Iterator[LocalCluster]:
    """A cluster that is there already, as on other machines. The last test here closes it."""
    cluster = LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
    )
    yield cluster
    if cluster.status is Status.running:  # to close it twice hangs before some release of 2026
        cluster.close()


def killed_at_random(
    folder: Path, result: Path, options: tuple[str, ...], *, kills: int, lines: int, seed: int
) -> list[int]:
    """Kill a survey so often while it works, then let it end; give the lines kept at each kill.

    lines: how many lines the journal has in the end, to strike all along the way.
    """
    draw = random.Random(seed)
    kept: list[int] = []
    while len(kept) < kills:
        run = Run(folder, result, *options)
        # A third of the kills strike anywhere from the first moment, the others once work began.
        if draw.random() > 1 / 3:
            run.wait_for(run.lines() + draw.randrange(1, max(2, lines // kills)))
        time.sleep(draw.uniform(0.0, 2.0) if kills > 1 else 0.0)
        if not run.is_running():
            run.end()
            run.journal.unlink(missing_ok=True)  # it was quicker: begin afresh, and strike again
            continue
        before = run.journal.read_bytes() if run.journal.exists() else b""
        run.kill()
        assert run.orphans() == []
        kept.append(run.lines())
        assert kept[-1] >= before.count(b"\n")
    # Struck before the journal was begun: there is nothing to lose.
    whole = run.journal.read_bytes() if run.journal.exists() else b""
    last = Run(folder, result, *options)
    code, printed = last.end()
    assert code in {0, 3}, printed
    # Nothing that was finished is lost or written anew: the journal went on from where it was.
    assert last.journal.read_bytes().startswith(whole[: whole.rfind(b"\n") + 1])
    return kept


def stopped_by_ctrl_c(folder: Path, result: Path) -> None:
    """Strike Ctrl-C once something is finished: it is kept, said, and no process is left."""
    for lines in (9, 5, 1, 1, 1):
        run = Run(folder, result, *OPTIONS)
        run.wait_for(lines)
        code, printed = run.interrupt()
        if code == 130:
            break
        # It was quicker: begin afresh, and strike earlier.
        assert code == 3
        run.journal.unlink(missing_ok=True)
        result.unlink(missing_ok=True)
    assert code == 130
    assert "What is finished is kept" in printed
    assert "Traceback" not in printed
    assert run.orphans() == []
    assert not result.exists()
    assert run.lines() >= lines


def test_stopped_and_killed_at_random_moments_it_ends_with_the_same_table(
    folder: Path, undisturbed: Path, tmp_path: Path
) -> None:
    seed = 0  # one that waits for work to have begun
    result = tmp_path / "killed.parquet"
    stopped_by_ctrl_c(folder, result)
    kept = killed_at_random(folder, result, OPTIONS, kills=1, lines=9, seed=seed)
    print(f"lines kept at the kills: {kept}")
    assert pq.read_table(result).equals(pq.read_table(undisturbed))
    assert result.read_bytes() == undisturbed.read_bytes()
    assert result.with_name("killed.summary.json").read_bytes() == (
        undisturbed.with_name("quiet.summary.json").read_bytes()
    )


@pytest.mark.nightly
def test_the_demo_sites_killed_ten_times_give_the_same_table(tmp_path: Path) -> None:
    options = ("--workers", "2", "--work", "every-valve", "--work", "every-pump", "--steps", "40")
    quiet = Run(FIXTURES, tmp_path / "quiet.parquet", *options)
    assert quiet.end()[0] == 3
    seed = random.SystemRandom().randrange(10**6)
    result = tmp_path / "killed.parquet"
    kept = killed_at_random(FIXTURES, result, options, kills=10, lines=quiet.lines(), seed=seed)
    print(f"seed {seed}; lines kept at the kills: {kept}")
    table = pq.read_table(result)
    print(f"{table.num_rows} rows, of {quiet.lines()} lines")
    assert table.equals(pq.read_table(quiet.result))
    assert result.read_bytes() == quiet.result.read_bytes()


def test_a_worker_of_another_cluster_killed_mid_task_loses_nothing(
    folder: Path, undisturbed: Path, tmp_path: Path, other_cluster: LocalCluster
) -> None:
    job, struck = job_of(folder, tmp_path / "address.parquet"), list[int]()

    def watch(standing: Standing) -> None:
        if standing.asked < 8 or struck:
            return
        pid = busy_worker(other_cluster)
        if pid:
            os.kill(pid, signal.SIGKILL)
            struck.append(pid)

    _, standing = run_survey(job, scheduler=other_cluster.scheduler_address, watch=watch)
    assert len(struck) == 1
    assert standing.done == standing.items
    assert job.results.table.read_bytes() == undisturbed.read_bytes()


def busy_worker(cluster: LocalCluster) -> int:
    """Find a worker that has a task now; 0 where none has."""
    assert cluster.scheduler is not None
    for worker in cluster.scheduler.workers.values():
        if worker.processing:
            return pid_of(cluster, worker.address)
    return 0


def pid_of(cluster: LocalCluster, address: str) -> int:
    for nanny in cluster.workers.values():
        if nanny.worker_address == address and nanny.pid:
            return int(nanny.pid)
    return 0


def test_a_task_that_kills_its_workers_comes_back_without_a_result(
    other_cluster: LocalCluster,
) -> None:
    assert other_cluster.scheduler is not None
    other_cluster.scheduler.allowed_failures = 0
    with pool_at(other_cluster.scheduler_address, None) as pool:
        pool.submit(cast("Task", Deadly()))
        lost = pool.next()
        assert lost.result is None
        assert "KilledWorker" in lost.trouble
        content = Content(b"{", ".json", "a digest")
        pool.submit(ListItems(content))
        assert pool.next().result == ListItems(content).run()


def test_no_scheduler_is_one_line(
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(on_cluster, "PATIENCE", 2.0)
    where = ("survey", str(folder), "-o", str(tmp_path / "a.parquet"))
    assert main([*where, "--scheduler", "tcp://127.0.0.1:9"]) == 2
    assert "no scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err
    assert main([*where, "--scheduler", "nonsense://x"]) == 2
    assert main([*where, "--duration", "4"]) == 2
    assert "needs its unit" in capsys.readouterr().err
    assert main(["survey", str(tmp_path / "nowhere"), "-o", str(tmp_path / "a.parquet")]) == 2
    assert main(["survey", str(folder), "-o", str(tmp_path / "no" / "a.parquet")]) == 2
    assert "can not be written" in capsys.readouterr().err


def test_a_cluster_that_dies_is_said_and_what_is_finished_is_kept(
    folder: Path, tmp_path: Path, other_cluster: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(on_cluster, "PATIENCE", 2.0)
    job, address = job_of(folder, tmp_path / "gone.parquet"), other_cluster.scheduler_address

    def watch(standing: Standing) -> None:
        if standing.asked > 5:
            other_cluster.close()

    with Journal(job.results.journal) as journal:
        with pool_at(address, None) as pool, pytest.raises(ClusterLost):
            survey_with(job, journal, pool, watch)
        assert len(journal) > 5
    assert not job.results.table.exists()
