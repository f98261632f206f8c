"""The core of the watch: what is due, what it compares, what it hands out; held to the library.

Oracles: the library's own `standing` and `judge_log`, and hand-worked times on a schedule of two
injections of 270 s with waits of 345 s, top-ups every 300 s (invented).
"""

from __future__ import annotations

import json
import math
import random
import subprocess
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.physics.ranges import Range
from layoutcheck.report import Report, check
from layoutcheck.report.log import judge_log, read_log
from layoutcheck.report.log.course import FROST_OFF, SURFACE_OFF, Course, Look, standing
from layoutcheck.report.watch import watch_plan
from tests.page.conftest import FIXTURES, PAGE

MENDED = sorted(p.stem for p in FIXTURES.glob("*-mended.json"))
DRIVER = Path(__file__).with_name("watch_core.mjs")
Ask = Callable[..., list[Any]]
START = 1_764_057_600_000  # 2025-11-25 08:00:00 UTC, ms


@pytest.fixture(scope="module")
def ask(require: Any, tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Put questions to the core as it is written, bundled for Node."""
    node = require.tool("node")
    bundler = PAGE / "node_modules" / "rolldown" / "bin" / "cli.mjs"
    require.file(bundler, brought_by="`npm ci` in api/page")
    core = tmp_path_factory.mktemp("watch") / "core.mjs"
    source = PAGE / "src" / "watch" / "core.ts"
    command = [node, str(bundler), str(source), "--file", str(core), "--format", "esm"]
    subprocess.run(command, check=True, capture_output=True)

    def _ask(*questions: tuple[str, dict[str, Any]]) -> list[Any]:
        run = subprocess.run(
            [node, str(DRIVER), str(core)],
            input=json.dumps(questions),
            capture_output=True,
            text=True,
            check=False,
        )
        assert run.returncode == 0, run.stderr
        answers: list[Any] = json.loads(run.stdout)
        return answers

    return _ask


@cache
def report_of(name: str) -> Report:
    return check(parse_layout(json.loads((FIXTURES / f"{name}.json").read_text("utf-8"))))


@cache
def plan_text(name: str) -> str:
    layout = parse_layout(json.loads((FIXTURES / f"{name}.json").read_text("utf-8")))
    return watch_plan(layout, report_of(name)).to_json()


def plan_of(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(plan_text(name))
    return found


# --- held against the courses -------------------------------------------------------------------


def looks_for(courses: list[Course], chance: random.Random) -> list[Look]:
    """Looks near the courses, on their very points, and far off."""
    found = []
    for _ in range(chance.randint(0, 4)):
        course = chance.choice(courses)
        index = chance.randrange(len(course.times))
        late = chance.choice([1.0, 1.0, chance.uniform(0.2, 3.0)])
        frost = chance.choice([None, 0.0, course.frost[index], course.frost[index] * late])
        cold = chance.choice([None, course.surface[index], course.surface[index] + 5.0 * late])
        found.append(Look(course.times[index] * late, frost, cold))
    return found


def plain(value: float) -> float | str:
    return value if math.isfinite(value) else "inf"


@pytest.mark.parametrize("name", MENDED)
def test_it_judges_a_reading_as_the_log_does(ask: Ask, name: str) -> None:
    chance = random.Random(24)
    off = {"frost_off": FROST_OFF, "surface_off": SURFACE_OFF}
    questions, expected = [], []
    for part in report_of(name).plugs:
        courses = [Course(c.times, c.frost, c.surface) for c in part.freeze.courses]
        span = part.freeze.time_to_plug
        assert span is not None
        plug = (span.low.value, span.likely.value, span.high.value)
        given = [{"times": c.times, "frost": c.frost, "surface": c.surface} for c in courses]
        for _ in range(150):
            looks = looks_for(courses, chance)
            shown = [{"time": x.time, "frost": x.frost, "surface": x.surface} for x in looks]
            questions.append(
                ("standing", {"courses": given, "plug": plug, "looks": shown, "off": off})
            )
            expected.append(standing(courses, Range(*plug), looks))
    paces = set()
    for answer, right in zip(ask(*questions), expected, strict=True):
        if right is None:
            assert answer is None
            continue
        paces.add(answer["pace"])
        assert answer["pace"] == right.pace.value
        # The same sums in the same order, in doubles on both sides: nothing is rounded.
        assert answer["slowest"] == plain(right.slowest)
        assert answer["plug"] == (None if right.plug is None else list(right.plug.values))
    assert len(paces) >= 3


# --- how real times move the schedule -----------------------------------------------------------


def step(start: float, duration: float, kind: str, mass: float = 0.0) -> dict[str, Any]:
    return {"start": start, "duration": duration, "kind": kind, "mass": mass}


def small_plan() -> dict[str, Any]:
    """Injections at 0 and 615 s, expected at 1230 s, a further one, due at 1845 s, hold 900 s."""
    plan = plan_of("plant-room-mended")
    plug = plan["plugs"][0]
    plug["steps"] = [
        step(0, 270, "inject", 2.0), step(270, 345, "wait"),
        step(615, 270, "inject", 2.0), step(885, 345, "wait"),
        step(1230, 0, "plug expected"),
        step(1230, 270, "inject further", 2.0), step(1500, 345, "wait further"),
        step(1845, 0, "plug due"),
        step(1845, 30, "top-up", 0.5), step(2145, 30, "top-up", 0.4), step(2445, 30, "top-up", 0.3),
        step(2745, 0, "hold ends"),
    ]  # fmt: skip
    plug |= {"interval": 300, "expected": 1230, "due": 1845, "give_up": 2745, "ends": 2745}
    plan["plugs"] = [plug]
    plan["stock"] = [{"coolant": "carbon dioxide", "mass": 20.0, "container": 5.0}]
    plan["before"] = []
    return plan


class Phone:
    """Writes entries as the page does, at s from the start."""

    def __init__(self) -> None:
        self.entries: list[dict[str, Any]] = []

    def at(self, seconds: float, kind: str, *, wall: float | None = None, **more: Any) -> str:
        number = len(self.entries) + 1
        stamp = self.stamp(seconds, wall)
        name = more.pop("id", f"{kind} {number}")
        self.entries.append({"id": name, "n": number, "by": "A", "kind": kind, **stamp, **more})
        return str(name)

    @staticmethod
    def stamp(seconds: float, wall: float | None = None) -> dict[str, Any]:
        shown = seconds if wall is None else wall
        return {"wall": START + shown * 1000, "mono": seconds * 1000, "session": "s"}

    def fed(self, number: int, began: float, ended: float | None, feed: str = "inject") -> None:
        self.at(began, "began", plug="NORTH", feed=feed, number=number)
        if ended is not None:
            self.at(ended, "ended", plug="NORTH", feed=feed, number=number)

    def seen(self, ask: Ask, seconds: float, wall: float | None = None) -> dict[str, Any]:
        question = {
            "plan": small_plan(), "entries": self.entries, "now": self.stamp(seconds, wall)
        }  # fmt: skip
        found: dict[str, Any] = ask(("fold", question))[0]
        return found


def after(jacket: dict[str, Any], name: str) -> float:
    """Give a time of a jacket in s from the start."""
    return float((jacket[name] - START) / 1000)


def test_on_time_the_next_injection_is_that_of_the_sheet(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, None)
    (jacket,) = phone.seen(ask, 60)["jackets"]
    assert (jacket["doing"], after(jacket, "until")) == ("inject", 270)
    phone.at(270, "ended", plug="NORTH", feed="inject", number=1)
    (jacket,) = phone.seen(ask, 300)["jackets"]
    assert (jacket["doing"], jacket["number"], after(jacket, "until")) == ("wait", 2, 615)
    assert (after(jacket, "due"), jacket["shift"]) == (1845, 0)


def test_what_is_late_makes_what_follows_late(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    phone.fed(2, 615 + 120, 615 + 120 + 270)  # began two minutes late
    (jacket,) = phone.seen(ask, 1010)["jackets"]
    # Ended at 1005 s; with its wait of 345 s the third begins at 1350 s, not at 1230 s.
    assert after(jacket, "until") == 1350
    assert after(jacket, "due") == 1845 + 120
    # What stands still: the time to give up, and the end of the hold.
    assert (after(jacket, "giveUp"), after(jacket, "ends")) == (2745, 2745)


def test_what_lasts_longer_makes_what_follows_late_and_what_waits_is_late_now(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 300)  # 30 s longer
    (jacket,) = phone.seen(ask, 300)["jackets"]
    assert after(jacket, "until") == 300 + 345
    assert after(jacket, "due") == 1845 + 30
    (jacket,) = phone.seen(ask, 645 + 90)["jackets"]  # and nobody begins it for 90 s
    assert (jacket["doing"], jacket["late"]) == ("begin", 90_000)
    assert after(jacket, "due") == 1845 + 30 + 90


def test_a_wait_is_never_cut_and_nothing_comes_sooner_than_on_the_sheet(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 200)  # cut short by 70 s
    (jacket,) = phone.seen(ask, 210)["jackets"]
    assert (after(jacket, "until"), after(jacket, "due")) == (615, 1845)
    phone.fed(2, 500, 770)  # begun too soon
    (jacket,) = phone.seen(ask, 780)["jackets"]
    assert (after(jacket, "until"), after(jacket, "due")) == (1230, 1845)


def test_after_the_test_it_is_topped_up_by_the_sheets_interval(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    phone.fed(2, 615, 885)
    phone.at(1000, "tested", plug="NORTH", passed=True, text="stood still")
    (jacket,) = phone.seen(ask, 1010)["jackets"]
    assert (jacket["doing"], after(jacket, "until")) == ("hold", 885 + 345)
    phone.fed(1, 1230, 1260, "top-up")
    (jacket,) = phone.seen(ask, 1300)["jackets"]
    assert (jacket["number"], after(jacket, "until")) == (2, 1530)
    (jacket,) = phone.seen(ask, 1590)["jackets"]  # 60 s late: the log forgives a minute
    assert (jacket["doing"], jacket["missed"]) == ("top up", False)
    (jacket,) = phone.seen(ask, 1591)["jackets"]
    assert jacket["missed"]


def test_a_test_that_failed_since_counts_more(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    phone.at(400, "tested", plug="NORTH", passed=True, text="")
    phone.at(500, "tested", plug="NORTH", passed=False, text="the far gauge fell")
    (jacket,) = phone.seen(ask, 510)["jackets"]
    assert jacket["proven"] is None
    assert (jacket["doing"], after(jacket, "until")) == ("wait", 615)


def test_not_proven_by_the_time_to_give_up_it_says_so(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    assert phone.seen(ask, 2744)["jackets"][0]["doing"] == "begin"
    assert phone.seen(ask, 2745)["jackets"][0]["doing"] == "give up"


def test_what_is_left_by_the_masses_tapped_and_when_it_runs_out(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    mass = {"value": 6.0, "unit": "kg"}
    phone.at(280, "mass", plug="NORTH", feed="inject", number=1, mass=mass)
    (stock,) = phone.seen(ask, 300)["stock"]
    # 20 - 6 = 14 kg left. To come: 2 injections of 2 kg (615 s, 1230 s), top-ups 0.5, 0.4, 0.3.
    assert (stock["left"], stock["unweighed"]) == (14.0, 0)
    assert stock["needed"] == pytest.approx(2 * 2.0 + 0.5 + 0.4 + 0.3, abs=1e-9)
    assert (stock["runsOut"], stock["last"]) == (None, False)
    phone.fed(2, 615, 885)
    phone.at(890, "mass", plug="NORTH", feed="inject", number=2, mass={"value": 12.5, "unit": "kg"})
    (stock,) = phone.seen(ask, 900)["stock"]
    # 1.5 kg left, and the third injection takes 2 kg: it runs out in that one, at 1230 s.
    assert stock["left"] == pytest.approx(1.5)
    assert ((stock["runsOut"] - START) / 1000, stock["last"]) == (1230, True)


def test_air_over_a_limit_is_told_from_one_reading(ask: Ask) -> None:
    # 5,000 ppm: OSHA PEL and NIOSH REL; 19.5 %: OSHA letter of 2 April 2007; as in physics/air.py.
    for dioxide, oxygen, over in (
        (0.005, 0.195, None),
        (0.00501, 0.209, "carbon dioxide"),
        (0.001, 0.194, "too little oxygen"),
        (0.001, 0.236, "too much oxygen"),
    ):
        phone = Phone()
        phone.at(0, "air", carbon_dioxide=dioxide, oxygen=oxygen)
        assert phone.seen(ask, 1)["air"]["over"] == over


# --- nothing is lost, nothing is doubled ---------------------------------------------------------


def test_the_order_and_the_number_of_times_in_which_entries_come_change_nothing(ask: Ask) -> None:
    plan = plan_of("plant-room-mended")
    made = ask(
        (
            "crew",
            {"plan": plan, "seed": 5, "late": 40_000, "proofAt": None, "work": 600,
             "start": START, "lookEvery": 900},
        )
    )[0]  # fmt: skip
    entries, chance = made["entries"], random.Random(5)
    now = {"wall": START + 9e6, "mono": 9e6, "session": "s"}
    questions = []
    for _ in range(6):
        shuffled = entries + chance.sample(entries, len(entries) // 2)
        chance.shuffle(shuffled)
        questions.append(("fold", {"plan": plan, "entries": shuffled, "now": now}))
    first, *others = ask(("fold", {"plan": plan, "entries": entries, "now": now}), *questions)
    assert all(other == first for other in others)


def test_a_second_tap_is_the_same_entry_until_the_first_is_taken_back(ask: Ask) -> None:
    began = {"kind": "began", "plug": "NORTH", "feed": "inject", "number": 3}
    first, second = ask(("ids", {"list": [began, began], "random": "x"}))[0]
    assert first == second
    back = {"kind": "retracted", "of": first}
    *_, again = ask(("ids", {"list": [began, back, began], "random": "x"}))[0]
    assert again != first


def test_what_was_taken_back_is_not_there(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    phone.at(275, "retracted", of="ended 2")
    (jacket,) = phone.seen(ask, 280)["jackets"]
    assert (jacket["doing"], after(jacket, "until")) == ("inject", 270)


# --- two clocks ----------------------------------------------------------------------------------


def test_a_clock_that_was_set_wrong_moves_nothing(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    jump = phone.at(300, "clock", wall=3900, gap=3_600_000)
    doubted = phone.seen(ask, 310, wall=3910)
    assert doubted["doubt"]["gap"] == 3_600_000
    phone.at(315, "settled", wall=3915, of=jump, right=False)
    state = phone.seen(ask, 320, wall=3920)
    assert state["doubt"] is None
    (jacket,) = state["jackets"]
    assert ((state["now"] - START) / 1000, after(jacket, "until")) == (320, 615)


def test_a_phone_that_slept_takes_up_the_time_that_went_by(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    jump = phone.at(300, "clock", wall=700, gap=400_000)
    phone.at(305, "settled", wall=705, of=jump, right=True)
    (jacket,) = phone.seen(ask, 310, wall=710)["jackets"]
    assert (jacket["doing"], jacket["late"]) == ("begin", (710 - 615) * 1000)


def test_time_never_runs_back(ask: Ask) -> None:
    phone = Phone()
    phone.fed(1, 0, 270)
    phone.at(300, "clock", wall=300 - 3600, gap=-3_600_000)
    state = phone.seen(ask, 310, wall=310 - 3600)
    assert ((state["now"] - START) / 1000, state["doubt"]) == (310, None)


# --- the log out ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "late", "proof"),
    [
        ("plant-room-mended", 50_000, None),
        ("plant-room-mended", 0, 0.8),
        ("heating-riser-mended", 50_000, None),
    ],
)
def test_a_crew_that_does_what_it_is_told_is_as_planned(
    ask: Ask, name: str, late: int, proof: float | None
) -> None:
    """The schedule as it moves here, judged by the library: late, but nothing cut or missed."""
    plan = plan_of(name)
    given = {
        "plan": plan, "seed": 11, "late": late, "proofAt": proof, "work": 1200, "start": START,
        "lookEvery": 1500,
    }  # fmt: skip
    made = ask(("crew", given))[0]
    log = read_log(made["csv"].encode())
    assert log == read_log(made["json"].encode())
    judged = judge_log(log, report_of(name))
    wrong = [(f.rule, f.subject.id, f.outcome, f.says) for f in judged.findings
             if f.outcome not in {"holds", "does not apply"}]  # fmt: skip
    assert wrong == []
    assert judged.verdict == "compliant"


def test_the_log_is_what_was_tapped(ask: Ask) -> None:
    given = {
        "plan": plan_of("plant-room-mended"), "seed": 3, "late": 30_000, "proofAt": None,
        "work": 900, "start": START, "lookEvery": 0,
    }  # fmt: skip
    made = ask(("crew", given))[0]
    log = read_log(made["json"].encode())
    zone = 3600_000  # the crew's clock is an hour ahead of UTC
    for entry in made["entries"]:
        if entry["kind"] not in {"began", "ended"}:
            continue
        (row,) = [
            r for r in log.rows
            if r.plug == entry["plug"] and r.number == entry["number"]
            and ((r.what.value == "top-up") == (entry["feed"] == "top-up"))
            and r.what.value in {"inject", "inject further", "top-up"}
        ]  # fmt: skip
        reading = row.began if entry["kind"] == "began" else row.ended
        assert reading is not None and reading.day is not None
        day = (reading.day.toordinal() - 719_163) * 86_400  # days from 1970-01-01
        assert (day + reading.seconds) * 1000 == entry["wall"] + zone
    taps = sum(e["kind"] == "began" for e in made["entries"])
    fed = [
        r for r in log.rows if r.began and r.what.value in {"inject", "inject further", "top-up"}
    ]
    assert len(fed) == taps
    assert all(r.coolant is not None and r.by == "A. Reed" for r in fed)


def test_a_cell_with_commas_quotes_and_formulas_comes_through(ask: Ask) -> None:
    row = {
        "plug": None, "number": 1, "what": "look", "planned_at": "", "planned_for": "",
        "planned_coolant": "", "began": "08:00:00", "ended": None, "coolant": None, "frost": None,
        "surface": None, "by": '=HYPERLINK("x")', "note": 'he said "shut", then left',
    }  # fmt: skip
    log = {"format": "layoutcheck log 1", "sheet": "0123456789ab", "rows": [row]}
    (text,) = ask(("csv", {"log": log}))
    (read,) = read_log(text.encode()).rows
    assert (read.by, read.note) == ('=HYPERLINK("x")', 'he said "shut", then left')
    assert "'=HYPERLINK" in text
