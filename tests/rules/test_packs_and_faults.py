"""What a company's pack is told, word for word, and what a rule that fails leaves behind."""

from __future__ import annotations

from unittest.mock import patch

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.placement import place_plug
from layoutcheck.rules import judge
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_about, judge_case
from layoutcheck.rules.outcome import Judgement, Outcome, Subject
from layoutcheck.rules.pack import Figure, read_pack
from layoutcheck.rules.plug_spacing import PlugSpacing
from layoutcheck.rules.registry import all_rules, company_pack, default_pack, figures
from tests.rules.test_cases import cases, document

NAMED = 'name = "invented firm"\n'


def told(text: str) -> list[tuple[str, str, str, str]]:
    """Give the faults of a pack: place, found, problem, example."""
    with pytest.raises(LayoutFaults) as caught:
        company_pack(text)
    return [(f.pointer, f.found, f.problem, f.example) for f in caught.value.faults]


@pytest.mark.parametrize("name", ["", "   ", "x" * 101, "a\u202eb"])
def test_a_pack_names_itself_within_a_hundred_letters_that_can_be_seen(name: str) -> None:
    (fault,) = told(f'name = "{name}"\n')
    assert (fault[0], fault[2]) == ("/name", "a pack names itself")


def test_a_name_of_a_hundred_letters_is_taken() -> None:
    assert company_pack(f'name = "{"x" * 100}"\n').name == "x" * 100


def test_a_pack_without_a_name_is_told_so() -> None:
    (fault,) = told("")
    assert fault[0] == "/name"


def test_a_word_that_is_no_choice_is_told_all_choices() -> None:
    (fault,) = told(NAMED + '[figures.measuring]\nbasis = "anywhere"\n')
    choices = next(f for f in figures()["measuring"] if f.key == "basis").choices
    assert len(choices) > 1
    assert fault == (
        "/figures/measuring/basis",
        "anywhere",
        f"must be one of {', '.join(choices)}",
        f'"{choices[0]}"',
    )


def test_a_figure_that_a_rule_does_not_have_is_told_those_it_has() -> None:
    (fault,) = told(NAMED + '[figures.plug-spacing]\nfeet = "14 in"\n')
    known = ", ".join(f.key for f in figures()["plug-spacing"])
    problem = f"is not a figure of this rule; it has {known}"
    assert fault == ("/figures/plug-spacing/feet", "feet", problem, "leave it out")


def test_several_known_figures_are_listed_and_none_is_said() -> None:
    figure = figures()["plug-spacing"][0]
    twice = (figure, Figure(**{**vars(figure), "key": "other"}))
    for own, listed in ((twice, f"{figure.key}, other"), ((), "none")):
        with pytest.raises(LayoutFaults) as caught:
            read_pack(NAMED + "[figures.invented]\nx = 1\n", {"invented": own})
        assert caught.value.faults[0].problem == f"is not a figure of this rule; it has {listed}"


@pytest.mark.parametrize("value", ["1e12", "-0.001", "nan", "true", '"three"'])
def test_a_number_out_of_bounds_is_told_a_right_one(value: str) -> None:
    (fault,) = told(NAMED + f"[figures.holding-pressure]\nfactor = {value}\n")
    built_in = next(f for f in figures()["holding-pressure"] if f.key == "factor").built_in
    assert fault[0] == "/figures/holding-pressure/factor"
    assert fault[2:] == ("must be a plain number, not negative", str(built_in))


def test_the_largest_number_below_the_bound_is_taken() -> None:
    pack = company_pack(NAMED + "[figures.holding-pressure]\nfactor = 999999999999.0\n")
    assert pack.number("holding-pressure", "factor") == 999999999999.0


def test_what_is_looser_is_listed_by_rule_and_figure_whatever_its_order_in_the_file() -> None:
    pack = company_pack(
        NAMED
        + '[figures.start-temperature]\nwarmest = "90 degF"\n'
        + '[figures.plug-spacing]\nper_inch = "2 in"\n'
        + '[figures.closed-end-setback]\nper_inch = "3 in"\n'
    )
    assert [(x.rule, x.figure, x.set_to) for x in pack.loosened] == [
        ("closed-end-setback", "per_inch", "3 in"),
        ("plug-spacing", "per_inch", "2 in"),
        ("start-temperature", "warmest", "90 degF"),
    ]


def test_the_built_in_figures_are_kept_as_they_are_written() -> None:
    written = default_pack().written
    assert written["plug-spacing", "per_inch"] == "12 in"
    assert all(text and text != "None" for text in written.values())


# --- what a rule that fails or has nothing to compare says ---------------------------------------


class Failing(Rule):
    """A rule that fails."""

    name = "failing"

    def judge(self, case: Case) -> list[Judgement]:  # type: ignore[override]
        raise ZeroDivisionError(str(case.layout.name))


def _a_case() -> Case:
    written = cases()["10_trapped_water: the main takes the water back, the dead end does not"]
    return Case.of(parse_layout(document(written)), default_pack())


def test_a_rule_that_fails_is_an_outcome_of_its_own() -> None:
    rules = {"failing": Failing(), **all_rules()}
    with patch.object(judge, "all_rules", lambda: rules):
        found = [j for j in judge_case(_a_case()) if j.outcome is Outcome.FAULT]
    assert found == [
        Judgement(
            "failing",
            Subject("rule", "failing"),
            Outcome.FAULT,
            "failed: ZeroDivisionError",
            "The rule failed on this layout (ZeroDivisionError); nothing it would have said is "
            "known. This is a fault of layoutcheck.",
            todo="Report it, with the layout if you may share it.",
        )
    ]


def test_a_rule_that_fails_of_a_proposed_place_is_not_passed_over() -> None:
    """A place is proposed with all that does not hold there; a rule that fails holds nothing."""
    case = _a_case()
    rules = {"failing": Failing(), **all_rules()}
    with patch.object(judge, "all_rules", lambda: rules):
        about = judge_about(case, case.plugs[0])
        placing = place_plug(case, case.plugs[0])
    assert [j.rule for j in about if j.outcome is Outcome.FAULT] == ["failing"]
    assert placing.nearest is not None
    assert "failing" in {j.rule for j in placing.nearest.remaining}


def test_a_plug_alone_has_no_spacing_to_keep() -> None:
    case = _a_case()
    assert PlugSpacing().judge_plug(case, case.plugs[0]) == Judgement(
        "plug-spacing",
        Subject("plug", "A"),
        Outcome.DOES_NOT_APPLY,
        "alone",
        "There is no other plug.",
    )
