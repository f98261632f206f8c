"""Metal with liquid nitrogen on it condenses air: said wherever nitrogen is used, and only there.

Above 23.5 % of oxygen air is oxygen-enriched: 29 CFR 1910.146(b).
"""

from layoutcheck.document import parse_layout
from layoutcheck.report import check_document
from layoutcheck.report.freeze import answer_freeze, read_question
from layoutcheck.report.log import FreezeLog, judge_log
from layoutcheck.report.log.model import Line, LogRow
from layoutcheck.report.log.template import sheet_mark
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.sheet.before import before_of
from layoutcheck.report.takeoff import takeoff_of
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.rules.one_line import one_line


def _said(coolant: str) -> dict[str, bool]:
    document = one_line((coolant,))
    report = check_document(document)
    case = Case.of(parse_layout(document), default_pack())
    ticks = " ".join(t.text for g in before_of(case, report) for t in g.ticks)
    question = read_question(
        {
            "size": "2 in",
            "material": "carbon steel",
            "jacket": "12 in",
            "water_temperature": "60 degF",
            "coolant": coolant,
        }
    )
    empty = LogRow(number=1, what=Line.OPENED)
    log = FreezeLog(format="layoutcheck log 1", sheet=sheet_mark(report), rows=(empty,))
    return {
        "report": "23.5 %" in " ".join(report.cautions),
        "sheet": "23.5 %" in ticks and "No flame" in ticks,
        "log": "23.5 %" in " ".join(judge_log(log, report).cautions),
        "takeoff": "23.5 %" in " ".join(takeoff_of(parse_layout(document), report).cautions),
        "plans": "23.5 %" in " ".join(plan_layout(parse_layout(document)).cautions),
        "freeze": "23.5 %" in " ".join(answer_freeze(question).cautions),
    }


def test_nitrogen_says_it_everywhere_and_dry_ice_nowhere() -> None:
    assert set(_said("nitrogen").values()) == {True}
    assert set(_said("carbon dioxide").values()) == {False}
