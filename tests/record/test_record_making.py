"""What is recorded of a layout, and whether a fresh check gives the same report again."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml

import layoutcheck
from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.record import Kept, Ledger, Signer
from layoutcheck.record.exported import ExportedRecord, export_lines
from layoutcheck.record.making import (
    Again,
    Agreed,
    NotToBeSigned,
    draft_of,
    layout_as_json,
    read_signer,
    recheck,
)
from layoutcheck.report import check
from layoutcheck.report.model import Verdict
from layoutcheck.report.packs import read_pack_text
from tests.cli.small_layout import small_layout
from tests.record.writer import draft

ANN = Signer("Ann Invented", "supervisor", "as walked")
PACK = 'name = "invented rules"\n\n[figures.flowing-line-setback]\nper_inch = "14 in"\n'
DAY = date(2026, 11, 25)


def agreed(data: dict[str, Any], form: str = "json", **more: Any) -> Agreed:
    text = json.dumps(data) if form == "json" else yaml.safe_dump(data)
    given = {"pack": None, "on": None, "signer": ANN, **more}
    return Agreed(parse_layout(data), text.encode(), form, **given)


def test_a_draft_keeps_the_bytes_and_the_librarys_own_report() -> None:
    given = agreed(small_layout(), pack=PACK, on=DAY)
    made, report = draft_of(given)
    own = check(given.layout, pack=read_pack_text(PACK), on=DAY)
    assert report == own
    assert (made.layout, made.pack) == (given.layout_text, PACK.encode())
    assert made.report == own.to_json().encode()
    assert (made.verdict, made.site) == (own.verdict.value, "Invented branch")
    assert made.version == layoutcheck.__version__
    assert made.judged_on is None  # no waiver, so the day does not count


def test_the_built_in_figures_are_kept_as_a_pack() -> None:
    given = agreed(small_layout())
    made, report = draft_of(given)
    assert report == check(given.layout)
    assert report.pack.digest == "sha256:" + _kept(made).entry.pack


def test_the_day_is_kept_where_a_waiver_counts() -> None:
    waiver = {"rule": "flowing-line-setback", "subject": "K1", "reason": "invented reason"}
    waiver |= {"by": "invented foreman", "until": "2027-01-01"}
    made, _ = draft_of(agreed(small_layout(waivers=[waiver]), on=DAY))
    assert made.judged_on == "2026-11-25"
    assert recheck(_kept(made), _texts(made)).outcome is Again.SAME


def test_nobody_signs_a_check_that_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    given = agreed(small_layout())
    failed = check(given.layout).model_copy(update={"verdict": Verdict.FAULT})
    monkeypatch.setattr("layoutcheck.record.making.check", lambda *_, **__: failed)
    with pytest.raises(NotToBeSigned, match="nothing is recorded"):
        draft_of(given)


# --- again --------------------------------------------------------------------------------------


def _kept(made: Any) -> Kept:
    from layoutcheck.record.entry import next_entry  # noqa: PLC0415

    return next_entry(made, last=None, at="2026-11-25T12:00:00+00:00")


def _texts(made: Any) -> Any:
    entry = _kept(made).entry
    kept = {entry.layout: made.layout, entry.pack: made.pack, entry.report: made.report}
    return kept.get


@pytest.mark.parametrize("form", ["json", "yaml"])
@pytest.mark.parametrize("pack", [None, PACK])
def test_the_same_version_makes_the_same_report(form: str, pack: str | None) -> None:
    made, _ = draft_of(agreed(small_layout(), form, pack=pack))
    told = recheck(_kept(made), _texts(made))
    assert (told.outcome, told.sequence) == (Again.SAME, 1)


def test_another_report_is_told() -> None:
    made, _ = draft_of(agreed(small_layout()))
    forged = replace(made, report=made.report.replace(b'"not compliant"', b'"compliant"'))
    assert forged != made
    assert recheck(_kept(forged), _texts(forged)).outcome is Again.DIFFERS


def test_another_version_is_not_blamed() -> None:
    made, _ = draft_of(agreed(small_layout()))
    told = recheck(_kept(replace(made, version="9.9.9")), _texts(made))
    assert told.outcome is Again.OTHER_VERSION
    assert "9.9.9" in told.says


@pytest.mark.parametrize(
    "change",
    [
        {"layout": b"{"},
        {"layout": b"\xff"},
        {"layout_format": "nothing"},
        {"pack": b"name = 1"},
        {"pack": b"\xff"},
        {"judged_on": "yesterday"},
    ],
)
def test_what_can_not_be_read_again_is_told(change: dict[str, Any]) -> None:
    made, _ = draft_of(agreed(small_layout()))
    spoiled = replace(made, **change)
    told = recheck(_kept(spoiled), _texts(spoiled))
    # A format that is not known is read as JSON, so the report is the same again.
    assert told.outcome is (Again.SAME if "layout_format" in change else Again.NOT_POSSIBLE)
    assert recheck(_kept(made), lambda _: None).outcome is Again.NOT_POSSIBLE


# --- who signs, and what came inside other data -------------------------------------------------


@pytest.mark.parametrize("name", ["?", "no", "-", "X", "n/a", "tbd", "12"])
def test_what_is_no_name_signs_nothing(name: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        read_signer({"name": name})
    assert [f.pointer for f in raised.value.faults] == ["/name"]


def test_a_signer_is_read_with_every_fault() -> None:
    assert read_signer({"name": " Ann ", "note": "x"}, key="k") == Signer("Ann", "", "x", "k")
    with pytest.raises(LayoutFaults) as told:
        read_signer({"name": "", "role": "a\nb", "note": "n" * 2001, "key": "admin"})
    pointers = [f.pointer for f in told.value.faults]
    assert pointers == ["/key", "/name", "/role", "/note"]


def test_a_layout_inside_other_data_is_kept_in_canonical_form() -> None:
    # RFC 8785, section 3.2.3: names sorted; 3.2.2.3: numbers as ECMAScript writes them.
    assert layout_as_json({"b": [1.0, 1e21, 0.1], "a": "é\n"}) == (
        '{"a":"é\\n","b":[1,1e+21,0.1]}'.encode()
    )
    for unsound in ({"a": 2**60}, {"a": float("nan")}):
        with pytest.raises(LayoutFaults):
            layout_as_json(unsound)


# --- as one file --------------------------------------------------------------------------------


@pytest.fixture
def lines(tmp_path: Path) -> list[bytes]:
    ledger = Ledger(str(tmp_path / "record.sqlite"))
    for number in range(4):
        ledger.append(draft("Ann Ö. Invented", number, 60))
    written = b"".join(export_lines(ledger))
    assert ExportedRecord(written).entries == list(ledger.walk())
    return written.splitlines(keepends=True)


def faults(lines: list[bytes], *noted: str) -> list[tuple[str, int | None]]:
    found = ExportedRecord(b"".join(lines)).verify(noted)
    return [(f.kind.value, f.sequence) for f in found.faults]


def test_an_exported_record_is_whole_and_can_be_checked_again(lines: list[bytes]) -> None:
    record = ExportedRecord(b"".join(lines))
    assert faults(lines, record.entries[-1].hash) == []
    assert record.verify().entries == 4
    assert record.text(record.entries[2].entry.layout) == draft("Ann Ö. Invented", 2, 60).layout


def test_each_changed_character_of_an_exported_record_is_found(lines: list[bytes]) -> None:
    whole = b"".join(lines).decode()
    for at in range(0, len(whole), 13):
        other = "0" if whole[at] != "0" else "1"
        spoiled = (whole[:at] + other + whole[at + 1 :]).encode()
        try:
            assert not ExportedRecord(spoiled).verify().whole, at
        except LayoutFaults:
            continue  # no longer such a file at all


def test_lines_taken_out_or_exchanged_are_found(lines: list[bytes]) -> None:
    entries = [n for n, line in enumerate(lines) if line.startswith(b'{"entry"')]
    texts = [n for n in range(len(lines)) if n not in entries]
    second, third = entries[1:3]
    without = [line for n, line in enumerate(lines) if n != second]
    assert ("removed", 2) in faults(without)
    exchanged = list(lines)
    exchanged[second], exchanged[third] = lines[third], lines[second]
    assert [k for k, _ in faults(exchanged)][:2] == ["removed", "inserted"]
    for gone in texts:
        left = [line for n, line in enumerate(lines) if n != gone]
        assert {k for k, _ in faults(left)} == {"changed"}
    assert faults(lines[:-3]) == []  # the end cut off
    assert faults(lines[:-3], json.loads(lines[-1])["hash"]) == [("noted hash missing", None)]


@pytest.mark.parametrize(
    "line",
    [b"{", b"[]", b"1", b'{"text": 1, "digest": "x"}', b'{"entry": {}, "hash": "x"}', b"\xff"],
)
def test_a_line_of_something_else_is_refused_with_its_number(
    lines: list[bytes], line: bytes
) -> None:
    with pytest.raises(LayoutFaults) as told:
        ExportedRecord(b"".join([*lines, line]))
    assert told.value.faults[0].pointer == f"/{len(lines) + 1}"
