"""The door to a survey: from a folder or list to the table, the summary and the picture."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from layoutcheck import __version__
from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.rules.pack import Pack
from layoutcheck.survey.cluster import pool_at
from layoutcheck.survey.items import Choice, Settings
from layoutcheck.survey.journal import Journal
from layoutcheck.survey.plot import summary_png
from layoutcheck.survey.run import Pool, Standing, Survey, Watch
from layoutcheck.survey.sites import Sites
from layoutcheck.survey.summary import Counting, Summary
from layoutcheck.survey.table import whole_file, write_table


@dataclass(frozen=True)
class Results:
    """Where a survey writes. All beside the table, under its name."""

    table: Path

    def beside(self, suffix: str) -> Path:
        """Give the path beside the table with another suffix."""
        stem = self.table.name.removesuffix(".parquet")
        return self.table.with_name(stem + suffix)

    @property
    def journal(self) -> Path:
        """Give the journal of finished items."""
        return self.beside(".journal")

    @property
    def summary(self) -> Path:
        """Give the summary as JSON."""
        return self.beside(".summary.json")

    @property
    def picture(self) -> Path:
        """Give the summary as a picture."""
        return self.beside(".png")


@dataclass(frozen=True)
class Job:
    """What a survey is to do: which works of which sites, how, by which pack, and where to."""

    sites: Sites
    choices: frozenset[str]
    settings: Settings
    pack: Pack
    results: Results


def run_survey(
    job: Job,
    *,
    scheduler: str | None = None,
    workers: int | None = None,
    watch: Watch = lambda _: None,
) -> tuple[Summary, Standing]:
    """Run a survey on a dask cluster, or go on with one that was cut short.

    scheduler: address of a cluster; None for processes of this machine. workers: how many of
    these; one for each core if None. Raises ClusterLost, Busy, OSError. Whatever stops it, what
    was finished stays in the journal.
    """
    with Journal(job.results.journal) as journal, pool_at(scheduler, workers) as pool:
        return survey_with(job, journal, pool, watch)


def survey_with(
    job: Job, journal: Journal, pool: Pool, watch: Watch = lambda _: None
) -> tuple[Summary, Standing]:
    """Run a survey on any pool, and write the table, the summary and the picture."""
    survey = Survey(job.sites.found, job.choices, job.settings, journal, watch)
    survey.run(pool)
    counting = Counting([s.name for s in job.sites.found], job.sites.passed_over)
    write_table(job.results.table, counting.through(survey.rows()), about(job))
    summary = counting.summary()
    _write(job.results.summary, summary.to_json().encode())
    _write(job.results.picture, summary_png(summary))
    return summary, survey.standing


def about(job: Job) -> dict[str, object]:
    """Say how a table was made, with the cautions that every result carries."""
    settings = job.settings
    return {
        "version": __version__,
        "pack": job.pack.name,
        "pack_digest": job.pack.digest,
        "loosened": [f"{x.rule} {x.figure}: {x.set_to}" for x in job.pack.loosened],
        "works": sorted(job.choices),
        "steps": settings.steps,
        "time_limit_s": settings.time_limit,
        "duration": settings.duration,
        "if_a_plug_goes": settings.if_a_plug_goes,
        "stated_over_each": settings.over or "",
        "cautions": list(CAUTIONS),
        "deference": DEFERENCE,
    }


def _write(path: Path, data: bytes) -> None:
    with whole_file(path) as made:
        made.write_bytes(data)


def choices_of(names: Iterable[str]) -> frozenset[str]:
    """Give the chosen works; every valve where none is named."""
    return frozenset(map(str, names)) or frozenset({Choice.EVERY_VALVE.value})
