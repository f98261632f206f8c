"""Manuals of rules: read whole from the rules, with the figures in force."""

import pytest

from layoutcheck.report.explain import (
    HEADINGS,
    UnknownRule,
    measuring_manual,
    rule_manual,
    rule_manuals,
)
from layoutcheck.report.manual_text import manual_list_text, manual_text
from layoutcheck.rules.registry import all_rules, company_pack

TIGHTER = company_pack('name = "invented firm"\n[figures.plug-spacing]\nper_inch = "14 in"\n')


def test_every_rule_has_a_manual_with_all_its_parts() -> None:
    manuals = rule_manuals()
    assert [m.name for m in manuals] == list(all_rules())
    for manual in manuals:
        assert tuple(p.heading for p in manual.parts) == HEADINGS, manual.name
        assert all(p.text for p in manual.parts), manual.name
        assert manual.summary
        assert manual.reason
        assert manual.source


def test_a_manual_gives_its_figure_with_unit_and_source() -> None:
    (figure,) = rule_manual("plug-spacing").figures
    assert (figure.key, figure.built_in, figure.in_force) == ("per_inch", "12 in", "12 in")
    # 12 in is 0.3048 m exactly (international inch of 25.4 mm, NIST SP 811).
    assert figure.value == pytest.approx(0.3048, rel=1e-12)
    assert figure.unit == "m"
    assert figure.source == "common practice, no published source"


def test_a_pack_shows_in_the_manual() -> None:
    manual = rule_manual("plug-spacing", pack=TIGHTER)
    assert manual.figures[0].in_force == "14 in"
    assert "per_inch = 14 in (built in: 12 in)" in manual_text(manual)
    listed = manual_list_text(rule_manuals(pack=TIGHTER), measuring_manual(pack=TIGHTER))
    assert "per_inch 14 in (built in: 12 in)" in listed


def test_the_list_says_severity_and_what_can_not_be_waived() -> None:
    listed = manual_list_text(rule_manuals(), measuring_manual())
    assert "isolation  (violation, can not be waived)" in listed
    assert "basis jacket end" in listed


def test_the_text_holds_every_part() -> None:
    for manual in rule_manuals():
        flat = " ".join(manual_text(manual).split())
        for part in manual.parts:
            assert f"{part.heading} {part.text}" in flat


def test_a_rule_there_is_not() -> None:
    with pytest.raises(UnknownRule) as caught:
        rule_manual("no-such-rule")
    assert caught.value.known == tuple(all_rules())
