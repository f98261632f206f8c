"""The text for people on site: order, what each part says, and its golden form."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.document import Fault
from layoutcheck.report.model import DrainPart, FreezePart, SubjectPart, Verdict
from layoutcheck.report.text import faults_text, full_text
from layoutcheck.report.wrap import WIDTH, some_of, wrapped
from tests.report.sample_report import FINDINGS, PLUG_A, REPORT, with_verdict

GOLDEN = Path(__file__).with_name("sample_report.txt")
TEXT = full_text(REPORT)
BLOCKS = TEXT[TEXT.index("\nPLUG A") :].split("\n\n")


def test_the_whole_text() -> None:
    # Pinned from our own run and read through by a person; `python tests/refresh.py` writes it.
    assert GOLDEN.read_text(encoding="utf-8") == TEXT


def test_what_matters_most_comes_first() -> None:
    order = [
        "NOT COMPLIANT",
        "DO THESE",
        "WATER that drains",
        "PLUGS WOULD STAND",
        "PLUG A",
        "PLUG B",
        "PLUGS A + B",
        "WORK valve V7",
        "STOCK",
        "TO SETTLE",
        "WAIVED",
        "LOOSENED",
        "MAY FLOW",
        "ASSUMED where",
        "WHERE PLUG A",
        "CAUTIONS",
        "This is a check of a drawing, not a permit.",
    ]
    places = [TEXT.index(f"\n{title}") if i else TEXT.index(title) for i, title in enumerate(order)]
    assert places == sorted(places)
    assert TEXT.startswith(order[0])


def test_a_plug_is_told_where_to_go_and_how_far() -> None:
    block = " ".join(BLOCKS[0].split())
    assert "GO TO P1: tape 2 ft 6 in (0.762 m) from T1 to the jacket's centre." in block
    assert "That is 1 ft (0.305 m) along the pipe from the mark" in block
    assert "in a clear stretch 6 ft 6 in (1.981 m) long" in block


def test_what_stays_open_at_the_new_place_is_said() -> None:
    block = " ".join(BLOCKS[0].split())
    assert "Still open there, as marked: start-temperature of A." in block
    assert "There still not known yet: jacket-clearance: The free space" in block


def test_the_way_is_walked_from_the_plug_by_junction_and_valve() -> None:
    assert "Way: A -> T1 -> V3 -> T2" in TEXT


def test_a_way_that_the_sentence_tells_is_not_told_twice() -> None:
    assert "J1, J2, V7" in TEXT
    assert "J1 -> J2" not in TEXT


def test_a_long_way_keeps_both_its_ends() -> None:
    steps = tuple(FINDINGS[0].way[0].model_copy(update={"junction": f"N{i}"}) for i in range(70))
    long = FINDINGS[0].model_copy(update={"way": steps})
    text = full_text(REPORT.model_copy(update={"findings": (long,)}))
    line = " ".join(text[text.index("Way: ") :].split("\n\n")[0].split())
    assert line.startswith("Way: A -> N0 -> N1")
    assert "... 57 more ..." in line
    assert "N68 -> N69" in line


def test_trouble_between_two_plugs_is_named_at_both() -> None:
    for block in BLOCKS[:2]:
        assert "BROKEN plug-spacing of A + B: action " in block


def test_a_well_placed_plug_says_by_how_much() -> None:
    assert "Well placed: clear by 3 ft (0.914 m)." in TEXT


def test_a_plug_with_no_place_says_so() -> None:
    stuck = PLUG_A.model_copy(update={"nearest": None, "no_place": True, "clear": ()})
    text = full_text(REPORT.model_copy(update={"plugs": (stuck,)}))
    assert "NO PLACE on these pipes passes every rule" in text
    assert "    nowhere\n" in text


def test_a_plug_that_can_not_cut_the_work_off_alone_says_so() -> None:
    weak = PLUG_A.model_copy(update={"isolates": False})
    text = full_text(REPORT.model_copy(update={"plugs": (weak,)}))
    assert "No place of this plug alone cuts the work off" in text
    assert "No place of this plug alone" not in TEXT


def test_the_freeze_is_told_as_an_estimate_with_its_spread() -> None:
    block = " ".join(BLOCKS[0].split())
    assert "Its freeze, an estimate for still water: closes." in block
    assert "FREEZE" not in TEXT
    assert "Plug long enough after: about 45 min (35 min to 55 min)." in block
    assert "May let go 10 min after feeding stops, at the soonest (likely 20 min)." in block
    assert "due 55 min after the first injection, and only if its signs are good" in block
    assert "Have on site 34 lb (15 kg): 2 cylinders of 9 kg" in block


def test_a_freeze_that_is_not_known_says_what_is_missing() -> None:
    unknown = FreezePart(outcome="not known", reason="not known", missing=("water temperature",))
    plug = PLUG_A.model_copy(update={"freeze": unknown})
    text = full_text(REPORT.model_copy(update={"plugs": (plug,)}))
    assert "an estimate for still water: not known yet: water temperature." in " ".join(
        text.split()
    )


def test_a_subject_of_many_parts_is_short_and_names_its_plug() -> None:
    ends = [f"outlet TAP-{i}" for i in range(40)] + ["plug A", "valve V1"]
    subject = SubjectPart(kind="section", id=" + ".join(ends))
    missing = tuple(f"whether water gets out at {end}" for end in ends[:40])
    trapped = FINDINGS[1].model_copy(update={"subject": subject, "missing": missing})
    text = full_text(REPORT.model_copy(update={"findings": (trapped,)}))
    assert "SECTION plug A, outlet TAP-0, outlet TAP-1, outlet TAP-2 and 38 more\n" in text
    to_settle = " ".join(text[text.index("TO SETTLE") : text.index("\nLOOSENED")].split())
    assert all(to_settle.count(f"{item};") + to_settle.count(f"{item} (") == 1 for item in missing)
    assert "outlet TAP-3 and 36 more." in " ".join(text.split()), "the finding lists only some"


def test_touching_stretches_of_one_rule_are_told_as_one() -> None:
    assert "ruled out by flowing-line-setback, 2 ft 6 in in all: P1 0 in to 2 ft 6 in" in TEXT


def test_looser_figures_are_said_at_the_top_and_in_full() -> None:
    assert "looser figures than the built-in ones (1)" in TEXT.split("\n\n", 1)[0]
    assert "plug-spacing, per_inch: set to 10 in; built in: 12 in" in TEXT


def test_waived_findings_stay_with_reason_name_and_day() -> None:
    line = "jacket-clearance of B: by invented foreman until 2027-03-31: slim jacket"
    assert line in " ".join(TEXT.split())


def test_water_that_can_not_be_computed_is_not_zero() -> None:
    drain = DrainPart(volume=None, missing=("height of J4",))
    text = full_text(REPORT.model_copy(update={"drain": drain}))
    assert "not known; not known yet: height of J4" in text


@pytest.mark.parametrize(
    ("verdict", "says"),
    [
        (Verdict.COMPLIANT, "COMPLIANT as stated"),
        (Verdict.NOT_COMPLIANT, "Do not freeze to this sketch"),
        (Verdict.UNDECIDED, "Do not freeze until what is missing is settled"),
        (Verdict.FAULT, "Nothing below may be relied on"),
    ],
)
def test_the_first_line_is_the_verdict(verdict: Verdict, says: str) -> None:
    head = full_text(with_verdict(verdict)).split("\nInvented site", 1)[0]
    assert says in " ".join(head.split())
    assert head.startswith("COMPLIANT") == (verdict is Verdict.COMPLIANT)


def test_every_caution_and_who_decides_are_there() -> None:
    flat = " ".join(TEXT.split())
    assert all(caution in flat for caution in REPORT.cautions)
    assert "licensed practice" in TEXT, "no line break may part these two words"


def test_no_control_character_is_written() -> None:
    assert not {c for c in TEXT if ord(c) < 0x20} - {"\n"}


# --- wrapping -------------------------------------------------------------------------------------


WORDS = ["a", "to", "valve", "12", "6", "1/2", "in", "ft", "(0.457", "m)", "licensed", "practice"]


@given(st.lists(st.sampled_from(WORDS)))
def test_wrapping_loses_no_word(words: list[str]) -> None:
    lines = wrapped(" ".join(words), indent="    ", first="  ")
    assert " ".join(lines).split() == words
    assert all(len(line) <= WIDTH for line in lines)


@given(st.integers(min_value=0, max_value=WIDTH))
def test_a_measure_is_never_parted(before: int) -> None:
    for whole in ("24 ft 6 1/2 in", "7.480 m", "licensed practice"):
        lines = wrapped(f"{'x' * before} {whole} and more")
        assert any(whole in line for line in lines)


def test_long_lists_say_how_many_are_left_out() -> None:
    assert some_of(["a", "b", "c"], 3) == "a, b, c"
    assert some_of(["a", "b", "c", "d"], 3) == "a, b, c and 1 more"


# --- faults ---------------------------------------------------------------------------------------


def test_every_fault_gives_place_found_problem_and_a_right_example() -> None:
    faults = [
        Fault(pointer=f"/pipes/{i}/length", found="12", problem="has no unit", example='"12 ft"')
        for i in range(2)
    ]
    assert faults_text("layout x.json", faults) == (
        "layout x.json can not be used: 2 faults.\n"
        '\n/pipes/0/length\n  found: 12\n  problem: has no unit\n  right: "12 ft"\n'
        '\n/pipes/1/length\n  found: 12\n  problem: has no unit\n  right: "12 ft"'
    )


def test_a_fault_of_the_whole_is_told_in_one_sentence() -> None:
    fault = Fault(pointer="", found="layout x", problem="is not there", example="a path")
    assert faults_text("layout x", [fault]) == "layout x: is not there\n  right: a path"


def test_a_field_name_can_not_drive_the_screen() -> None:
    fault = Fault(pointer="/\x1b[31m", found="1", problem="is not a field", example="leave it out")
    assert "\x1b" not in faults_text("layout x", [fault])
