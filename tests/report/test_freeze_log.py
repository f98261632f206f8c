"""The freeze log: a log kept to the letter is as planned, and each departure is found, alone.

Filled logs are made here from the printed plan of the template, with clocks of our own, so that
what is right is known by hand. The minute of tolerance is the module's stated own choice.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest

from layoutcheck.document import LayoutFaults
from layoutcheck.report.log import (
    FreezeLog,
    LogReport,
    NoSchedule,
    judge_log,
    log_csv,
    log_json,
    log_template,
    log_text,
    read_log,
)
from tests.report.handout_sites import MENDED, report_on

SITE = "no-drawing-mended"
PLUG = "FOOT"
START = 22 * 3600  # ten in the evening: the job passes midnight
Row = dict[str, Any]


def clock(passed: float) -> str:
    """A time of day, read off a watch."""
    whole = (START + round(passed)) % 86400
    return f"{whole // 3600:02d}:{whole % 3600 // 60:02d}:{whole % 60:02d}"


def planned(row: Row) -> float:
    """Seconds of a planned time such as 0:37:30."""
    hours, minutes, seconds = (int(x) for x in row["planned_at"].split(":"))
    return float(3600 * hours + 60 * minutes + seconds)


def lasting(row: Row) -> float:
    """Seconds of '4 min 30 s'."""
    parts = row["planned_for"].split()
    units = {"h": 3600, "min": 60, "s": 1}
    return float(sum(int(n) * units[u] for n, u in zip(parts[::2], parts[1::2], strict=True)))


def kept_to_the_letter(site: str = SITE) -> list[Row]:
    """The rows of a log in which everything was done when and as planned."""
    text = log_csv(log_template(report_on(site))).decode("utf-8-sig")
    rows: list[Row] = list(csv.DictReader(io.StringIO(text)))
    steps = [s for p in report_on(site).plugs for s in (p.freeze.coolant or _none()).steps]
    due = max(s.start.value for s in steps if s.kind == "plug due")
    ends = min(s.start.value for s in steps if s.kind == "hold ends")
    for row in rows:
        if row["what"] in {"inject", "inject further", "top-up"}:
            row["began"], row["ended"] = clock(planned(row)), clock(planned(row) + lasting(row))
            row["coolant"] = row["planned_coolant"].split(" (")[0]
        elif row["what"] == "plug proven":
            row["began"] = clock(due + 30)
        elif row["what"] == "line opened":
            row["began"] = clock(due + 60)
        elif row["what"] == "line closed up":
            row["began"] = clock(ends - 60)
        else:
            row["began"] = clock(ends)
    return rows


def _none() -> Any:
    raise AssertionError("a compliant site has a schedule")


def written(rows: list[Row]) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def judged(rows: list[Row], site: str = SITE) -> LogReport:
    return judge_log(read_log(written(rows)), report_on(site))


def outcomes(report: LogReport) -> dict[str, str]:
    """Outcome of each rule for the one plug, the stock, the work."""
    return {f.rule: f.outcome.value for f in report.findings}


@pytest.mark.parametrize("site", MENDED)
def test_a_log_kept_to_the_letter_is_as_planned(site: str) -> None:
    report = judged(kept_to_the_letter(site), site)
    bad = [f.says for f in report.findings if f.outcome.value in {"broken", "undecided"}]
    assert not bad
    assert report.exit_code == 0


def test_an_empty_log_is_undecided_never_as_planned() -> None:
    report = judge_log(log_template(report_on(SITE)), report_on(SITE))
    assert report.exit_code == 3
    assert outcomes(report)["log-coolant"] == "undecided"
    assert outcomes(report)["log-opened"] == "undecided"


def of(rows: list[Row], what: str) -> list[Row]:
    return [r for r in rows if r["what"] == what]


def skip_an_injection(rows: list[Row]) -> None:
    of(rows, "inject")[1].update(began="", ended="", coolant="")


def cut_an_injection(rows: list[Row]) -> None:
    row = of(rows, "inject")[1]
    row["ended"] = clock(planned(row) + lasting(row) - 61)


def cut_a_wait(rows: list[Row]) -> None:
    """The second injection begins 61 s early, and ends as planned."""
    row = of(rows, "inject")[1]
    row["began"] = clock(planned(row) - 61)


def miss_a_top_up(rows: list[Row]) -> None:
    of(rows, "top-up")[3].update(began="", ended="", coolant="")


def late_top_up(rows: list[Row]) -> None:
    row = of(rows, "top-up")[3]
    row["began"] = clock(planned(row) + 61)


def use_too_much(rows: list[Row]) -> None:
    of(rows, "top-up")[3]["coolant"] = "200 lb"


def hold_too_long(rows: list[Row]) -> None:
    """Closed up and fed until 61 s after the planned end: one top-up more than planned."""
    last = of(rows, "top-up")[-1]
    ends = planned(last) + 300
    of(rows, "line closed up")[0]["began"] = clock(ends + 61)
    of(rows, "feeding stopped")[0]["began"] = clock(ends + 61)
    number = str(int(last["number"]) + 1)
    more = {**last, "number": number, "began": clock(ends), "ended": clock(ends + 20)}
    rows.insert(rows.index(last) + 1, more)


def stop_feeding_early(rows: list[Row]) -> None:
    closed = of(rows, "line closed up")[0]
    of(rows, "feeding stopped")[0]["began"] = clock(planned(of(rows, "top-up")[-1]) + 60)
    closed["began"] = clock(planned(of(rows, "top-up")[-1]) + 120)


def open_before_due(rows: list[Row]) -> None:
    due = planned(of(rows, "top-up")[0])
    of(rows, "plug proven")[0]["began"] = clock(due - 30)
    of(rows, "line opened")[0]["began"] = clock(due - 1)


def open_before_proof(rows: list[Row]) -> None:
    due = planned(of(rows, "top-up")[0])
    of(rows, "plug proven")[0]["began"] = clock(due + 120)


def open_without_proof(rows: list[Row]) -> None:
    of(rows, "plug proven")[0]["began"] = ""


def wrong_sheet(rows: list[Row]) -> None:
    for row in rows:
        row["sheet"] = "000000000000"


@pytest.mark.parametrize(
    ("change", "rule", "reason"),
    [
        (skip_an_injection, "log-injections", "missing"),
        (cut_an_injection, "log-injections", "cut short"),
        (cut_a_wait, "log-waits", "cut"),
        (miss_a_top_up, "log-top-ups", "late"),
        (late_top_up, "log-top-ups", "late"),
        (use_too_much, "log-coolant", "over budget"),
        (hold_too_long, "log-hold", "beyond plan"),
        (stop_feeding_early, "log-hold", "stopped early"),
        (open_before_due, "log-opened", "opened too soon"),
        (open_before_proof, "log-opened", "opened too soon"),
        (open_without_proof, "log-opened", "opened too soon"),
        (wrong_sheet, "log-sheet", "another sheet"),
    ],
)
def test_each_departure_is_found_and_nothing_else(
    change: Callable[[list[Row]], None], rule: str, reason: str
) -> None:
    rows = kept_to_the_letter()
    change(rows)
    report = judged(rows)
    assert [(f.rule, f.reason) for f in report.findings if f.outcome.value == "broken"] == [
        (rule, reason)
    ]
    assert report.exit_code == 1


def close_before_opening(rows: list[Row]) -> None:
    opened = planned(of(rows, "top-up")[0]) + 600
    of(rows, "line opened")[0]["began"] = clock(opened)
    of(rows, "line closed up")[0]["began"] = clock(opened - 300)


def prove_before_the_first_injection(rows: list[Row]) -> None:
    of(rows, "plug proven")[0]["began"] = clock(-60)


def inject_for_ten_hours(rows: list[Row]) -> None:
    row = of(rows, "inject further")[-1]
    row["ended"] = clock(planned(row) + 36000)


def end_before_it_begins(rows: list[Row]) -> None:
    row = of(rows, "top-up")[3]
    row["ended"] = clock(planned(row) - 300)


def write_another_plug(rows: list[Row]) -> None:
    rows.append({**of(rows, "top-up")[3], "plug": "FOOTS"})


@pytest.mark.parametrize(
    ("change", "rule", "reason"),
    [
        (close_before_opening, "log-order", "closed before opened"),
        (prove_before_the_first_injection, "log-proof", "before ice"),
        (inject_for_ten_hours, "log-lengths", "runs into the next"),
        (end_before_it_begins, "log-lengths", "ends before it begins"),
        (write_another_plug, "log-plugs", "no such plug"),
    ],
)
def test_what_can_not_be_so_is_found(
    change: Callable[[list[Row]], None], rule: str, reason: str
) -> None:
    rows = kept_to_the_letter()
    change(rows)
    report = judged(rows)
    assert (rule, reason) in [
        (f.rule, f.reason) for f in report.findings if f.outcome.value == "broken"
    ]
    assert report.exit_code == 1


def no_end_of_feeding(rows: list[Row]) -> None:
    rows.remove(of(rows, "feeding stopped")[0])


def feed_a_tenth(rows: list[Row]) -> None:
    """A point too far to the left: 0.42 for 4.2."""
    row = of(rows, "top-up")[3]
    number, unit = row["coolant"].split()
    row["coolant"] = f"{float(number) / 10:.4f} {unit}"


def feed_ten_times(rows: list[Row]) -> None:
    """Of one feeding ten times the planned, and all the others left within the budget."""
    row = of(rows, "top-up")[3]
    number, unit = row["coolant"].split()
    row["coolant"] = f"{float(number) * 10:.4f} {unit}"


def feed_for_long(rows: list[Row]) -> None:
    row = of(rows, "top-up")[3]
    row["ended"] = clock(planned(row) + 2 * lasting(row) + 61)


def prove_too_soon(rows: list[Row]) -> None:
    """After five minutes; the low end of the estimate is nine and a half."""
    of(rows, "plug proven")[0]["began"] = clock(300)


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (no_end_of_feeding, "log-hold"),
        (feed_a_tenth, "log-amounts"),
        (feed_ten_times, "log-amounts"),
        (feed_for_long, "log-lengths"),
        (prove_too_soon, "log-proof"),
    ],
)
def test_what_is_odd_is_asked_about(change: Callable[[list[Row]], None], rule: str) -> None:
    rows = kept_to_the_letter()
    change(rows)
    report = judged(rows)
    asked = {f.rule: f for f in report.findings if f.outcome.value == "undecided"}
    assert asked[rule].missing
    assert report.exit_code != 0


def test_a_note_in_the_line_answers_what_is_odd() -> None:
    rows = kept_to_the_letter()
    feed_a_tenth(rows)
    of(rows, "top-up")[3]["note"] = "cylinder ran empty, changed within the minute"
    report = judged(rows)
    assert report.exit_code == 0
    (told,) = [f.says for f in report.findings if f.rule == "log-amounts"]
    assert "cylinder ran empty" in told


@pytest.mark.parametrize("what", ["inject", "top-up", "line opened", "plug proven"])
def test_a_doubled_line_is_refused(what: str) -> None:
    rows = kept_to_the_letter()
    rows.append({**of(rows, what)[0], "began": clock(7200)})
    with pytest.raises(LayoutFaults) as caught:
        read_log(written(rows))
    assert [f.pointer for f in caught.value.faults] == [f"/rows/{len(rows) - 1}"]


@pytest.mark.parametrize("nothing", ["0 kg", "0 lb"])
def test_a_feeding_of_nothing_is_refused(nothing: str) -> None:
    rows = kept_to_the_letter()
    rows[0]["coolant"] = nothing
    with pytest.raises(LayoutFaults) as caught:
        read_log(written(rows))
    assert [f.pointer for f in caught.value.faults] == ["/rows/0"]


def test_a_minute_is_forgiven() -> None:
    rows = kept_to_the_letter()
    row = of(rows, "top-up")[3]
    row["began"] = clock(planned(row) + 60)
    assert judged(rows).exit_code == 0


def test_a_plug_proven_early_needs_no_further_injections() -> None:
    rows = kept_to_the_letter()
    further = of(rows, "inject further")
    expected = planned(further[0])
    of(rows, "plug proven")[0]["began"] = clock(expected)
    for row in further:
        row.update(began="", ended="", coolant="")
    # From then on the jacket is topped up at the planned interval until it is due.
    interval = planned(of(rows, "top-up")[1]) - planned(of(rows, "top-up")[0])
    due, at, number = planned(of(rows, "top-up")[0]), expected, 1000
    while at < due:
        again = {"number": str(number), "began": clock(at), "ended": clock(at + 20)}
        rows.append({**of(rows, "top-up")[0], **again})
        at, number = at + interval, number + 1
    assert outcomes(judged(rows))["log-injections"] == "holds"
    assert judged(rows).exit_code == 0


def test_clocks_with_days_say_the_same_as_clocks_without() -> None:
    plain = kept_to_the_letter()
    dated = kept_to_the_letter()
    for row in dated:
        for key in ("began", "ended"):
            if row[key]:
                day = "2026-11-25" if row[key] >= "20" else "2026-11-26"
                row[key] = f"{day} {row[key]}"
    assert judged(dated) == judged(plain)


def test_json_and_csv_are_the_same_log() -> None:
    log = read_log(written(kept_to_the_letter()))
    again = read_log(log_json(log))
    assert again == log
    assert read_log(log_csv(log)) == log
    assert judge_log(again, report_on(SITE)).to_json() == judge_log(log, report_on(SITE)).to_json()


@pytest.mark.parametrize("between", [";", "\t"])
def test_what_spreadsheets_save_is_read(between: str) -> None:
    rows = kept_to_the_letter()
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0].keys(), delimiter=between, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    empty = between * (len(rows[0]) - 1) + "\r\n"
    text = ("\ufeff" + out.getvalue() + empty * 3).encode()
    assert read_log(text) == read_log(written(rows))


@pytest.mark.parametrize(
    ("column", "value", "pointer"),
    [
        ("began", "25:00", "/rows/0/began"),
        ("began", "8 o'clock", "/rows/0/began"),
        ("began", "2026-02-30 08:00", "/rows/0/began"),
        ("coolant", "5", "/rows/0/coolant"),
        ("what", "injected", "/rows/0/what"),
        ("number", "one", "/rows/0/number"),
        ("note", "\u202e", "/rows/0/note"),
    ],
)
def test_a_cell_that_can_not_be_read_is_named(column: str, value: str, pointer: str) -> None:
    rows = kept_to_the_letter()
    rows[0][column] = value
    with pytest.raises(LayoutFaults) as caught:
        read_log(written(rows))
    assert [f.pointer for f in caught.value.faults] == [pointer]
    assert caught.value.faults[0].example


@pytest.mark.parametrize("text", [b"", b"{", b"{}", b"a,b\n1,2\n", b"\xff\xfe", b"[]"])
def test_what_is_no_log_is_refused(text: bytes) -> None:
    with pytest.raises(LayoutFaults):
        read_log(text)


def test_lines_of_two_sheets_are_refused() -> None:
    rows = kept_to_the_letter()
    rows[3]["sheet"] = "000000000000"
    with pytest.raises(LayoutFaults, match="1 fault"):
        read_log(written(rows))


def test_a_text_that_looks_like_a_formula_is_kept_from_being_one() -> None:
    rows = kept_to_the_letter()
    rows[0]["note"] = "=HYPERLINK(1)"
    log = read_log(written(rows))
    assert b",=HYPERLINK" not in log_csv(log)
    assert read_log(log_csv(log)) == log


def test_a_sketch_with_faults_has_no_log() -> None:
    with pytest.raises(NoSchedule):
        log_template(report_on("no-drawing-sketch"))


def test_a_log_of_a_layout_that_is_not_compliant_is_never_as_planned() -> None:
    log: FreezeLog = read_log(written(kept_to_the_letter()))
    report = judge_log(log, report_on("no-drawing-sketch"))
    assert outcomes(report)["log-leave"] == "broken"


def test_the_text_tells_what_departs_first() -> None:
    rows = kept_to_the_letter()
    skip_an_injection(rows)
    text = log_text(judged(rows))
    assert text.startswith("NOT AS PLANNED")
    assert "no. 2" in text
    assert "licensed practice" in text
    assert max(map(len, text.splitlines())) <= 100
