"""The sites that are found, the table, the summary and the picture."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.survey.items import WorkKind
from layoutcheck.survey.plot import summary_png
from layoutcheck.survey.row import Answer, CountRow, PlanRow, PlugRow, Row, failed
from layoutcheck.survey.sites import NoSites, Unreadable, find_sites
from layoutcheck.survey.summary import Counting, Summary, summary_text
from layoutcheck.survey.table import COLUMNS, write_table
from tests.survey.made_buildings import town

PLUG = PlugRow(
    id="F1", pipe="P", station_m=1.5, jacket_m=0.3, size="NPS 2", coolant="carbon dioxide"
)


def plan(plugs: int, kg: float | None) -> PlanRow:
    return PlanRow(
        points=10.0,
        plugs=(PLUG,) * plugs,
        plugs_by_size=(CountRow(what="NPS 2", number=plugs),),
        valves_to_close=("V1",),
        valves_to_prove=(),
        outlets=(),
        machines_to_lock=(),
        carbon_dioxide_kg=kg,
        nitrogen_kg=None if kg is None else 0.0,
        until_open_s=3600.0,
        outlets_out_of_service=("TAP",),
        drained_m3=0.25,
        missing=(),
    )


def made_rows() -> list[tuple[str, Row]]:
    """Five works on three sites: one by freezing, one by valves, and one of each other answer."""
    size = {"kind": WorkKind.VALVE, "size": "NPS 2", "inches": 2.0}
    against = (CountRow(what="isolation", number=7), CountRow(what="room-air", number=1))
    return [
        ("a", Row(id="1", answer=Answer.COMPLIANT, found="optimal", plan=plan(2, 40.0), **size)),
        ("a", Row(id="2", answer=Answer.COMPLIANT, found="best found", plan=plan(0, 0.0), **size)),
        ("a", Row(id="3", answer=Answer.UNDECIDED, hindrances=against, **size)),
        ("b", Row(id="1", answer=Answer.NONE, found="no plan", **size | {"inches": 4.0})),
        ("c", failed("can not be read")),
    ]


def made_summary() -> Summary:
    counting = Counting(["a", "b", "c", "d"], ["notes.json"])
    assert list(counting.through(made_rows())) == made_rows()
    return counting.summary()


def test_the_table_has_every_field_of_a_row_and_gives_it_back(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    assert write_table(path, made_rows(), {"steps": 5}) == 5
    table = pq.read_table(path)
    fields = {"site", *Row.model_fields, *PlanRow.model_fields} - {"plan"}
    assert [name for name, _ in COLUMNS] == table.column_names
    assert set(table.column_names) == fields
    for (site, row), got in zip(made_rows(), table.to_pylist(), strict=True):
        assert got["site"] == site
        told = row.model_dump(mode="json")
        expected = dict.fromkeys(PlanRow.model_fields) | (told.pop("plan") or {}) | told
        assert {k: got[k] for k in expected} == expected
    about = json.loads(table.schema.metadata[b"layoutcheck"])
    assert about == {"format": "layoutcheck survey 1", "steps": 5}


def test_a_table_that_fails_half_way_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    write_table(path, made_rows(), {})
    before = path.read_bytes()

    def rows() -> Iterator[tuple[str, Row]]:
        yield made_rows()[0]
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_table(path, rows(), {})
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["t.parquet"]


def test_the_summary_counts_by_hand() -> None:
    summary = made_summary()
    whole = summary.whole
    assert (whole.works, whole.compliant, whole.freezing) == (5, 2, 1)
    assert (whole.undecided, whole.none, whole.failed) == (1, 1, 1)
    assert [(s.group, s.works, s.compliant) for s in summary.by_site] == [
        ("a", 3, 2),
        ("b", 1, 0),
        ("c", 1, 0),
        ("d", 0, 0),
    ]
    assert [(s.group, s.works) for s in summary.by_size] == [("NPS 2", 3), ("NPS 2", 1)]
    assert summary.why_not == {"isolation": 1, "no closure or plug cuts it off": 1, "room-air": 1}
    assert summary.best_found == 1
    assert (summary.totals.plugs, summary.totals.carbon_dioxide_kg) == (2, 40.0)
    assert summary.totals.drained_m3 == 0.5
    assert (summary.without_works, summary.passed_over) == (("d",), ("notes.json",))
    assert [t.what for t in summary.troubles] == ["the whole site"]
    assert Summary.model_validate_json(summary.to_json()) == summary


def test_the_text_carries_the_numbers_and_the_cautions() -> None:
    text = summary_text(made_summary())
    flat = " ".join(text.split())
    assert flat.startswith("SURVEY: 5 works on 4 sites, 2 of them with a plan that passes on paper")
    assert "1 by freezing, 1 by valves alone" in flat
    assert "c: the whole site: can not be read" in flat
    for caution in (*CAUTIONS, DEFERENCE):
        assert caution in flat
    assert max(map(len, text.splitlines())) <= 92


def test_the_picture_is_the_same_for_the_same_summary_and_stands_empty_ones() -> None:
    picture = summary_png(made_summary())
    assert picture.startswith(b"\x89PNG")
    assert summary_png(made_summary()) == picture
    assert summary_png(Counting(["a"]).summary()).startswith(b"\x89PNG")


def test_a_folder_gives_its_layouts_in_order_and_names_what_it_passes_over(tmp_path: Path) -> None:
    town(tmp_path / "town", buildings=4)
    sites = find_sites(tmp_path / "town")
    assert [s.name for s in sites.found] == [
        "building-001.yaml",
        "building-002.json",
        "cut-short.json",
        "east/building-000.json",
        "east/building-003.json",
    ]
    assert sites.passed_over == ("notes.json",)
    assert sites.found[0].read().suffix == ".yaml"


def test_what_can_not_be_read_is_a_site_and_is_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = town(tmp_path / "town", buildings=1)
    (folder / "gone.json").symlink_to(folder / "nowhere.json")
    walk = os.walk

    def closed(top: Path, onerror: Callable[[OSError], None]) -> Iterator[object]:
        onerror(PermissionError(13, "Permission denied", str(folder / "vault")))
        yield from walk(top)

    monkeypatch.setattr("os.walk", closed)
    sites = {s.name: s for s in find_sites(folder).found}
    assert {"gone.json", "vault"} <= set(sites)
    for name in ("gone.json", "vault"):
        with pytest.raises(Unreadable):
            sites[name].read()


def test_the_summary_of_an_earlier_survey_is_no_site(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=1)
    told = failed("/format: must be one of 'layoutcheck layout 1'")
    counting = Counting(["x"])
    assert list(counting.through([("x", told)]))
    (folder / "result.summary.json").write_text(counting.summary().to_json())
    assert "result.summary.json" in find_sites(folder).passed_over
    (folder / "plain.yaml").write_text("format: layoutcheck layout 1\n")
    (folder / "spaced.yml").write_text("name: x\n'format' : 'layoutcheck layout 7'\n")
    assert {"plain.yaml", "spaced.yml"} <= {s.name for s in find_sites(folder).found}


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("cut.json", '{"name": "a site", "jun'),
        ("no-format.json", '{"name": "a site", "junctions": [], "pipes": []}'),
        ("no-format.yaml", "name: a site\npipes: []\n"),
        ("broken.yaml", "name: [a site\n"),
        ("bytes.json", "\udcff\udcfe"),
    ],
)
def test_a_broken_file_or_one_without_its_format_is_a_site_and_is_seen(
    tmp_path: Path, name: str, text: str
) -> None:
    (tmp_path / name).write_bytes(text.encode(errors="surrogateescape"))
    assert [s.name for s in find_sites(tmp_path).found] == [name]


def test_what_is_passed_over_is_named(tmp_path: Path) -> None:
    summary = made_summary()
    assert summary.passed_over == ("notes.json",)
    assert "notes.json" in summary_text(summary)


def test_a_mark_across_two_blocks_is_seen(tmp_path: Path) -> None:
    for start in range((1 << 20) - 20, (1 << 20) + 3):
        text = b" " * start + b'{"format": "layoutcheck layout 1"}'
        (tmp_path / "big.json").write_bytes(text)
        assert [s.name for s in find_sites(tmp_path).found] == ["big.json"]


def test_a_list_gives_its_paths_from_its_own_folder(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=1)
    other = folder / "east" / "building-000.json"
    (tmp_path / "list.txt").write_text(f"# ours\n\n{other}\ntown/cut-short.json\n{other}\n")
    sites = find_sites(tmp_path / "list.txt")
    assert [s.name for s in sites.found] == [str(other), "town/cut-short.json"]
    assert [s.path.exists() for s in sites.found] == [True, True]


@pytest.mark.parametrize("name", ["nowhere", "empty", "blob"])
def test_nothing_to_ask_is_said(tmp_path: Path, name: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "blob").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(NoSites):
        find_sites(tmp_path / name)
