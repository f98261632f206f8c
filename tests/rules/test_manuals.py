"""Each rule is its own manual: its parts, its figures and their sources, and its file's name."""

import inspect
import sys
import tomllib
from pathlib import Path

import pytest

import layoutcheck.rules as package
from layoutcheck.report.explain import rule_manual
from layoutcheck.report.manual_text import manual_text
from layoutcheck.rules import registry
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import MEASURING
from layoutcheck.rules.outcome import Gravity
from layoutcheck.rules.pack import Figure, pack_text

HEADS = ("Reason", "Figure", "Source", "Does not apply", "Undecided", "Does not see")
RULES = registry.all_rules()
OWN_NUMBER = "common practice, no published source"

# The contract, section 5: what nobody can sign away.
NEVER_WAIVED = {
    "isolation",
    "no-flow-at-plug",
    "trapped-water",
    "holding-pressure",
    "room-air",
}


@pytest.fixture(params=sorted(RULES))
def rule(request: pytest.FixtureRequest) -> Rule:
    return RULES[request.param]


def parts_of(rule: Rule) -> list[tuple[str, str]]:
    """Split a rule's manual into its headed parts, in order."""
    text = inspect.getdoc(type(rule)) or ""
    found: list[tuple[str, str]] = []
    for line in text.splitlines():
        head, colon, rest = line.partition(":")
        if colon and not line.startswith(" ") and head in HEADS:
            found.append((head, rest.strip()))
        elif found and line.startswith(" "):
            found[-1] = (found[-1][0], f"{found[-1][1]} {line.strip()}")
    return found


def test_a_manual_has_its_parts_in_order_and_none_is_empty(rule: Rule) -> None:
    parts = parts_of(rule)
    assert tuple(head for head, _ in parts) == HEADS
    assert all(len(text) > 3 and text.rstrip().endswith((".", ")")) for _, text in parts), parts


def test_a_manual_starts_with_one_sentence(rule: Rule) -> None:
    first = (inspect.getdoc(type(rule)) or "").split("\n\n")[0]
    assert first.endswith(".")
    assert len(first.split()) < 30


def test_a_rule_says_how_grave_it_is_and_why(rule: Rule) -> None:
    assert isinstance(type(rule).__dict__["gravity"], Gravity), "declared by the rule itself"
    why = type(rule).__dict__["gravity_reason"]
    assert 4 <= len(why.split()) <= 12
    assert len(why) <= 60, "it must fit a line with its figures"
    assert not why.endswith(".")
    told = manual_text(rule_manual(rule.name))
    assert f"Gravity\n  {rule.gravity}: {why}\n" in told


def test_what_can_kill_is_grave() -> None:
    # The contract, section 1: what bursts, what suffocates, a plug that comes out, brittle pipe.
    grave = {n for n, r in RULES.items() if r.gravity is Gravity.LIFE}
    assert grave == {"trapped-water", "room-air", "holding-pressure", "wall-material"}
    # What lets water in at the open line.
    for name in ("isolation", "barrier-in-doubt", "no-flow-at-plug", "unreached-pipework"):
        assert RULES[name].gravity is Gravity.FLOOD


def test_a_source_is_named_or_said_to_be_missing(rule: Rule) -> None:
    source = dict(parts_of(rule))["Source"]
    assert OWN_NUMBER in source or len(source.split()) >= 3
    assert rule.source


def test_each_figure_says_what_it_is_and_where_it_comes_from(rule: Rule) -> None:
    for figure in rule.figures:
        check_figure(figure)


def test_the_figures_of_measuring_say_so_too() -> None:
    for figure in registry.figures()[MEASURING]:
        check_figure(figure)


def check_figure(figure: Figure) -> None:
    assert figure.key.isidentifier()
    assert figure.meaning.endswith(".")
    assert OWN_NUMBER in figure.source or len(figure.source.split()) >= 2
    if figure.choices:
        assert figure.built_in == figure.choices[0], "the strictest choice is the built-in one"


def test_a_rule_is_named_after_its_file(rule: Rule) -> None:
    file = Path(inspect.getfile(type(rule)))
    assert file.stem.replace("_", "-") == rule.name


def test_a_reason_is_one_line(rule: Rule) -> None:
    assert rule.reason.endswith(".")
    assert len(rule.reason) <= 100
    assert "\n" not in rule.reason


def test_what_can_kill_can_not_be_waived() -> None:
    known = {name for name, rule in RULES.items() if not rule.waivable}
    assert known - {"waiver-in-force"} == NEVER_WAIVED & set(RULES)


def test_the_written_pack_gives_each_figure_with_its_source() -> None:
    text = pack_text(registry.figures())
    tables = tomllib.loads(text)["figures"]
    for name, figures in registry.figures().items():
        assert set(tables[name]) == {f.key for f in figures}
        assert all(f"# Source: {f.source}." in text for f in figures)


def test_a_rule_is_found_by_its_file_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put one more file where rules lie: nothing else is touched, and the rule is there."""
    (tmp_path / "no_frost_on_sundays.py").write_text(
        '"""A rule made up for this test."""\n'
        "from layoutcheck.rules.base import Rule\n"
        "class NoFrostOnSundays(Rule):\n"
        '    """Nobody freezes on a Sunday."""\n'
        '    name = "no-frost-on-sundays"\n'
        '    reason = "Made up."\n'
        "    def judge(self, case):\n"
        "        yield from ()\n"
    )
    try:
        with monkeypatch.context() as patched:
            patched.setattr(package, "__path__", [*package.__path__, str(tmp_path)])
            registry.all_rules.cache_clear()
            found = registry.all_rules()
    finally:
        registry.all_rules.cache_clear()
        sys.modules.pop(f"{package.__name__}.no_frost_on_sundays", None)
    assert set(found) == {*RULES, "no-frost-on-sundays"}
    assert list(found) == sorted(found)
    assert set(registry.all_rules()) == set(RULES)
