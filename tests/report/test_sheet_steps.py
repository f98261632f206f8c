"""The steps of the crew's sheet, walked through one by one: what stands open, what is proven.

The walk keeps its own list of what stands open, taken from the layout document; what a step does
is read from its words, not from the sheet's own record alone.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from layoutcheck.report.sheet import build_sheet
from layoutcheck.report.sheet.model import Sheet, Tick
from tests.report.handout_sites import MENDED, handout, report_on, site


def steps(name: str) -> tuple[dict[str, Any], Sheet, list[Tick]]:
    """The document, the sheet and all ticks of its order."""
    layout = site(name)
    sheet = build_sheet(layout, report_on(name))
    return layout.model_dump(mode="json"), sheet, [t for g in sheet.order for t in g.ticks]


def at(thing: dict[str, Any], moment: str) -> str | None:
    """How an outlet or valve of the document stands at a moment."""
    state = thing["state"]
    return state[moment] if isinstance(state, dict) else state


@pytest.mark.parametrize("name", MENDED)
def test_no_step_opens_what_is_open_or_shuts_what_is_shut(name: str) -> None:
    data, _, ticks = steps(name)
    stand = {o["id"] for o in data["outlets"] if at(o, "freezing") == "kept open"}
    stand |= {v["id"] for v in data["valves"] if at(v, "freezing") == "open"}
    for tick in ticks:
        for turn in tick.turns:
            assert turn.name in tick.text
            assert ("OPEN" if turn.opens else "SHUT") in tick.text
            assert (turn.name in stand) is not turn.opens, tick.text
            if turn.opens:
                stand.add(turn.name)
            else:
                stand.remove(turn.name)
    outlets = {o["id"] for o in data["outlets"]}
    assert not stand & outlets  # whatever the job opened, it shuts


@pytest.mark.parametrize("name", MENDED)
def test_a_step_that_says_open_or_shut_is_a_turn(name: str) -> None:
    """Words in capitals with an outlet or valve behind them are acts; the walk must see them."""
    for tick in steps(name)[2]:
        word = re.match(r"(OPEN|SHUT)\b", tick.text)
        if word and not tick.text.startswith("OPEN the work"):
            assert tick.turns, tick.text
            assert tick.turns[0].opens is (word[1] == "OPEN")


@pytest.mark.parametrize("name", MENDED)
def test_a_plug_is_proven_again_after_a_valve_behind_it_opens(name: str) -> None:
    data, _, ticks = steps(name)
    texts = [t.text for t in ticks]
    opening = next(i for i, text in enumerate(texts) if text.startswith("OPEN the work"))
    for valve in data["valves"]:
        if at(valve, "freezing") == "closed" and at(valve, "working") == "open":
            turned = next(
                i for i, t in enumerate(ticks) for u in t.turns if u.name == valve["id"] and u.opens
            )
            again = [i for i, text in enumerate(texts) if "AGAIN" in text and valve["id"] in text]
            assert again
            assert turned < min(again) <= max(again) < opening


def test_the_ring_main_shuts_its_bleed_before_pressure_comes() -> None:
    """By hand from the document: V-4 stands between the mains and plug WEST, TAP-5G between both.

    V-4 is closed while freezing and open while working, so TAP-5G must be shut before it opens,
    WEST is proven a second time, and EAST, behind which V-6 lets water by, with TAP-6G shut.
    """
    _, _, ticks = steps("ring-main-mended")
    turns = [(u.name, u.opens) for t in ticks for u in t.turns]
    assert turns.index(("TAP-5G", False)) < turns.index(("V-4", True))
    assert turns.count(("TAP-5G", True)) == 1
    texts = [t.text for t in ticks]
    east = next(i for i, text in enumerate(texts) if text.startswith("Plug EAST, prove by"))
    assert "SHUT outlet TAP-6G" in texts[east - 1]
    assert "OPEN again: outlet TAP-6G" in texts[east + 1]
    west = next(text for text in texts if text.startswith("Plug WEST, prove by"))
    assert "NOT YET PROVEN" in west
    assert any("Prove plug WEST AGAIN" in text for text in texts)
    bleed = next(text for text in texts if text.startswith("OPEN bleed: outlet TAP-6G"))
    assert "V-6 lets water by" in bleed
    assert "only drips" not in bleed


@pytest.mark.parametrize("name", MENDED)
def test_one_order_for_an_alarm_and_one_for_water(name: str) -> None:
    text = " ".join(re.sub(r"<[^>]+>", " ", handout(name, "sheet.html").decode()).split())
    alarms = [m.end() for m in re.finditer(r"(?:meter alarms|any alarm)[^:.]*[:.]?", text)]
    assert alarms
    for end in alarms:
        assert "Everybody out, at once. Nobody goes back in until" in text[end : end + 110]
    for gone in ("close up again at once", "STOP and close up at once", "behind shut valves"):
        assert gone not in text
    for word in (
        "May stand",
        "outcomes hold",
        "Reckoned",
        "reckoned to",
        "over the distances asked",
    ):
        assert word not in text


@pytest.mark.parametrize("name", MENDED)
def test_where_the_water_is_shut_off_comes_first(name: str) -> None:
    _, sheet, ticks = steps(name)
    assert "____" in " ".join(t.text for t in sheet.before[0].ticks)
    assert "shut off at" in " ".join(t.text for t in sheet.before[0].ticks)
    assert "shut the water off" in ticks[0].text
